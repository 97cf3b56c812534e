//! The drawer: what is left, what it cost.

use interstice_findings::wear::DrawerLot;
use interstice_glucose::{Currency, Money};

use super::trust_table::Table;

/// What is left of each lot.
pub fn stock_table(lots: &[DrawerLot]) -> Table {
    let heads = [
        ("No.", true),
        ("What", false),
        ("Lot", false),
        ("Left", true),
        ("Came", true),
        ("Put on", true),
        ("Use by", false),
        ("Price", false),
    ];
    Table::new("stock", &heads, lots.iter().map(cells).collect())
}

fn cells(lot: &DrawerLot) -> Vec<String> {
    let dash = || "–".to_owned();
    let use_by = match &lot.use_by {
        Some(day) if lot.expired => format!("{day}, expired"),
        Some(day) => day.clone(),
        None => dash(),
    };
    vec![
        lot.id.to_string(),
        lot_name(lot),
        lot.lot.clone().unwrap_or_else(dash),
        match &lot.expected {
            Some(_) => "to come".to_owned(),
            None => lot.left.to_string(),
        },
        lot.came.to_string(),
        lot.put_on.to_string(),
        use_by,
        lot_price(lot).unwrap_or_else(dash),
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
            .map(|day| format!("{name}: expected on {day}."));
        let said = lot.said.iter().map(|said| format!("{name}: {said}."));
        came.into_iter().chain(said).collect::<Vec<_>>()
    };
    lots.iter().flat_map(of).collect()
}
