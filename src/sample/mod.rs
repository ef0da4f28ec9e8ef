//! Simulated trips with their truth: a plant, a sky and meters of their own.
//!
//! Nothing here is shared with what judges logs, except where the sun stands: a report that agrees
//! with a trip's truth agrees with another model, not with itself.

mod account;
mod bank;
mod cases;
mod changed;
mod charger;
mod consequences;
mod design_text;
mod dice;
mod draw;
mod extremes;
mod faults;
mod fit;
mod flow;
mod labels;
mod loads;
mod logs;
mod mending;
mod meters;
mod other_place;
mod panels;
mod parts;
mod rows;
mod run;
mod scenario;
mod sky;
mod totals;
mod truth;
mod wrong;

use std::path::{Path, PathBuf};

pub use cases::Case;
pub use changed::{Lived, PlantChange, lived};
pub use logs::LogFile;
pub use truth::{Truth, TruthDay, TruthFault, TruthSignal};

/// What to simulate.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleOptions {
    /// Case name; the default case shows the main job.
    pub case: Option<String>,
    /// Days, where the case's own number is not wanted.
    pub days: Option<u32>,
    /// Step of the bank log in seconds, where the case's own is not wanted.
    pub step_s: Option<u32>,
    /// Size of the fault as a multiple of the smallest a log can show ([`crate::smallest`]); drawn by
    /// the seed between 2 and 4 where not given. The default case has sizes of its own.
    pub size: Option<f64>,
    /// Seed of another place than the case's own: other air, its days in another order, panels askew.
    pub place: Option<u64>,
    /// Seed.
    pub seed: u64,
    /// Write into a folder that holds something already.
    pub force: bool,
}

/// Why a sample could not be written.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct SampleError(pub String);

/// A simulated trip in memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Trip {
    /// Text of `design.toml`.
    pub design: String,
    /// Log files.
    pub logs: Vec<LogFile>,
    /// What was true.
    pub truth: Truth,
}

/// Longest trip that is simulated, days.
pub const MOST_DAYS: u32 = 3_660;
/// Smallest and largest multiple a fault may be asked for in.
pub const SIZES: (f64, f64) = (0.1, 10.0);

/// Every case, the default first.
pub fn cases() -> &'static [Case] {
    cases::CASES
}

/// What a step of a log can be.
pub const STEPS: &str =
    "a part of a day that divides it evenly, up to 1 h (for instance 60 s, 5 min, 15 min)";

/// Whether a log can be written at that step.
pub fn is_step(seconds: u32) -> bool {
    (1..=3_600).contains(&seconds) && 86_400 % seconds == 0
}

/// Simulates a case (`None`: `options.case`, or else the default) in memory. The same input gives
/// the same bytes.
///
/// # Errors
/// An unknown case name, no days, more than ten years, a step that does not divide a day, or a size
/// out of range.
pub fn simulate(case: Option<&str>, options: &SampleOptions) -> Result<Trip, SampleError> {
    let scenario = scenario(case, options)?;
    let outcome = run::run(&scenario);
    let signals = logs::signals(&scenario, &outcome);
    Ok(Trip {
        design: design_text::design(&scenario),
        logs: logs::files(&scenario, &outcome),
        truth: account::truth(&scenario, &outcome, signals),
    })
}

/// The scenario with the options in place.
fn scenario(
    case: Option<&str>,
    options: &SampleOptions,
) -> Result<scenario::Scenario, SampleError> {
    let name = case
        .or(options.case.as_deref())
        .unwrap_or(cases::CASES[0].name);
    if let Some(size) = options.size
        && !(SIZES.0..=SIZES.1).contains(&size)
    {
        return Err(SampleError(format!(
            "--size must be from {} to {}, not {size}",
            SIZES.0, SIZES.1
        )));
    }
    let mut scenario = cases::scenario(name, options.seed, options.size).ok_or_else(|| {
        let known: Vec<&str> = cases::CASES.iter().map(|c| c.name).collect();
        SampleError(format!(
            "no case is called \"{name}\"{}; the cases are {}",
            nearest(name, &known),
            known.join(", ")
        ))
    })?;
    if let Some(days) = options.days {
        if !(1..=MOST_DAYS).contains(&days) {
            return Err(SampleError(format!(
                "--days must be from 1 to {MOST_DAYS}, not {days}"
            )));
        }
        scenario.days = days;
        scenario.keep_within_trip();
    }
    if let Some(seed) = options.place {
        other_place::drawn(&mut scenario, seed);
    }
    if let Some(step) = options.step_s {
        if !is_step(step) {
            return Err(SampleError(format!("--step must be {STEPS}, not {step} s")));
        }
        scenario.logging.bank_step_s = step;
        scenario.logging.controller_step_s = scenario.logging.controller_step_s.max(step);
    }
    Ok(scenario)
}

/// Writes `design.toml`, the log files and `truth.json` into `folder`; returns the files written.
/// Each file is whole: written under another name first, then put in place. Log files of an earlier
/// sample there that this one does not write go: the new design would read them too.
///
/// # Errors
/// What [`simulate`] refuses; a folder with something in it without `force`; a file that cannot be
/// written.
pub fn write(folder: &Path, options: &SampleOptions) -> Result<Vec<PathBuf>, SampleError> {
    let trip = simulate(None, options)?;
    refuse_occupied(folder, options.force)?;
    std::fs::create_dir_all(folder).map_err(|e| {
        SampleError(format!(
            "{}: cannot make this folder: {}; choose another",
            folder.display(),
            crate::words::of_file(&e)
        ))
    })?;
    let truth = serde_json::to_string_pretty(&trip.truth)
        .map_err(|e| SampleError(format!("the truth cannot be written as JSON: {e}")))?;
    let mut files: Vec<(&str, String)> = trip
        .logs
        .iter()
        .map(|log| (log.name.as_str(), log.text.clone()))
        .collect();
    files.push(("truth.json", truth + "\n"));
    files.push(("design.toml", trip.design));
    if folder.join("truth.json").exists() {
        remove_other_logs(folder, &trip.logs)?;
    }
    crate::whole_file::sweep(folder);
    files
        .into_iter()
        .map(|(name, text)| put(folder, name, &text))
        .collect()
}

fn refuse_occupied(folder: &Path, force: bool) -> Result<(), SampleError> {
    if folder.exists() && !folder.is_dir() {
        return Err(SampleError(format!(
            "{}: this is a file; name a folder",
            folder.display()
        )));
    }
    let occupied = std::fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some());
    if occupied && !force {
        return Err(SampleError(format!(
            "{}: this folder has something in it; name an empty or new one, or add --force",
            folder.display()
        )));
    }
    Ok(())
}

/// Removes log files by names of ours that are not among `kept`.
fn remove_other_logs(folder: &Path, kept: &[LogFile]) -> Result<(), SampleError> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    for path in entries.map(|entry| entry.path()) {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if logs::is_log_name(&name) && kept.iter().all(|log| log.name != name) {
            std::fs::remove_file(&path).map_err(|e| {
                SampleError(format!(
                    "{}: this log of an earlier sample cannot be removed: {}; check permissions",
                    path.display(),
                    crate::words::of_file(&e)
                ))
            })?;
        }
    }
    Ok(())
}

/// The case most like a name, as a question.
fn nearest(name: &str, known: &[&str]) -> String {
    known
        .iter()
        .map(|case| (strsim::damerau_levenshtein(name, case), case))
        .min()
        .filter(|(distance, case)| *distance <= case.len() / 2)
        .map_or_else(String::new, |(_, case)| format!("; did you mean {case}?"))
}

/// Writes one file beside its place and renames it into it.
fn put(folder: &Path, name: &str, text: &str) -> Result<PathBuf, SampleError> {
    let path = folder.join(name);
    let fail = |e: std::io::Error| {
        SampleError(format!(
            "{}: cannot be written: {}; check space and permissions",
            path.display(),
            crate::words::of_file(&e)
        ))
    };
    crate::whole_file::put(&path, text.as_bytes()).map_err(fail)?;
    Ok(path)
}

#[cfg(test)]
mod tests;
