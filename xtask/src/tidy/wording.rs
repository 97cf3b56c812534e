//! Rules about wording: every message asked for is there, in every language, with the same variables.

use std::collections::{BTreeMap, BTreeSet};

use fluent_syntax::ast::{self, Expression, InlineExpression, PatternElement};
use fluent_syntax::parser;
use proc_macro2::{Delimiter, TokenStream, TokenTree};

use super::Finding;
use super::tree::File;

/// Where the messages are.
const LANG: &str = "crates/tongue/lang/";
/// Where the areas are named and the languages are called finished.
const NAMED: &str = "crates/tongue/src/catalogue.rs";
const TONGUES: &str = "crates/tongue/src/tongue.rs";
/// The macros that ask for a message.
const ASKING: [&str; 2] = ["say", "message"];
/// Rooms whose results are kept and read by several, so that they make messages and never say them.
const SILENT: [&str; 5] = [
    "crates/findings/",
    "crates/intake/",
    "crates/book/",
    "crates/doors/",
    "crates/methods/",
];

/// The messages of a language.
#[derive(Default)]
struct Catalogue {
    messages: BTreeMap<String, Told>,
}

/// A message: the file it stands in, the variables in its own words, and the messages it refers to.
#[derive(Default)]
struct Told {
    file: String,
    variables: BTreeSet<String>,
    refers: BTreeSet<String>,
}

/// A call of one of the macros.
struct Call {
    file: String,
    name: String,
    id: Option<String>,
    variables: BTreeSet<String>,
}

/// Holds the calls in the sources and the languages against each other.
pub(super) fn messages_are_whole(tree: &[File]) -> Vec<Finding> {
    let mut findings = Vec::new();
    let english = read(tree, "en", &mut findings);
    let spanish = read(tree, "es", &mut findings);
    let calls = calls(tree);
    findings.extend(calls.iter().filter_map(|call| against(call, &english)));
    findings.extend(unused(&english, &calls));
    findings.extend(translated(&english, &spanish));
    let missing = missing(&english, &spanish);
    if is_finished(tree, "Spanish") {
        let all = missing.iter();
        findings.extend(all.map(|id| format!("{LANG}es: has no {id}, and Spanish is called finished")));
    }
    findings.extend(silent_rooms(&calls));
    findings.extend(named(tree));
    findings
}

/// How much is translated, and what is not: no rule as long as a language is not called finished.
pub(super) fn report(tree: &[File]) -> Option<String> {
    let (english, spanish) = (
        read(tree, "en", &mut Vec::new()),
        read(tree, "es", &mut Vec::new()),
    );
    let missing = missing(&english, &spanish);
    (!missing.is_empty()).then(|| {
        format!(
            "{} of {} messages are not in Spanish yet: {}",
            missing.len(),
            english.messages.len(),
            missing.join(", ")
        )
    })
}

fn read(tree: &[File], language: &str, findings: &mut Vec<Finding>) -> Catalogue {
    let mut catalogue = Catalogue::default();
    let folder = format!("{LANG}{language}/");
    for file in tree.iter().filter(|file| file.path.starts_with(&folder)) {
        let resource = parser::parse(file.text.as_str()).unwrap_or_else(|(readable, errors)| {
            findings.extend(errors.iter().map(|error| {
                let at = file.text[..error.pos.start.min(file.text.len())].lines().count();
                format!("{}:{at}: {error}", file.path)
            }));
            readable
        });
        let area = file.path[folder.len()..].trim_end_matches(".ftl").to_owned() + "-";
        for entry in &resource.body {
            let ast::Entry::Message(message) = entry else {
                continue;
            };
            let id = message.id.name.to_owned();
            if !id.starts_with(&area) {
                findings.push(format!("{}: {id} does not begin with {area}", file.path));
            }
            let mut told = Told {
                file: file.path.clone(),
                ..Told::default()
            };
            if let Some(pattern) = &message.value {
                gather(pattern, &mut told);
            }
            if catalogue.messages.insert(id.clone(), told).is_some() {
                findings.push(format!("{}: {id} stands there twice", file.path));
            }
        }
    }
    catalogue
}

fn gather(pattern: &ast::Pattern<&str>, told: &mut Told) {
    for element in &pattern.elements {
        if let PatternElement::Placeable { expression } = element {
            expression_of(expression, told);
        }
    }
}

fn expression_of(expression: &Expression<&str>, told: &mut Told) {
    match expression {
        Expression::Inline(inline) => inline_of(inline, told),
        Expression::Select { selector, variants } => {
            inline_of(selector, told);
            variants.iter().for_each(|variant| gather(&variant.value, told));
        }
    }
}

fn inline_of(inline: &InlineExpression<&str>, told: &mut Told) {
    match inline {
        InlineExpression::VariableReference { id } => {
            told.variables.insert(id.name.to_owned());
        }
        InlineExpression::MessageReference { id, .. } => {
            told.refers.insert(id.name.to_owned());
        }
        InlineExpression::Placeable { expression } => expression_of(expression, told),
        InlineExpression::FunctionReference { arguments, .. } => {
            arguments
                .positional
                .iter()
                .for_each(|argument| inline_of(argument, told));
        }
        _ => {}
    }
}

impl Catalogue {
    /// The variables of a message and of those it refers to.
    fn variables(&self, id: &str) -> Option<BTreeSet<String>> {
        let mut all = BTreeSet::new();
        let (mut open, mut seen) = (vec![id.to_owned()], BTreeSet::new());
        while let Some(id) = open.pop() {
            let told = self.messages.get(&id)?;
            all.extend(told.variables.iter().cloned());
            if seen.insert(id) {
                open.extend(told.refers.iter().cloned());
            }
        }
        Some(all)
    }
}

fn calls(tree: &[File]) -> Vec<Call> {
    let mut calls = Vec::new();
    let sources = tree.iter().filter(|file| {
        file.has_ending(&[".rs"])
            && file.path.starts_with("crates/")
            && ASKING.iter().any(|name| file.text.contains(&format!("{name}!(")))
    });
    for file in sources {
        if let Ok(tokens) = file.text.parse::<TokenStream>() {
            walk(tokens, &file.path, &mut calls);
        }
    }
    calls
}

fn walk(tokens: TokenStream, file: &str, calls: &mut Vec<Call>) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    for (at, token) in tokens.iter().enumerate() {
        let TokenTree::Group(group) = token else { continue };
        walk(group.stream(), file, calls);
        let before = at.checked_sub(2).map(|from| &tokens[from..at]);
        if let Some([TokenTree::Ident(name), TokenTree::Punct(mark)]) = before
            && mark.as_char() == '!'
            && ASKING.iter().any(|asking| name == asking)
            && group.delimiter() == Delimiter::Parenthesis
        {
            calls.push(call(file, &name.to_string(), group.stream()));
        }
    }
}

/// `"id", name = …, name = …`: names are what stands before the first '=' after a comma.
fn call(file: &str, name: &str, tokens: TokenStream) -> Call {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let parts = tokens.split(|token| matches!(token, TokenTree::Punct(mark) if mark.as_char() == ','));
    let mut variables = BTreeSet::new();
    let mut id = None;
    for (place, part) in parts.enumerate() {
        match part {
            [TokenTree::Literal(literal)] if place == 0 => {
                id = Some(literal.to_string().trim_matches('"').to_owned());
            }
            [TokenTree::Ident(name), TokenTree::Punct(mark), ..] if mark.as_char() == '=' => {
                variables.insert(name.to_string());
            }
            _ => {}
        }
    }
    Call {
        file: file.to_owned(),
        name: name.to_owned(),
        id,
        variables,
    }
}

fn against(call: &Call, english: &Catalogue) -> Option<Finding> {
    // The macros' own definitions and their rules name no message.
    let id = call.id.as_ref()?;
    let Some(wanted) = english.variables(id) else {
        return Some(format!("{}: asks for {id}, which {LANG}en has not", call.file));
    };
    (wanted != call.variables).then(|| {
        format!(
            "{}: gives {id} {}, and it has {}",
            call.file,
            listed(&call.variables),
            listed(&wanted)
        )
    })
}

fn listed(names: &BTreeSet<String>) -> String {
    if names.is_empty() {
        return "no variables".to_owned();
    }
    let names: Vec<String> = names.iter().map(|name| format!("${name}")).collect();
    names.join(", ")
}

fn unused(english: &Catalogue, calls: &[Call]) -> Vec<Finding> {
    let mut used: BTreeSet<&str> = calls.iter().filter_map(|call| call.id.as_deref()).collect();
    used.extend(
        english
            .messages
            .values()
            .flat_map(|told| told.refers.iter().map(String::as_str)),
    );
    let left = english
        .messages
        .iter()
        .filter(|(id, _)| !used.contains(id.as_str()));
    left.map(|(id, told)| format!("{}: nothing asks for {id}; take it out", told.file))
        .collect()
}

/// What is translated is a message of English, with its variables.
fn translated(english: &Catalogue, other: &Catalogue) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (id, told) in &other.messages {
        match (english.variables(id), other.variables(id)) {
            (None, _) => findings.push(format!("{}: {id} is not in English", told.file)),
            (Some(wanted), Some(given)) if wanted == given => {}
            (Some(wanted), given) => findings.push(format!(
                "{}: {id} has {}, and in English {}",
                told.file,
                listed(&given.unwrap_or_default()),
                listed(&wanted)
            )),
        }
    }
    findings
}

fn missing(english: &Catalogue, other: &Catalogue) -> Vec<String> {
    let all = english.messages.keys();
    all.filter(|id| !other.messages.contains_key(*id))
        .cloned()
        .collect()
}

fn is_finished(tree: &[File], tongue: &str) -> bool {
    let unfinished = format!("Tongue::{tongue} => false");
    let file = tree.iter().find(|file| file.path == TONGUES);
    file.is_some_and(|file| !file.text.contains(&unfinished))
}

fn silent_rooms(calls: &[Call]) -> Vec<Finding> {
    let said = calls
        .iter()
        .filter(|call| call.name == "say" && SILENT.iter().any(|room| call.file.starts_with(room)));
    said.map(|call| {
        format!(
            "{}: says {}; what is kept for several readers makes a message! instead",
            call.file,
            call.id.as_deref().unwrap_or("something")
        )
    })
    .collect()
}

/// Every file of messages is read by the program.
fn named(tree: &[File]) -> Vec<Finding> {
    let text = tree
        .iter()
        .find(|file| file.path == NAMED)
        .map_or("", |file| file.text.as_str());
    let files = tree.iter().filter(|file| file.path.starts_with(LANG));
    let mut findings = Vec::new();
    for file in files {
        let name = file.path.rsplit('/').next().unwrap_or_default();
        let Some(area) = name.strip_suffix(".ftl") else {
            findings.push(format!("{}: is no file of messages", file.path));
            continue;
        };
        if !text.contains(&format!("\"{area}\",")) {
            findings.push(format!("{}: {NAMED} does not name {area}", file.path));
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(path: &str, text: &str) -> File {
        File {
            path: path.to_owned(),
            text: text.to_owned(),
        }
    }

    /// A tree that is whole but for what is put in: an English file, a Spanish one, a source.
    fn found(english: &str, spanish: &str, source: &str) -> Vec<String> {
        let tree = [
            file("crates/tongue/lang/en/now.ftl", english),
            file("crates/tongue/lang/es/now.ftl", spanish),
            file("crates/tongue/src/catalogue.rs", "areas![\"now\",]"),
            file("crates/tongue/src/tongue.rs", "Tongue::Spanish => false,"),
            file("crates/render/src/words/now.rs", source),
        ];
        messages_are_whole(&tree)
    }

    const AGE: &str = "now-age = { $way ->\n    [up] { $age } up\n   *[down] { $age }\n}\n";
    const ASKED: &str =
        "fn f() -> String { html! { p { (say!(\"now-age\", way = x(a, b), age = y == z)) } } }";

    #[test]
    fn what_fits_passes() {
        assert_eq!(found(AGE, "", ASKED), Vec::<String>::new());
        assert_eq!(found(AGE, AGE, ASKED), Vec::<String>::new());
    }

    #[test]
    fn a_wrong_name_and_a_wrong_variable_are_found() {
        let wrong = found(AGE, "", &ASKED.replace("now-age", "now-old"));
        assert!(wrong[0].contains("asks for now-old"), "{wrong:?}");
        assert!(wrong[1].contains("nothing asks for now-age"), "{wrong:?}");
        let wrong = found(AGE, "", &ASKED.replace("age = y", "old = y"));
        assert!(
            wrong[0].contains("$old, $way, and it has $age, $way"),
            "{wrong:?}"
        );
    }

    #[test]
    fn a_translation_has_the_variables_of_english() {
        let wrong = found(AGE, "now-age = { $edad }\nnow-more = x\n", ASKED);
        assert!(wrong[0].contains("now-age has $edad"), "{wrong:?}");
        assert!(wrong[1].contains("now-more is not in English"), "{wrong:?}");
    }

    #[test]
    fn variables_of_messages_referred_to_count() {
        let english = "now-age = { now-time } old\nnow-time = { $age } min\n";
        let source = "fn f() { say!(\"now-age\", age = 1); }";
        assert_eq!(found(english, "", source), Vec::<String>::new());
    }

    #[test]
    fn what_cannot_be_read_and_what_stands_elsewhere_is_found() {
        assert!(found("now-age = { $age\n", "", "")[0].contains("now.ftl:"));
        let wrong = found("look-age = x\n", "", "fn f() { say!(\"look-age\"); }");
        assert!(wrong[0].contains("does not begin with now-"), "{wrong:?}");
    }

    #[test]
    fn findings_are_made_and_not_said() {
        let tree = |what: &str| {
            messages_are_whole(&[
                file("crates/tongue/lang/en/now.ftl", "now-x = x\n"),
                file("crates/tongue/src/catalogue.rs", "\"now\","),
                file("crates/tongue/src/tongue.rs", "Tongue::Spanish => false,"),
                file(
                    "crates/findings/src/now.rs",
                    &format!("fn f() {{ {what}!(\"now-x\"); }}"),
                ),
            ])
        };
        assert_eq!(tree("message"), Vec::<String>::new());
        assert_eq!(tree("say").len(), 1);
    }

    #[test]
    fn a_finished_language_is_held_to_it() {
        let finished = [
            file("crates/tongue/lang/en/now.ftl", "now-x = x\n"),
            file("crates/tongue/src/catalogue.rs", "\"now\","),
            file("crates/tongue/src/tongue.rs", "Tongue::Spanish => true,"),
            file("crates/web/src/x.rs", "fn f() { say!(\"now-x\"); }"),
        ];
        assert!(messages_are_whole(&finished)[0].contains("has no now-x"));
    }
}
