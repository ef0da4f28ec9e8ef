//! `ampledger explain`: what a finding means, how it is decided, what it can't do.

use std::process::ExitCode;

use super::arguments::Explain;
use super::{Failure, Outcome, screen};
use crate::design::judging::{SETTINGS, Setting};
use crate::findings::catalogue::{RULES, Rule, rule};
use crate::smallest::SMALLEST;

/// Width of running text on the screen.
const WIDTH: usize = 78;

pub(super) fn run(arguments: &Explain) -> Outcome {
    let text = match &arguments.kind {
        None => list(),
        Some(kind) => match rule(kind) {
            Some(rule) => page(rule),
            None => return Err(Failure::usage(unknown(kind))),
        },
    };
    screen::print(&text);
    Ok(ExitCode::SUCCESS)
}

fn list() -> String {
    let mut text = String::from("Kinds of finding; ampledger explain KIND says more.\n\n");
    for rule in RULES {
        text.push_str(&format!(
            "{}\n{}\n",
            rule.kind,
            wrapped(rule.meaning, "    ")
        ));
    }
    text
}

fn page(rule: &Rule) -> String {
    format!(
        "{}\n\nWhat it means\n{}\nHow it is decided\n{}\nLimits\n{}{}{}{}",
        rule.kind,
        wrapped(rule.meaning, "  "),
        wrapped(rule.decided, "  "),
        wrapped(rule.limits, "  "),
        smallest(rule),
        explained_by(rule),
        settings(rule)
    )
}

/// The smallest that a log can show, and the columns it takes.
fn smallest(rule: &Rule) -> String {
    let Some(least) = SMALLEST.iter().find(|s| s.kind == rule.kind) else {
        return String::new();
    };
    let columns = match least.columns {
        [] => "none; the design alone tells".to_owned(),
        columns => columns.join(", "),
    };
    let size = format!(
        "{}: {} {}",
        least.figure,
        crate::words::about(least.value),
        least.unit
    );
    format!(
        "\nSmallest that shows\n{}{}  Columns\n{}",
        wrapped(&format!("{}.", size.trim_end()), "  "),
        wrapped(&format!("Why: {}.", least.why.trim_end_matches('.')), "  "),
        wrapped(&format!("{columns}."), "    ")
    )
}

fn explained_by(rule: &Rule) -> String {
    if rule.follows_from.is_empty() {
        return String::new();
    }
    let kinds = rule.follows_from.join(", ");
    format!(
        "\nTold as a consequence where one of these is found too\n{}",
        wrapped(&kinds, "  ")
    )
}

/// The settings that decide a kind, with default, meaning and source.
fn settings(rule: &Rule) -> String {
    let of_kind: Vec<&Setting> = SETTINGS
        .iter()
        .filter(|s| s.kinds.contains(&rule.kind))
        .collect();
    if of_kind.is_empty() {
        return String::new();
    }
    let mut text = String::from(
        "\nSettings, with their defaults (change one under [judging] in the design)\n",
    );
    for setting in of_kind {
        let word = setting.key.path.trim_start_matches("judging.");
        text.push_str(&format!("  {word} = {}\n", setting.key.example));
        text.push_str(&wrapped(
            &format!("{} Source: {}.", setting.meaning.trim(), setting.source),
            "      ",
        ));
    }
    text
}

fn unknown(kind: &str) -> String {
    let nearest = RULES
        .iter()
        .map(|r| (strsim::damerau_levenshtein(kind, r.kind), r.kind))
        .min();
    match nearest {
        Some((distance, near)) if distance <= near.len() / 2 => {
            format!("no finding is called \"{kind}\"; did you mean {near}?")
        }
        _ => format!("no finding is called \"{kind}\"; ampledger explain lists them"),
    }
}

fn wrapped(text: &str, indent: &str) -> String {
    let mut out = String::new();
    let mut line = indent.to_owned();
    for word in text.split_whitespace() {
        if line.len() + word.len() + 1 > WIDTH && line.trim() != "" {
            out.push_str(line.trim_end());
            out.push('\n');
            line = indent.to_owned();
        }
        line.push_str(word);
        line.push(' ');
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}
