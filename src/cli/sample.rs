//! `ampledger sample`: a simulated trip with its truth.

use std::process::ExitCode;

use super::arguments::Sample;
use super::{Failure, Outcome, screen};
use crate::sample::{SampleOptions, write};

pub(super) fn run(arguments: &Sample) -> Outcome {
    let files = write(
        &arguments.folder,
        &SampleOptions {
            case: arguments.case.clone(),
            days: arguments.days,
            step_s: arguments.step,
            seed: arguments.seed,
            force: arguments.force,
        },
    )
    .map_err(|e| Failure::new(e.to_string()))?;
    for file in &files {
        screen::print(&format!("{}\n", file.display()));
    }
    screen::print(&format!(
        "\nNext: ampledger reconcile --design {}\n",
        arguments.folder.join("design.toml").display()
    ));
    Ok(ExitCode::SUCCESS)
}
