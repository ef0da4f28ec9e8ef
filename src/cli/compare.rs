//! `ampledger compare`: two reports of one system, before and after.

use std::path::Path;
use std::process::ExitCode;

use super::arguments::Compare;
use super::{Failure, Outcome, screen};
use crate::compare::compare;
use crate::report::charts::comparison;
use crate::report::model::Report;
use crate::report::{compare_text, json};
use crate::whole_file;

pub(super) fn run(arguments: &Compare) -> Outcome {
    let (before, after) = (read(&arguments.before)?, read(&arguments.after)?);
    let compared = compare(&before, &after).map_err(|e| Failure::new(e.to_string()))?;
    if let Some(file) = &arguments.chart {
        let svg = comparison::svg(&compared).ok_or_else(|| {
            Failure::new("no chart: neither report holds a figure that can be compared")
        })?;
        whole_file::put(file, svg.as_bytes()).map_err(|e| {
            Failure::new(format!(
                "{}: can't be written: {e}; choose a folder you may write to",
                file.display()
            ))
        })?;
    }
    let text = if arguments.json {
        json::render(&compared).map_err(|e| Failure::new(e.to_string()))?
    } else {
        compare_text::render(&compared)
    };
    screen::print(&text);
    Ok(ExitCode::SUCCESS)
}

fn read(file: &Path) -> Result<Report, Failure> {
    let content = std::fs::read_to_string(file).map_err(|e| {
        Failure::new(format!(
            "{}: can't be read: {e}; name a report.json that reconcile wrote",
            file.display()
        ))
    })?;
    json::parse(&content).map_err(|e| Failure::new(format!("{}: {e}", file.display())))
}
