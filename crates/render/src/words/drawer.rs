//! The drawer: what is left, what it cost.

use interstice_findings::wear::{Bedding, CostIn, CostOf, Costs, DrawerLot, NeverWorn, Supply};
use interstice_glucose::{Currency, Money, counted};

use super::date;
use super::time::duration;
use super::trust_table::Table;

/// What is left of each lot that is not used up.
pub fn stock_table(lots: &[DrawerLot]) -> Table {
    table(lots.iter().filter(|lot| !is_used_up(lot)))
}

/// The lots of which nothing is left.
pub fn used_up_table(lots: &[DrawerLot]) -> Table {
    table(lots.iter().filter(|lot| is_used_up(lot)))
}

fn is_used_up(lot: &DrawerLot) -> bool {
    lot.left == 0 && lot.said.is_empty()
}

fn table<'a>(lots: impl Iterator<Item = &'a DrawerLot>) -> Table {
    let heads = [
        ("Lot", false),
        ("No.", true),
        ("Left", true),
        ("Came", true),
        ("Put on", true),
        ("Last day", false),
        ("Paid", true),
        ("From", false),
    ];
    Table::new("stock", &heads, lots.map(cells).collect())
}

fn cells(lot: &DrawerLot) -> Vec<String> {
    let dash = || "–".to_owned();
    let use_by = match &lot.use_by {
        Some(day) if lot.expired && lot.left > 0 => format!("{}, expired", date(day)),
        Some(day) => date(day),
        None => dash(),
    };
    let number = lot.lot.as_ref();
    vec![
        number.map_or_else(|| lot_name(lot), |number| format!("{number}, {}", lot_name(lot))),
        lot.id.to_string(),
        match &lot.expected {
            Some(_) => "to come".to_owned(),
            None => lot.left.to_string(),
        },
        lot.came.to_string(),
        lot.put_on.to_string(),
        use_by,
        lot_price(lot).unwrap_or_else(dash),
        lot.source.clone().unwrap_or_else(dash),
    ]
}

/// What a lot is of: 'sensors', 'sensors (mine)', 'clear patch'.
pub fn lot_name(lot: &DrawerLot) -> String {
    match (&lot.name, lot.holds) {
        (None, holds) => holds.to_owned(),
        (Some(name), "sensors") => format!("sensors ({name})"),
        (Some(name), _) => name.clone(),
    }
}

/// What all of a lot cost together.
pub fn lot_price(lot: &DrawerLot) -> Option<String> {
    let minor = lot.price_minor?;
    match lot.currency.as_deref().and_then(Currency::named) {
        Some(currency) => Some(Money { minor, currency }.to_string()),
        None => (minor == 0).then(|| "free".to_owned()),
    }
}

/// What is to be known of the lots, a sentence each.
pub fn stock_said(lots: &[DrawerLot]) -> Vec<String> {
    let of = |lot: &DrawerLot| {
        let number = lot
            .lot
            .as_ref()
            .map_or_else(String::new, |number| format!(", {number}"));
        let name = format!("Lot {} ({}{number})", lot.id, lot_name(lot));
        let came = lot
            .expected
            .as_ref()
            .map(|day| format!("{name}: expected on {}.", date(day)));
        let said = lot.said.iter().map(|said| format!("{name}: {}.", dated(said)));
        came.into_iter().chain(said).collect::<Vec<_>>()
    };
    lots.iter().flat_map(of).collect()
}

/// How long the drawer lasts and when to order, a sentence each; the first is the answer.
pub fn supply_said(supply: &Supply) -> Vec<String> {
    let mut said = vec![there_said(supply)];
    said.extend(lasts_said(supply));
    said.extend(order_said(supply));
    if let Some((year, within)) = supply.year.zip(supply.year_within) {
        said.push(format!(
            "At this pace a year takes {year:.0} sensors; in 9 futures of 10 from {:.0} to {:.0}.",
            within.lo, within.hi
        ));
    }
    said
}

fn there_said(supply: &Supply) -> String {
    let there = match supply.sensors {
        0 => "No sensor that can be put on is in the drawer".to_owned(),
        some => format!("{} in the drawer", counted(some, "sensor is", "sensors are")),
    };
    match supply.to_come {
        0 => format!("{there}."),
        some => format!("{there}, {some} to come."),
    }
}

fn lasts_said(supply: &Supply) -> Vec<String> {
    let Some(labelled) = supply.labelled_days else {
        return supply
            .reason
            .iter()
            .map(|reason| format!("How long they last cannot be told yet: {reason}."))
            .collect();
    };
    let beside = match supply.on {
        0 => "",
        1 => " and with the one that is on,",
        _ => " and with those that are on,",
    };
    let labels = format!("Worn to their labels,{beside} they last {labelled:.0} days");
    match (supply.days.zip(supply.days_within), &supply.reason) {
        (Some((days, within)), _) => {
            let (over, early) = supply.learned_from;
            vec![format!(
                "{labels}. With early ends as yours were ({early} of {over}) it is {days:.0} days in the middle of the simulated futures, in 9 of 10 \
                 from {:.0} to {:.0}.",
                within.lo, within.hi
            )]
        }
        (None, Some(reason)) => vec![format!(
            "{labels}. What early ends do to that cannot be told yet: {reason}."
        )],
        (None, None) => vec![format!("{labels}.")],
    }
}

fn order_said(supply: &Supply) -> Option<String> {
    let lasts = date(supply.lasts_to.as_ref()?);
    let told = match (supply.delivery_days, &supply.order_by) {
        (Some(days), Some(by)) if supply.order_late => {
            let percent = supply.out_before_delivery_percent.unwrap_or(0.0);
            let days = counted(u64::from(days), "day", "days");
            let by = date(by);
            format!(
                "A delivery takes {days}: the day to order was {by}. Ordered now, {percent:.0} of 100 futures run out before it arrives."
            )
        }
        (Some(days), Some(by)) => format!(
            "A delivery takes {}: order by {}.",
            counted(u64::from(days), "day", "days"),
            date(by)
        ),
        _ => "Once you say how many days a delivery takes, the last day to order stands here.".to_owned(),
    };
    Some(format!("In 95 of 100 futures they last to {lasts}. {told}"))
}

/// An amount that need not be whole minor units, to the nearest; with a decimal more where it is small.
fn amount(minor: f64, currency: Option<&str>) -> String {
    let Some(currency) = currency.and_then(Currency::named) else {
        return if minor > 0.0 {
            format!("{minor:.0}")
        } else {
            "0".to_owned()
        };
    };
    let decimals = currency.decimals() as usize;
    let shown = minor / 10_f64.powi(i32::try_from(decimals).unwrap_or(2));
    let decimals = if minor > 0.0 && minor < 100.0 {
        decimals + 1
    } else {
        decimals
    };
    format!("{shown:.decimals$} {currency}")
}

/// What sensors cost, in sentences.
pub fn cost_said(costs: &Costs) -> Vec<String> {
    let mut said: Vec<String> = costs.by_currency.iter().flat_map(cost_in_said).collect();
    if costs.sensors_at_usual_price > 0 {
        said.push(format!(
            "{} counted at the usual price of the kind, since no lot tells theirs.",
            counted(costs.sensors_at_usual_price, "sensor is", "sensors are")
        ));
    }
    if let Some(year) = &costs.year {
        let currency = Some(year.currency.as_str());
        said.push(format!(
            "A year at this pace costs about {}: {:.0} sensors at {}.",
            amount(year.cost_minor, currency),
            year.sensors,
            amount(year.price_each_minor, currency)
        ));
    }
    if costs.sensors_without_price > 0 {
        said.push(format!(
            "{} over of no known lot or price; they are not counted.",
            counted(costs.sensors_without_price, "sensor is", "sensors are")
        ));
    }
    said.extend(costs.never_worn.iter().map(never_said));
    said.extend(costs.bedding.as_ref().and_then(bedding_said));
    said
}

fn cost_in_said(cost: &CostIn) -> Vec<String> {
    let all = &cost.all;
    let in_it = |minor: f64| amount(minor, cost.currency.as_deref());
    let Some((hour, day)) = all.per_worn_hour_minor.zip(all.per_worn_day_minor) else {
        return Vec::new();
    };
    if cost.currency.is_none() {
        return vec![format!(
            "{} over cost nothing.",
            counted(all.sensors, "sensor that is", "sensors that are")
        )];
    }
    let free = match all.free {
        0 => String::new(),
        some => format!(", {some} of them free"),
    };
    let mut said = vec![format!(
        "An hour worn cost {}, a day {} ({}{free}).",
        in_it(hour),
        in_it(day),
        counted(all.sensors, "sensor", "sensors")
    )];
    if all.unworn_h >= 1.0 {
        said.push(format!(
            "{} of labelled wear were not worn: {} lost, each sensor's price times the share of its labelled hours that was not worn.",
            duration(60.0 * all.unworn_h),
            in_it(all.lost_minor)
        ));
    }
    said
}

fn never_said(one: &NeverWorn) -> String {
    let what = match (one.holds, one.pieces) {
        ("sensors", 1) => "sensor",
        ("sensors", _) => "sensors",
        ("covers", 1) => "cover",
        ("covers", _) => "covers",
        (_, 1) => "preparation",
        (_, _) => "preparations",
    };
    let price = one.price_minor.map_or_else(
        || ", of no known price".to_owned(),
        |minor| format!(", {} lost", amount(minor, one.currency.as_deref())),
    );
    let price = if one.price_minor.is_some_and(|minor| minor <= 0.0) {
        ", free".to_owned()
    } else {
        price
    };
    format!(
        "Never worn: {} {what} of lot {} ({}){price}.",
        one.pieces, one.lot_id, one.why
    )
}

fn bedding_said(bedding: &Bedding) -> Option<String> {
    if bedding.bedding_h <= 0.0 {
        return None;
    }
    let hours = duration(60.0 * bedding.bedding_h);
    if !bedding.from_wear {
        return Some(format!(
            "Bedding in for {hours} takes nothing from the labelled wear: its time runs from the start."
        ));
    }
    let (Some(taken), Some(more)) = (bedding.hours_a_year, bedding.sensors_a_year) else {
        return Some(format!(
            "Bedding in for {hours} is taken from the labelled wear of each sensor, since its time runs from being put on."
        ));
    };
    let cost = bedding.cost_a_year_minor.map_or_else(String::new, |minor| {
        format!(
            ", {} at the price of a sensor",
            amount(minor, bedding.currency.as_deref())
        )
    });
    Some(format!(
        "Bedding in for {hours} is taken from the labelled wear, since its time runs from being put on: {} a year, {more:.1} sensors{cost}.",
        duration(60.0 * taken)
    ))
}

/// Costs in one currency: all, by kind where there are several, by how they ended.
pub fn cost_table(cost: &CostIn) -> Table {
    let currency = cost.currency.as_deref().unwrap_or("");
    let in_it = |what: &str| format!("{what}, {currency}");
    let heads = [
        ("How it ended".to_owned(), false),
        ("Sensors".to_owned(), true),
        (in_it("Paid"), true),
        ("Days worn".to_owned(), true),
        (in_it("An hour"), true),
        (in_it("A day"), true),
        ("Days lost".to_owned(), true),
        (in_it("Lost"), true),
    ];
    let heads: Vec<(&str, bool)> = heads
        .iter()
        .map(|(name, number)| (name.as_str(), *number))
        .collect();
    let kinds = cost.by_kind.iter().filter(|_| cost.by_kind.len() > 1);
    let rows = [&cost.all].into_iter().chain(kinds).chain(&cost.by_cause);
    Table::new(
        "cost",
        &heads,
        rows.map(|row| cost_cells(row, currency)).collect(),
    )
}

fn cost_cells(cost: &CostOf, currency: &str) -> Vec<String> {
    let bare = |minor: f64| {
        let amount = amount(minor, Some(currency));
        amount
            .split_once(' ')
            .map_or(amount.clone(), |(number, _)| number.to_owned())
    };
    let dash = || "–".to_owned();
    let days = |hours: f64| format!("{:.1}", hours / 24.0);
    vec![
        cost.name.clone(),
        cost.sensors.to_string(),
        bare(cost.spent_minor),
        days(cost.worn_h),
        cost.per_worn_hour_minor.map_or_else(dash, bare),
        cost.per_worn_day_minor.map_or_else(dash, bare),
        days(cost.unworn_h),
        bare(cost.lost_minor),
    ]
}

/// A sentence with its days, written YYYY-MM-DD, as they are read.
fn dated(text: &str) -> String {
    let is_day = |word: &str| {
        word.len() == 10
            && word.bytes().enumerate().all(|(place, byte)| match place {
                4 | 7 => byte == b'-',
                _ => byte.is_ascii_digit(),
            })
    };
    let read = |word: &str| {
        let day = word.trim_end_matches([';', ',', '.', ':']);
        if is_day(day) {
            date(day) + &word[day.len()..]
        } else {
            word.to_owned()
        }
    };
    text.split(' ').map(read).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::{amount, dated};

    #[test]
    fn amounts_are_shown_as_the_currency_has_them() {
        assert_eq!(amount(5990.0, Some("EUR")), "59.90 EUR");
        assert_eq!(amount(17.87, Some("EUR")), "0.179 EUR");
        assert_eq!(amount(0.0, Some("EUR")), "0.00 EUR");
        assert_eq!(amount(6800.4, Some("JPY")), "6800 JPY");
        assert_eq!(amount(0.0, None), "0");
    }

    #[test]
    fn days_are_read_as_days() {
        assert_eq!(
            dated("on 2025-03-01; then KR-204"),
            "on 1 March 2025; then KR-204"
        );
        assert_eq!(dated("2025-13-99x 20250-03-1"), "2025-13-99x 20250-03-1");
    }
}
