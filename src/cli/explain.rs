//! `ampledger explain`: what a finding means, how it is decided, what it can't do.

use std::process::ExitCode;

use super::arguments::Explain;
use super::{Failure, Outcome, screen};
use crate::findings::catalogue::{RULES, Rule, rule};

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
    for rule in &RULES {
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
        "{}\n\nWhat it means\n{}\nHow it is decided\n{}\nLimits\n{}",
        rule.kind,
        wrapped(rule.meaning, "  "),
        wrapped(rule.decided, "  "),
        wrapped(rule.limits, "  ")
    )
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
