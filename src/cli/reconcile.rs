//! `ampledger reconcile`: the main job.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::arguments::Reconcile;
use super::progress::Meter;
use super::{FOUND, Failure, Outcome, mended, screen};
use crate::reconcile::{Request, reconcile_watched};
use crate::report::{json, post, text, write};

pub(super) fn run(arguments: &Reconcile) -> Outcome {
    let meter = Meter::new();
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
    let report = report.map_err(|e| Failure::new(e.to_string()))?;
    let report = json::settled(&report).map_err(|e| Failure::new(e.to_string()))?;
    let folder = arguments
        .out
        .clone()
        .unwrap_or_else(|| default_folder(&arguments.design));
    write::write(&report, &folder).map_err(|e| Failure::new(e.to_string()))?;
    if arguments.json {
        screen::print(&json::render(&report).map_err(|e| Failure::new(e.to_string()))?);
    } else if arguments.post {
        screen::print(&post::render(&report));
    } else {
        screen::print(&text::summary(&report));
        screen::print(&format!(
            "\nReport: {}\n",
            folder.join("report.html").display()
        ));
    }
    if let Some(compared) = &compared {
        let text = mended::write(compared, &folder)?;
        screen::print(&format!("\n{text}"));
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

fn default_folder(design: &Path) -> PathBuf {
    Path::new("reports").join(design.file_stem().unwrap_or(design.as_os_str()))
}
