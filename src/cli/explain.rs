//! `ampledger explain`: kinds of finding, guides, schemas.

use std::process::ExitCode;

use super::arguments::Explain;
use super::{Failure, Outcome, screen};
use crate::explain::{explain, list, nearest};

pub(super) fn run(arguments: &Explain) -> Outcome {
    let text = match &arguments.kind {
        None => list(),
        Some(name) => explain(name).ok_or_else(|| Failure::usage(unknown(name)))?,
    };
    screen::print(&text);
    Ok(ExitCode::SUCCESS)
}

fn unknown(name: &str) -> String {
    match nearest(name) {
        Some(near) => format!("no finding or guide is called \"{name}\"; did you mean {near}?"),
        None => format!("no finding or guide is called \"{name}\"; ampledger explain lists them"),
    }
}
