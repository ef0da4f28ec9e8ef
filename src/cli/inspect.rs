//! `ampledger inspect`: how each file is understood.

use std::process::ExitCode;

use super::arguments::Inspect;
use super::progress::Meter;
use super::screen::Manner;
use super::{Failure, Outcome, screen};
use crate::calendar::Calendar;
use crate::design::log_entries;
use crate::{design, log};

pub(super) fn run(arguments: &Inspect, manner: Manner) -> Outcome {
    if let (Some(read), Some(write)) = (&arguments.design, &arguments.write)
        && read != write
    {
        return Err(Failure::usage(
            "--design and --write name different files; what is written belongs to the design that was read, so name one",
        ));
    }
    let design = match arguments.design.as_ref().or(arguments.write.as_ref()) {
        Some(file) => Some(design::read(file).map_err(|e| Failure::new(e.to_string()))?),
        None => None,
    };
    if let Some(design) = &design {
        manner.of_design(design);
    }
    let calendar = match &design {
        Some(design) => design.place.calendar(),
        None => Calendar::fixed(arguments.timezone.unwrap_or(chrono_tz::UTC)),
    };
    let meter = Meter::new(manner);
    let asked = log::Request {
        paths: arguments.logs.clone(),
        entries: design.as_ref().map_or(&[], |d| d.logs.as_slice()),
        folder: design.as_ref().map(|d| d.folder.as_path()),
        calendar: &calendar,
        zone: arguments.timezone,
        nominal_v: design.as_ref().and_then(|d| d.system.nominal_v),
        from: None,
        to: None,
    };
    let reading = log::look_watched(&asked, &|progress| meter.show(progress));
    meter.clear();
    let reading = reading.map_err(|e| Failure::new(e.to_string()))?;
    let written = match &arguments.write {
        Some(file) => {
            let written = log_entries::write(file, &reading.suggestions)
                .map_err(|e| Failure::new(e.to_string()))?;
            Some(format!("{}: {}", file.display(), said(written)))
        }
        None => None,
    };
    if arguments.json {
        let text = serde_json::to_string_pretty(&reading.inspection)
            .map_err(|e| Failure::new(e.to_string()))?;
        screen::print(&format!("{text}\n"));
        written.iter().for_each(|said| manner.remark(said));
    } else {
        screen::print(&log::inspect_text::text(&reading.inspection));
        written
            .iter()
            .for_each(|said| manner.tell(&format!("{said}\n")));
    }
    Ok(ExitCode::SUCCESS)
}

/// What was written, in words.
fn said(written: log_entries::Written) -> String {
    match (written.added, written.completed) {
        (0, 0) => "its log entries already say all this; left as it is".to_owned(),
        (added, 0) => format!("{added} log entries added"),
        (0, completed) => format!("{completed} log entries completed"),
        (added, completed) => format!("{added} log entries added, {completed} completed"),
    }
}
