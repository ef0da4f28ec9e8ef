//! `ampledger inspect`: how each file is understood.

use std::process::ExitCode;

use super::arguments::Inspect;
use super::{Failure, Outcome, screen};
use crate::calendar::Calendar;
use crate::{design, log};

pub(super) fn run(arguments: &Inspect) -> Outcome {
    let design = match &arguments.design {
        Some(file) => Some(design::read(file).map_err(|e| Failure::new(e.to_string()))?),
        None => None,
    };
    let calendar = match &design {
        Some(design) => design.place.calendar(),
        None => Calendar::fixed(arguments.timezone.unwrap_or(chrono_tz::UTC)),
    };
    let reading = log::look(&log::Request {
        paths: arguments.logs.clone(),
        entries: design.as_ref().map_or(&[], |d| d.logs.as_slice()),
        folder: design.as_ref().map(|d| d.folder.as_path()),
        calendar: &calendar,
        zone: arguments.timezone,
        nominal_v: design.as_ref().and_then(|d| d.system.nominal_v),
        from: None,
        to: None,
    })
    .map_err(|e| Failure::new(e.to_string()))?;
    if arguments.json {
        let text = serde_json::to_string_pretty(&reading.inspection)
            .map_err(|e| Failure::new(e.to_string()))?;
        screen::print(&format!("{text}\n"));
    } else {
        screen::print(&log::inspect_text::text(&reading.inspection));
    }
    Ok(ExitCode::SUCCESS)
}
