//! `ampledger sample`: a simulated trip with its truth.

use std::process::ExitCode;

use super::arguments::Sample;
use super::screen::Manner;
use super::{Failure, Outcome};
use crate::sample::{SampleOptions, cases, write};

pub(super) fn run(arguments: &Sample, manner: Manner) -> Outcome {
    let named = arguments.case.as_deref();
    let known = named.is_none_or(|name| cases().iter().any(|case| case.name == name));
    let files = write(
        &arguments.folder,
        &SampleOptions {
            case: arguments.case.clone(),
            days: arguments.days,
            step_s: arguments.step,
            place: None,
            size: arguments.size,
            seed: arguments.seed,
            force: arguments.force,
        },
    )
    .map_err(|e| {
        if known {
            Failure::new(e.to_string())
        } else {
            Failure::usage(e.to_string())
        }
    })?;
    for file in &files {
        manner.tell(&format!("{}\n", file.display()));
    }
    manner.tell(&format!(
        "\nNext: ampledger reconcile --design {}\n",
        arguments.folder.join("design.toml").display()
    ));
    Ok(ExitCode::SUCCESS)
}
