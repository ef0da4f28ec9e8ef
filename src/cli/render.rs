//! `ampledger render`: every output again from a report.json.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::arguments::Render;
use super::{Failure, Outcome, screen};
use crate::report::{json, post, text, write};

pub(super) fn run(arguments: &Render) -> Outcome {
    let file = &arguments.report;
    let content = std::fs::read_to_string(file).map_err(|e| {
        Failure::new(format!(
            "{}: can't be read: {e}; name a report.json that reconcile wrote",
            file.display()
        ))
    })?;
    let report =
        json::parse(&content).map_err(|e| Failure::new(format!("{}: {e}", file.display())))?;
    let folder: PathBuf = arguments.out.clone().unwrap_or_else(|| {
        file.parent()
            .filter(|p| !p.as_os_str().is_empty())
            .unwrap_or(Path::new("."))
            .to_path_buf()
    });
    write::write(&report, &folder).map_err(|e| Failure::new(e.to_string()))?;
    if arguments.post {
        screen::print(&post::render(&report));
    } else {
        screen::print(&text::summary(&report));
        screen::print(&format!(
            "\nReport: {}\n",
            folder.join("report.html").display()
        ));
    }
    Ok(ExitCode::SUCCESS)
}
