//! The command line: one file a command, one place that prints.

pub mod arguments;
mod compare;
mod explain;
mod inspect;
mod manual;
mod mended;
mod new;
mod plan;
mod progress;
mod reconcile;
mod render;
mod report_file;
mod sample;
mod screen;
mod shell;
mod topic;
mod weigh;

use std::ffi::OsString;
use std::path::Path;
use std::process::ExitCode;

use clap::Parser;

use crate::words::of_file;
use arguments::{Arguments, Command};
use screen::Manner;

/// Exit status: it could not be done.
const FAILED: u8 = 1;
/// Exit status: wrong usage.
const USAGE: u8 = 2;
/// Exit status: done, and a finding as severe as `--fail-on` asked for was made.
const FOUND: u8 = 3;

/// What a command comes to: an exit status, or a message and one.
type Outcome = Result<ExitCode, Failure>;

/// Why a command ended early.
struct Failure {
    message: String,
    status: u8,
}

impl Failure {
    fn new(message: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            status: FAILED,
        }
    }

    /// A file that could not be put in its place.
    fn unwritable(file: &Path, error: &std::io::Error) -> Self {
        Self::new(format!(
            "{}: cannot be written: {}; choose another name, or a folder you may write to",
            file.display(),
            of_file(error)
        ))
    }

    fn usage(message: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            status: USAGE,
        }
    }
}

/// Runs the program with the given arguments (the first is the program's name).
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version count as done, everything else as wrong usage.
            let status = if error.use_stderr() { USAGE } else { 0 };
            let _ = error.print();
            return ExitCode::from(status);
        }
    };
    let manner = Manner::new(arguments.quiet, arguments.verbose);
    let outcome = match &arguments.command {
        Command::Reconcile(a) => reconcile::run(a, manner),
        Command::Plan(a) => plan::run(a, manner),
        Command::Weigh(a) => weigh::run(a, manner),
        Command::Compare(a) => compare::run(a),
        Command::Inspect(a) => inspect::run(a, manner),
        Command::Render(a) => render::run(a, manner),
        Command::Explain(a) => explain::run(a),
        Command::Sample(a) => sample::run(a, manner),
        Command::New(a) => new::run(a, manner),
        Command::Shell(a) => shell::run(a),
        Command::Manual(a) => manual::run(a, manner),
    };
    let printed = |status| match screen::unprinted() {
        None => Ok(status),
        Some(why) => Err(Failure::new(format!(
            "standard output cannot be written to: {why}"
        ))),
    };
    match outcome.and_then(printed) {
        Ok(status) => status,
        Err(failure) => {
            screen::complain(&format!("error: {}", failure.message));
            ExitCode::from(failure.status)
        }
    }
}
