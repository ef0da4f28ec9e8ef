//! `ampledger render`: every output again from a report.json.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::arguments::Render;
use super::screen::Manner;
use super::{Failure, Outcome, reconcile, report_file, screen};
use crate::report::{post, text, write};

pub(super) fn run(arguments: &Render, manner: Manner) -> Outcome {
    let file = &arguments.report;
    let report = report_file::read(file)?;
    let folder: PathBuf = arguments.out.clone().unwrap_or_else(|| {
        file.parent()
            .filter(|p| !p.as_os_str().is_empty() && !report_file::is_input(file))
            .unwrap_or(Path::new("."))
            .to_path_buf()
    });
    write::write(&report, &folder).map_err(|e| Failure::new(e.to_string()))?;
    reconcile::details(&report, manner);
    if arguments.post {
        screen::print(&post::render(&report));
    } else {
        manner.tell(&text::summary(&report));
        manner.tell(&format!(
            "\nReport: {}\n",
            folder.join("report.html").display()
        ));
    }
    Ok(ExitCode::SUCCESS)
}
