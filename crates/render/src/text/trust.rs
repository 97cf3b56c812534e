//! `interstice trust` as text.

use interstice_findings::TrustFindings;
use interstice_findings::trust::{Grid, Point};
use interstice_glucose::Unit;

use super::table::{Align, Table, wrap};
use crate::words::{
    Caution, EFFECTS_HELP, EFFECTS_TABLE, FAULTS_HELP, GroupTable, LEVELS_TABLE, Shown, agreement_rows,
    checks_account, criterion, date_and_clock, effect_rows, effects_rest, effects_there, effects_untold,
    fault_said, faults_apart, group_tables, interval_basis, lag, meter, next_check, pairing, percent,
    pressure_account, signed, silences_said, trust_answer, trust_basis, trust_tables,
};

/// Pairs listed one by one where there are no more than this.
const PAIRS_LISTED: usize = 20;

/// The whole answer in the unit the wearer reads, ending in a line feed.
pub fn trust(findings: &TrustFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = wrap(&trust_answer(findings, shown), 0);
    paragraph(&mut out, &trust_basis(findings, shown));
    if findings.counts.pairs > 0 {
        paragraph(&mut out, pairing(findings.pairing));
        paragraph(&mut out, &checks_account(findings));
        figures(&mut out, findings, shown);
        grids(&mut out, findings);
        for table in group_tables(findings, shown) {
            groups(&mut out, &table, shown);
        }
        effects(&mut out, findings);
        criteria(&mut out, findings, shown);
        points(&mut out, &findings.points, shown);
    }
    late_and_pressed(&mut out, findings);
    faults(&mut out, findings, shown);
    next(&mut out, findings, shown);
    for note in &findings.notes {
        out.push(String::new());
        out.extend(wrap(&format!("Note: {note}"), 0));
    }
    out.push(String::new());
    out.extend(wrap(&Caution::FirstDay.text(shown), 0));
    out.extend(wrap(&Caution::CareTeam.text(shown), 0));
    out.push(String::new());
    out.join("\n")
}

fn paragraph(out: &mut Vec<String>, text: &str) {
    if !text.is_empty() {
        out.extend(wrap(text, 0));
    }
}

fn section(out: &mut Vec<String>, title: &str) {
    out.push(String::new());
    out.push(title.to_owned());
}

fn figures(out: &mut Vec<String>, findings: &TrustFindings, shown: Shown) {
    section(out, "Figures over all pairs (95 % margin)");
    let mut table = Table::new(&[("", Align::Left), ("", Align::Left)]);
    for row in agreement_rows(findings, shown) {
        table.row([row.name, row.value]);
    }
    for line in table.lines().into_iter().skip(1) {
        out.extend(if line.chars().count() > super::table::WIDTH {
            wrap(&line, 0)
        } else {
            vec![line]
        });
    }
    paragraph(
        out,
        &interval_basis(findings.agreement.interval_by, findings.counts.sensors),
    );
    paragraph(out, &meter(&findings.meter, shown));
}

/// How late, and the possible pressure lows: of any book, with checks or without.
fn late_and_pressed(out: &mut Vec<String>, findings: &TrustFindings) {
    out.push(String::new());
    paragraph(out, &lag(&findings.lag));
    out.push(String::new());
    paragraph(out, &pressure_account(&findings.pressure));
    if !findings.pressure.events.is_empty() {
        paragraph(out, "`interstice trust --pressure` lists them with their signs.");
    }
}

fn grids(out: &mut Vec<String>, findings: &TrustFindings) {
    section(out, "Error grids: share of pairs in each zone, A the best");
    let heads = [
        ("", Align::Left),
        ("A", Align::Right),
        ("B", Align::Right),
        ("C", Align::Right),
        ("D", Align::Right),
        ("E", Align::Right),
    ];
    let mut table = Table::new(&heads);
    let mut row = |name: &str, grid: &Grid| {
        let cells = grid.zones.iter().map(|zone| {
            zone.percent
                .map_or_else(|| "–".to_owned(), |share| format!("{} %", percent(share)))
        });
        table.row([name.to_owned()].into_iter().chain(cells));
    };
    row("consensus grid, type 1", &findings.grid.consensus);
    row("Clarke grid", &findings.grid.clarke);
    out.extend(table.lines());
}

fn groups(out: &mut Vec<String>, group: &GroupTable, shown: Shown) {
    section(out, group.title);
    let bias = format!("bias, {}", shown.unit);
    let heads = [
        ("", Align::Left),
        ("pairs", Align::Right),
        ("MARD", Align::Left),
        (bias.as_str(), Align::Left),
        ("within 15", Align::Right),
    ];
    let mut table = Table::new(&heads);
    for row in &group.rows {
        let within = row.within.split(", ").nth(1).unwrap_or("–");
        table.row([
            row.name.clone(),
            row.pairs.to_string(),
            row.mard.clone(),
            row.bias.replace(&format!(" {}", shown.unit), ""),
            within.split(" (").next().unwrap_or("").to_owned(),
        ]);
    }
    out.extend(table.lines());
    paragraph(out, &group.help);
}

fn criteria(out: &mut Vec<String>, findings: &TrustFindings, shown: Shown) {
    section(
        out,
        "Criteria for integrated sensors: for trials; yours can only hint",
    );
    for line in &findings.icgm {
        let [item, asked, found] = criterion(line, shown);
        out.extend(wrap(&format!("{item}  {asked} – {found}"), 0));
    }
}

fn points(out: &mut Vec<String>, points: &[Point], shown: Shown) {
    if points.len() > PAIRS_LISTED {
        return;
    }
    section(out, &format!("Every pair, {}", shown.unit));
    let heads = [
        ("", Align::Left),
        ("", Align::Left),
        ("blood", Align::Right),
        ("sensor", Align::Right),
        ("difference", Align::Right),
    ];
    let mut table = Table::new(&heads);
    for point in points {
        table.row([
            date_and_clock(point.at.0),
            point.sensor.clone(),
            shown.glucose(point.blood_mg_dl),
            shown.glucose(point.sensor_mg_dl),
            signed(point.sensor_mg_dl - point.blood_mg_dl, shown),
        ]);
    }
    out.extend(table.lines());
}

fn next(out: &mut Vec<String>, findings: &TrustFindings, shown: Shown) {
    if findings.next.is_empty() {
        return;
    }
    section(out, "What would tell most next");
    for next in &findings.next {
        item(out, &next_check(*next, shown));
    }
}

/// One line of a list.
fn item(out: &mut Vec<String>, text: &str) {
    let lines = wrap(text, 2).into_iter().enumerate();
    out.extend(lines.map(|(i, line)| {
        if i == 0 {
            format!("- {}", line.trim_start())
        } else {
            line
        }
    }));
}

fn effects(out: &mut Vec<String>, findings: &TrustFindings) {
    if findings.effects.asked.is_empty() || findings.sensor.is_some() {
        return;
    }
    section(out, "What makes your sensors better or worse");
    out.extend(wrap(EFFECTS_HELP, 0));
    for said in effects_there(&findings.effects) {
        item(out, &format!("{} – {}.", said.name, said.says.join("; ")));
    }
    for said in effects_rest(&findings.effects) {
        out.extend(wrap(&said, 0));
    }
    comparisons(out, findings);
    levels(out, findings);
}

fn comparisons(out: &mut Vec<String>, findings: &TrustFindings) {
    section(out, EFFECTS_TABLE);
    for said in effects_untold(&findings.effects) {
        item(out, &format!("{said}."));
    }
    let rows = effect_rows(&findings.effects);
    if rows.is_empty() {
        return;
    }
    out.extend(wrap(
        "Points higher (+) or lower (−), then points further from blood (+) or closer (−); after each: yes, no (too small to \
         matter), or about how many more sensors would tell.",
        0,
    ));
    let heads = [
        ("", Align::Left),
        ("reads", Align::Left),
        ("", Align::Right),
        ("stands", Align::Left),
        ("", Align::Right),
    ];
    let mut table = Table::new(&heads);
    for row in rows {
        table.row([row.name].into_iter().chain(row.cells));
    }
    out.extend(table.lines());
}

fn levels(out: &mut Vec<String>, findings: &TrustFindings) {
    let tables = trust_tables(findings, Shown { unit: findings.unit });
    let Some(levels) = tables
        .iter()
        .find(|table| table.id == "levels" && !table.rows.is_empty())
    else {
        return;
    };
    section(out, LEVELS_TABLE);
    let align = |number: bool| if number { Align::Right } else { Align::Left };
    let heads: Vec<(&str, Align)> = levels
        .heads
        .iter()
        .map(|head| (head.name.as_str(), align(head.number)))
        .collect();
    let mut table = Table::new(&heads);
    for row in &levels.rows {
        table.row(row.iter().map(String::as_str));
    }
    out.extend(table.lines());
}

fn faults(out: &mut Vec<String>, findings: &TrustFindings, shown: Shown) {
    if findings.faults.is_empty() {
        return;
    }
    section(out, "What looks wrong with a sensor");
    out.extend(wrap(FAULTS_HELP, 0));
    for line in faults_apart(findings) {
        item(out, &format!("{}.", fault_said(line, shown)));
    }
    paragraph(out, &silences_said(findings));
}
