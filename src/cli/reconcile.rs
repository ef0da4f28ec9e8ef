//! `ampledger reconcile`: the main job.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use chrono::NaiveDate;

use super::arguments::Reconcile;
use super::progress::Meter;
use super::screen::Manner;
use super::{FOUND, Failure, Outcome, mended, screen};
use crate::reconcile::{Request, reconcile_watched};
use crate::report::model::Report;
use crate::report::text::summary;
use crate::report::{compare_text, json, post, write};

pub(super) fn run(arguments: &Reconcile, manner: Manner) -> Outcome {
    check_period(arguments.from, arguments.to)?;
    let meter = Meter::new(manner);
    let asked = Request {
        logs: arguments.logs.clone(),
        design: arguments.design.clone(),
        from: arguments.from,
        to: arguments.to,
        zone: arguments.timezone,
    };
    let compared = arguments
        .mended
        .map(|date| mended::compared(&asked, date))
        .transpose()?;
    let report = reconcile_watched(&asked, &|progress| meter.show(progress));
    meter.clear();
    let mut report = report.map_err(|e| Failure::new(e.to_string()))?;
    report.comparison.clone_from(&compared);
    let (report, text) = json::settled(&report).map_err(|e| Failure::new(e.to_string()))?;
    let folder = arguments
        .out
        .clone()
        .unwrap_or_else(|| default_folder(&arguments.design));
    write::write_with(&report, &text, &folder).map_err(|e| Failure::new(e.to_string()))?;
    details(&report, manner);
    if arguments.json {
        screen::print(&text);
    } else if arguments.post {
        screen::print(&post::render(&report));
    } else {
        manner.tell(&summary(&report));
        manner.tell(&format!(
            "\nReport: {}\n",
            folder.join("report.html").display()
        ));
    }
    if let Some(compared) = &compared {
        manner.tell(&format!("\n{}", compare_text::render(compared)));
    }
    let failed = arguments
        .fail_on
        .is_some_and(|f| report.findings.iter().any(|x| x.severity <= f.severity()));
    Ok(if failed {
        ExitCode::from(FOUND)
    } else {
        ExitCode::SUCCESS
    })
}

/// The dates of a period in their order.
pub(super) fn check_period(from: Option<NaiveDate>, to: Option<NaiveDate>) -> Result<(), Failure> {
    match (from, to) {
        (Some(from), Some(to)) if from > to => Err(Failure::new(format!(
            "--from {from} is later than --to {to}; the earlier date goes with --from"
        ))),
        _ => Ok(()),
    }
}

/// How the inputs were understood, a line each.
pub(super) fn details(report: &Report, manner: Manner) {
    for one in &report.assumed {
        manner.detail(&format!("assumed {} = {}: {}", one.key, one.value, one.why));
    }
    for input in &report.inputs {
        let rows = input.rows;
        manner.detail(&format!(
            "{}: {} rows read = {} used + {} repaired + {} merged + {} refused",
            input.file, rows.read, rows.used, rows.repaired, rows.merged, rows.refused
        ));
        for (role, from) in &input.roles {
            manner.detail(&format!(
                "{}: {role} from \"{}\" in {} (by {})",
                input.file, from.column, from.unit, from.how
            ));
        }
        for note in &input.notes {
            manner.detail(&format!("{}: {note}", input.file));
        }
    }
}

fn default_folder(design: &Path) -> PathBuf {
    Path::new("reports").join(design.file_stem().unwrap_or(design.as_os_str()))
}
