//! A report.json named on the command line, or piped in.

use std::io::Read as _;
use std::path::Path;

use super::Failure;
use crate::report::json;
use crate::report::model::Report;

/// Reads and checks it; `-` is standard input.
pub(super) fn read(file: &Path) -> Result<Report, Failure> {
    let shown = file.display();
    let unreadable = |e: std::io::Error| {
        Failure::new(format!(
            "{shown}: cannot be read: {}; name a report.json that reconcile wrote",
            crate::words::of_file(&e)
        ))
    };
    let content = if is_input(file) {
        let mut text = String::new();
        let read = std::io::stdin().lock().read_to_string(&mut text);
        read.map_err(unreadable)?;
        text
    } else {
        std::fs::read_to_string(file).map_err(unreadable)?
    };
    json::parse(&content).map_err(|e| Failure::new(format!("{shown}: {e}")))
}

/// Whether standard input is meant.
pub(super) fn is_input(file: &Path) -> bool {
    file.as_os_str() == "-"
}
