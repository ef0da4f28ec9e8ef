//! `ampledger plan`: the design on its own.

use std::process::ExitCode;

use super::arguments::Plan;
use super::screen::Manner;
use super::{Failure, Outcome, screen};
use crate::design;
use crate::plan::plan;
use crate::report::{json, plan_text};

pub(super) fn run(arguments: &Plan, manner: Manner) -> Outcome {
    let design = design::read(&arguments.design).map_err(|e| Failure::new(e.to_string()))?;
    manner.of_design(&design);
    let planning = plan(&design);
    let text = if arguments.json {
        json::render(&planning).map_err(|e| Failure::new(e.to_string()))?
    } else {
        plan_text::render(&planning)
    };
    screen::print(&text);
    Ok(ExitCode::SUCCESS)
}
