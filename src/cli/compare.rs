//! `ampledger compare`: two reports of one system, before and after.

use std::process::ExitCode;

use super::arguments::Compare;
use super::{Failure, Outcome, report_file, screen};
use crate::compare::compare;
use crate::report::charts::comparison;
use crate::report::{compare_text, json};
use crate::whole_file;

pub(super) fn run(arguments: &Compare) -> Outcome {
    if [&arguments.before, &arguments.after]
        .iter()
        .all(|f| report_file::is_input(f))
    {
        return Err(Failure::usage(
            "only one of the two reports can come from standard input; name a file for the other",
        ));
    }
    let before = report_file::read(&arguments.before)?;
    let after = report_file::read(&arguments.after)?;
    let compared = compare(&before, &after).map_err(|e| Failure::new(e.to_string()))?;
    if let Some(file) = &arguments.chart {
        let svg = comparison::svg(&compared).ok_or_else(|| {
            Failure::new("no chart: neither report holds a figure that can be compared")
        })?;
        whole_file::put(file, svg.as_bytes()).map_err(|e| Failure::unwritable(file, &e))?;
    }
    let text = if arguments.json {
        json::render(&compared).map_err(|e| Failure::new(e.to_string()))?
    } else {
        compare_text::render(&compared)
    };
    screen::print(&text);
    Ok(ExitCode::SUCCESS)
}
