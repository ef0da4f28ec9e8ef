//! `ampledger shell`: completions for a shell, from the same definitions as the arguments.

use std::process::ExitCode;

use clap::CommandFactory as _;

use super::arguments::{Arguments, Shell};
use super::{Outcome, screen};

pub(super) fn run(arguments: &Shell) -> Outcome {
    let mut bytes = Vec::new();
    let mut command = Arguments::command();
    clap_complete::generate(arguments.shell, &mut command, "ampledger", &mut bytes);
    screen::print(&String::from_utf8_lossy(&bytes));
    Ok(ExitCode::SUCCESS)
}
