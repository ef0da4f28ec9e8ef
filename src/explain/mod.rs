//! What the program has to say of itself: a page for each kind of finding and guides for owners. The
//! same text is printed by `explain` and read here.

pub mod guides;
pub mod kind;
pub mod pages;
mod text;

use crate::findings::catalogue::{RULES, rule};
use crate::report::schema;
use guides::GUIDES;

/// Where the figures and formulas come from.
pub const SOURCES: &str =
    "Sources of formulas and figures: \"References\" in DEVELOPERS.md, beside the source code.";

/// A JSON Schema that can be printed.
const SCHEMAS: [(&str, &str); 3] = [
    (
        "schema-design",
        "JSON Schema of the design file: editors complete keys with it",
    ),
    ("schema-report", "JSON Schema of report.json"),
    ("schema-plan", "JSON Schema of what plan --json prints"),
];

/// The text of a kind or topic; `None` where nothing is called so.
pub fn explain(name: &str) -> Option<String> {
    if let Some(rule) = rule(name) {
        return Some(with_sources(&kind::page(rule).text()));
    }
    if let Some(guide) = GUIDES.iter().find(|g| g.name == name) {
        return Some(with_sources(&text::from_markdown(guide.markdown)));
    }
    match name {
        "schema-design" => serde_json::to_string_pretty(&crate::design::schema::schema())
            .ok()
            .map(|json| format!("{json}\n")),
        "schema-report" => Some(schema::REPORT.to_owned()),
        "schema-plan" => Some(schema::PLAN.to_owned()),
        _ => None,
    }
}

fn with_sources(text: &str) -> String {
    format!("{text}\n{}", text::wrapped(SOURCES, ""))
}

/// All that can be explained, in a sentence each.
pub fn list() -> String {
    let mut list = String::from("Kinds of finding; ampledger explain KIND says more.\n\n");
    for rule in RULES {
        list.push_str(&format!(
            "{}\n{}\n",
            rule.kind,
            text::wrapped(rule.meaning, "    ")
        ));
    }
    list.push_str("Guides and schemas\n\n");
    let guides = GUIDES.iter().map(|g| (g.name, g.about));
    for (name, about) in guides.chain(SCHEMAS) {
        let words = text::wrapped(about, "    ");
        list.push_str(&format!("  ampledger explain {name}\n{words}\n"));
    }
    list.push_str(&text::wrapped(SOURCES, ""));
    list
}

/// The name most like one that is not known.
pub fn nearest(name: &str) -> Option<&'static str> {
    let wanted = name.to_lowercase().replace([' ', '_'], "-");
    names()
        .map(|known| (strsim::jaro_winkler(&wanted, known), known))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.8)
        .map(|(_, near)| near)
}

/// Every name that can be explained.
pub fn names() -> impl Iterator<Item = &'static str> {
    let kinds = RULES.iter().map(|r| r.kind);
    let guides = GUIDES.iter().map(|g| g.name);
    kinds.chain(guides).chain(SCHEMAS.iter().map(|s| s.0))
}
