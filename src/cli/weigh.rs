//! `ampledger weigh`: what each change would do on the owner's own days.

use std::path::Path;
use std::process::ExitCode;

use super::arguments::Weigh;
use super::reconcile::check_period;
use super::screen::Manner;
use super::{Failure, Outcome, screen};
use crate::design::Upgrade;
use crate::design::changes::{parse_change, read_changed};
use crate::reconcile::{Request, judge};
use crate::replay::{Asked, DRAWS, weigh};
use crate::report::{json, weigh_text};

pub(super) fn run(arguments: &Weigh, manner: Manner) -> Outcome {
    check_period(arguments.from, arguments.to)?;
    let tried = tried(arguments)?;
    let judged = judge(&Request {
        logs: arguments.logs.clone(),
        design: arguments.design.clone(),
        from: arguments.from,
        to: arguments.to,
        zone: arguments.timezone,
    })
    .map_err(|e| Failure::new(e.to_string()))?;
    manner.of_design(&judged.design);
    for option in &tried {
        // A name or a value that only this design can tell is wrong usage as well.
        read_changed(
            &judged.design_text,
            Path::new("--try"),
            &judged.design.folder,
            &option.set,
        )
        .map_err(|e| Failure::usage(e.to_string()))?;
    }
    let options = judged.design.options.iter().cloned().chain(tried).collect();
    let weighed = weigh(
        &judged.weighing(),
        &Asked {
            options,
            month: arguments.month,
            draws: DRAWS,
        },
    )
    .map_err(|e| Failure::new(e.to_string()))?;
    let told = weighed.told();
    let text = if arguments.json {
        json::render(&told).map_err(|e| Failure::new(e.to_string()))?
    } else {
        weigh_text::render(&told)
    };
    screen::print(&text);
    Ok(ExitCode::SUCCESS)
}

/// Each `--try` as an option of its own, named by what it changes.
fn tried(arguments: &Weigh) -> Result<Vec<Upgrade>, Failure> {
    arguments
        .tries
        .iter()
        .map(|text| {
            let (key, value) =
                parse_change(text).map_err(|why| Failure::usage(format!("--try: {why}")))?;
            Ok(Upgrade {
                name: text.trim().to_owned(),
                cost: None,
                set: [(key, value)].into(),
            })
        })
        .collect()
}
