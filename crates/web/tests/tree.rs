//! What a screen reader is given: the browser's own accessibility tree of every page, and the words of each picture against
//! the findings it was drawn from. Skipped where there is no chromedriver.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::HashMap;

use common::browser::{Driver, LAPTOP, browser, protocol};
use common::pages::{PAGES, open, served};
use fantoccini::Client;
use serde_json::{Value, json};

/// Roles of what can be used (WAI-ARIA 1.2, widget roles), as the browser names them.
const CONTROLS: [&str; 13] = [
    "button",
    "checkbox",
    "combobox",
    "link",
    "listbox",
    "menuitem",
    "radio",
    "searchbox",
    "slider",
    "spinbutton",
    "switch",
    "textbox",
    "Date",
];

/// A node that is told.
struct Node {
    role: String,
    name: String,
    description: String,
    level: Option<u64>,
}

/// The tree of the open page, in the order it is read.
async fn tree(client: &Client) -> Vec<Node> {
    protocol(client, "Accessibility.enable", json!({})).await;
    let tree = protocol(client, "Accessibility.getFullAXTree", json!({})).await;
    let nodes = tree["nodes"].as_array().unwrap();
    let by_id: HashMap<&str, &Value> = nodes
        .iter()
        .filter_map(|node| Some((node["nodeId"].as_str()?, node)))
        .collect();
    let (mut told, mut waiting) = (Vec::new(), vec![nodes[0]["nodeId"].as_str().unwrap()]);
    while let Some(id) = waiting.pop() {
        let Some(node) = by_id.get(id) else {
            continue;
        };
        if let Some(children) = node["childIds"].as_array() {
            waiting.extend(children.iter().rev().filter_map(Value::as_str));
        }
        if node["ignored"] == json!(false) {
            told.push(read(node));
        }
    }
    told
}

fn read(node: &Value) -> Node {
    let text = |value: &Value| value["value"].as_str().unwrap_or_default().trim().to_owned();
    let level = node["properties"].as_array().and_then(|all| {
        let level = all.iter().find(|property| property["name"] == "level")?;
        level["value"]["value"].as_u64()
    });
    Node {
        role: text(&node["role"]),
        name: text(&node["name"]),
        description: text(&node["description"]),
        level,
    }
}

/// One heading of the first level, and none that skips a level downwards.
fn headings(nodes: &[Node]) -> Vec<String> {
    let mut faults = Vec::new();
    let levels: Vec<(u64, &str)> = nodes
        .iter()
        .filter(|node| node.role == "heading")
        .filter_map(|node| Some((node.level?, node.name.as_str())))
        .collect();
    if levels.iter().filter(|(level, _)| *level == 1).count() != 1 {
        faults.push(format!("not one first heading: {levels:?}"));
    }
    let mut before = 0;
    for (level, name) in levels {
        if level > before + 1 {
            faults.push(format!("'{name}' is of level {level} after level {before}"));
        }
        if name.is_empty() {
            faults.push(format!("an empty heading of level {level}"));
        }
        before = level;
    }
    faults
}

fn unnamed(nodes: &[Node]) -> Vec<String> {
    let needs_name = |node: &&Node| {
        let role = node.role.as_str();
        CONTROLS.contains(&role) || ["image", "img", "application", "navigation", "table"].contains(&role)
    };
    let bare = nodes
        .iter()
        .filter(needs_name)
        // A table may be named by the heading above it; what can be used or seen must say what it is.
        .filter(|node| node.name.is_empty() && node.role != "table");
    bare.map(|node| format!("a nameless {} ({})", node.role, node.description))
        .collect()
}

/// Pictures tell their figures: a number at least beyond those of the units and the percentages of margins.
fn silent(nodes: &[Node]) -> Vec<String> {
    let pictures = nodes
        .iter()
        .filter(|node| ["image", "img", "application"].contains(&node.role.as_str()));
    pictures
        .filter(|node| {
            !node
                .description
                .replace("95 %", "")
                .chars()
                .any(|c| c.is_ascii_digit())
        })
        .map(|node| format!("a picture without figures: {} {}", node.name, node.description))
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn headings_are_in_order_and_everything_has_a_name() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = served(folder.path()).await;
    let client = browser(&driver, LAPTOP, profile.path()).await;
    let mut found = Vec::new();
    for (name, path) in PAGES {
        open(&client, &format!("{book}{path}")).await;
        let nodes = tree(&client).await;
        assert!(nodes.len() > 20, "{name}: only {} nodes are told", nodes.len());
        let faults = headings(&nodes)
            .into_iter()
            .chain(unnamed(&nodes))
            .chain(silent(&nodes));
        found.extend(faults.map(|fault| format!("{name}: {fault}")));
    }
    client.close().await.unwrap();
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found.join("\n"));
}

/// The pages' words for a picture, and the findings it was drawn from.
struct Told {
    nodes: Vec<Node>,
    findings: Value,
}

impl Told {
    async fn of(client: &Client, book: &str, page: &str, api: &str) -> Self {
        client.goto(&format!("{book}{api}")).await.unwrap();
        let script = "return document.body.textContent";
        let text = client.execute(script, vec![]).await.unwrap();
        let findings = serde_json::from_str(text.as_str().unwrap()).unwrap();
        open(client, &format!("{book}{page}")).await;
        Told {
            nodes: tree(client).await,
            findings,
        }
    }

    /// The words of the first picture whose name begins so.
    fn words(&self, name: &str) -> &str {
        let pictures = self.nodes.iter().filter(|node| node.role == "image");
        let mut named = pictures.filter(|node| node.name.starts_with(name));
        &named
            .next()
            .unwrap_or_else(|| panic!("no picture '{name}'"))
            .description
    }

    fn number(&self, place: &str) -> f64 {
        self.findings
            .pointer(place)
            .and_then(Value::as_f64)
            .unwrap_or_else(|| panic!("no {place}"))
    }
}

/// The numbers of a text in their order; '−' and '+' are signs.
fn numbers(text: &str) -> Vec<f64> {
    let plain = text.replace('−', "-").replace([',', ';', '(', ')'], " ");
    let parts = plain.split_whitespace();
    let cleaned = parts.map(|part| part.trim_end_matches(['.', ':']).trim_start_matches('+'));
    cleaned.filter_map(|part| part.parse().ok()).collect()
}

/// '17 h 33 min' or '7 min', in minutes.
fn minutes(text: &str) -> f64 {
    let found = numbers(text);
    match (text.contains(" h"), found.as_slice()) {
        (true, [h, m]) => h * 60.0 + m,
        (true, [h]) => h * 60.0,
        (false, [m]) => *m,
        _ => panic!("no duration: {text}"),
    }
}

/// Shown to the last whole unit: half of it off at most.
const ROUNDED: f64 = 0.5 + 1e-9;

#[track_caller]
fn same(told: f64, found: f64, what: &str) {
    assert!(
        (told - found).abs() <= ROUNDED,
        "{what}: {told} is told of {found}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_picture_says_the_figures_of_the_findings() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = served(folder.path()).await;
    let client = browser(&driver, LAPTOP, profile.path()).await;
    review(&Told::of(&client, &book, "/review", "/api/review").await);
    trust(&Told::of(&client, &book, "/trust", "/api/trust").await);
    fan(&Told::of(&client, &book, "/second-look", "/api/second-look").await);
    client.close().await.unwrap();
}

fn review(told: &Told) {
    let ruler = told.words("The average day");
    let (all, target) = ruler.split_once(". ").unwrap();
    let parts: Vec<&str> = all.split(", ").collect();
    let expected = ["in_range", "above", "very_high", "below", "very_low"];
    assert_eq!(parts.len(), expected.len(), "{ruler}");
    for (part, key) in parts.iter().zip(expected) {
        let part = part.trim_start_matches("and ").trim_start_matches("of which ");
        let words = part
            .trim_end_matches(|c: char| !c.is_ascii_digit())
            .split_inclusive(" h ")
            .collect::<String>();
        let has_minutes = part.contains(" min");
        let minutes = if has_minutes {
            minutes(&format!("{words} min"))
        } else {
            minutes(&format!("{words} h"))
        };
        same(minutes, told.number(&format!("/average_day/{key}_min")), part);
    }
    let over = told.number("/targets/in_range_over_percent") / 100.0 * 1440.0;
    assert!(target.contains("more than 16 h 48 min"), "{target}");
    same(16.0 * 60.0 + 48.0, over, "the target");

    let usual = told.words("Glucose by clock time");
    let bins = told.findings["usual_day"].as_array().unwrap();
    let medians = || bins.iter().filter_map(|bin| bin["p50_mg_dl"].as_f64());
    let said = numbers(usual);
    same(said[0], medians().fold(f64::INFINITY, f64::min), "lowest median");
    same(
        said[1],
        medians().fold(f64::NEG_INFINITY, f64::max),
        "highest median",
    );

    let episodes = told.findings["episodes"].as_array().unwrap();
    let count = |kind: &str, least: u64| {
        let of_kind = episodes
            .iter()
            .filter(|one| one["kind"] == kind && one["level"].as_u64() >= Some(least));
        of_kind.count()
    };
    let expected = format!(
        "{} lows ({} of level 2) and {} highs ({} of level 2)",
        count("low", 1),
        count("low", 2),
        count("high", 1),
        count("high", 2)
    );
    let when = told.words("Episodes by day");
    assert!(when.starts_with(&expected), "{when} of {expected}");

    let mut meals = told.words("How far glucose rose");
    let of = told.findings["repeated_meals"].as_array().unwrap();
    let [mut told_of, drawn] = [0, 12];
    for meal in of.iter().take(drawn) {
        let name = meal["name"].as_str().unwrap();
        let (_, figures) = meals.split_once(&format!("{name}: ")).unwrap();
        meals = figures;
        let rises: Vec<f64> = meal["rises_mg_dl"]
            .as_array()
            .unwrap()
            .iter()
            .filter_map(Value::as_f64)
            .collect();
        let said = numbers(figures);
        same(said[0], rises.iter().copied().fold(f64::INFINITY, f64::min), name);
        same(
            said[1],
            rises.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            name,
        );
        same(said[2], meal["mean_rise_mg_dl"].as_f64().unwrap(), name);
        told_of += 1;
    }
    assert!(told_of > 3, "{meals}");
}

fn trust(told: &Told) {
    let by_day = told.words("Sensor less blood by day of wear");
    let days = told.findings["by"]["day_of_wear"].as_array().unwrap();
    let said: Vec<&str> = by_day
        .split(['.', ';'])
        .filter(|part| part.contains("bias"))
        .collect();
    assert_eq!(said.len(), days.len(), "{by_day}");
    for (part, day) in said.into_iter().zip(days) {
        let (day_said, bias) = part.split_once(": bias ").unwrap();
        assert!(day_said.ends_with(day["key"].as_str().unwrap()), "{part}");
        same(numbers(bias)[0], day["bias_mg_dl"].as_f64().unwrap(), part);
    }
    for (grid, name) in [("consensus", "Consensus grid"), ("clarke", "Clarke grid")] {
        let words = told.words(name);
        same(numbers(words)[0], told.number("/pairs"), words);
        for zone in told.findings["grid"][grid]["zones"].as_array().unwrap() {
            let letter = zone["zone"].as_str().unwrap();
            let (_, share) = words.split_once(&format!("Zone {letter}: ")).unwrap();
            same(numbers(share)[0], zone["percent"].as_f64().unwrap(), words);
        }
    }
    let [pairs, bias, lower, upper] = numbers(told.words("Sensor less blood against the mean"))[..4] else {
        panic!("four figures are told")
    };
    same(pairs, told.number("/pairs"), "pairs");
    same(bias, told.number("/bias_mg_dl"), "bias");
    same(lower, told.number("/limits_lower_mg_dl"), "lower limit");
    same(upper, told.number("/limits_upper_mg_dl"), "upper limit");
}

fn fan(told: &Told) {
    let [from, low, high, hours, least, most] = numbers(told.words("What followed moments like"))[..6] else {
        panic!("six figures are told")
    };
    same(from, told.number("/look/mg_dl"), "where it began");
    let fan = told.findings["look"]["fan"].as_array().unwrap();
    let at = fan
        .iter()
        .find(|step| step["minutes"].as_f64() == Some(hours * 60.0))
        .unwrap();
    for (said, key) in [
        (low, "p25_mg_dl"),
        (high, "p75_mg_dl"),
        (least, "p10_mg_dl"),
        (most, "p90_mg_dl"),
    ] {
        same(said, at[key].as_f64().unwrap(), key);
    }
}
