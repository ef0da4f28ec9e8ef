//! The whole path: read, expect, account, find, judge, report.

use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use chrono_tz::Tz;

use crate::account::Accounts;
use crate::assemble::{self, Parts};
use crate::calendar::Calendar;
use crate::design::{self, Design, DesignError};
use crate::expect::{Expectation, signals};
use crate::findings::catalogue::Found;
use crate::findings::{self, Evidence};
use crate::log::{self, ReadError, Reading};
use crate::mapping::Role;
use crate::replay::{self, Asked, DRAWS};
use crate::report::model::{Report, Unknown, Verdict};
use crate::stats::quantile::median;
use crate::timeline::{Channel, Timeline};
use crate::verdict;
use crate::words::lower_first;

/// What is to be reconciled.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// Logs as typed; empty: the design's own.
    pub logs: Vec<PathBuf>,
    /// The design file.
    pub design: PathBuf,
    /// First local date, inclusive.
    pub from: Option<NaiveDate>,
    /// Last local date, inclusive.
    pub to: Option<NaiveDate>,
    /// Zone of stamps that carry none.
    pub zone: Option<Tz>,
}

/// Why no report could be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReconcileError {
    /// The design.
    #[error(transparent)]
    Design(#[from] DesignError),
    /// The logs.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// Nothing in the period.
    #[error("{0}")]
    Empty(String),
}

/// What a run came to before it is put into a report.
pub struct Judged {
    /// The design, its nominal voltage known.
    pub design: Design,
    /// The design file's text.
    pub design_text: String,
    /// Local days.
    pub calendar: Calendar,
    /// What was read.
    pub reading: Reading,
    /// What was expected.
    pub expected: Expectation,
    /// The accounts.
    pub accounts: Accounts,
    /// What was found.
    pub found: Found,
    /// What limits.
    pub verdict: Verdict,
}

impl Judged {
    /// What options are weighed on.
    pub fn weighing(&self) -> replay::Inputs<'_> {
        replay::Inputs {
            design: &self.design,
            design_text: &self.design_text,
            calendar: &self.calendar,
            expected: &self.expected,
            accounts: &self.accounts,
            findings: &self.found.findings,
        }
    }
}

/// Reads design and logs and works out the report.
///
/// # Errors
/// A design or a log that cannot be read, or no reading in the period asked for.
pub fn reconcile(request: &Request) -> Result<Report, ReconcileError> {
    reconcile_watched(request, &|_| ())
}

/// Works like [`reconcile`], and tells how far the reading has come.
///
/// # Errors
/// As [`reconcile`].
pub fn reconcile_watched(request: &Request, watch: log::Watch) -> Result<Report, ReconcileError> {
    let judged = judge_watched(request, watch)?;
    let mut report = assemble::report(Parts {
        design: &judged.design,
        design_text: &judged.design_text,
        calendar: &judged.calendar,
        reading: &judged.reading,
        expected: &judged.expected,
        accounts: &judged.accounts,
        found: judged.found.clone(),
        verdict: judged.verdict.clone(),
    });
    if !judged.design.options.is_empty() {
        weigh_options(&judged, &mut report);
    }
    Ok(report)
}

/// Fills in what the design's options would change; where they cannot be weighed, the report says why.
fn weigh_options(judged: &Judged, report: &mut Report) {
    let asked = Asked {
        options: judged.design.options.clone(),
        month: None,
        draws: DRAWS,
    };
    let not_weighed = match replay::weigh(&judged.weighing(), &asked) {
        Ok(weighed) if weighed.reproduced.ok => {
            report.options = weighed.rows.iter().map(|r| r.row.clone()).collect();
            report.recommended = weighed.recommended;
            report.recommended_why = Some(weighed.why);
            return;
        }
        Ok(weighed) => weighed.why,
        Err(why) => why.to_string(),
    };
    report.unknown.push(Unknown {
        kind: "options".to_owned(),
        text: format!("what the options of the design would change: {}", lower_first(&not_weighed)),
        needs: "`ampledger weigh` says how far the replay is off; a log of the bank's current and state of charge over a week with a full charge in it".to_owned(),
    });
}

/// Reads design and logs and judges them.
///
/// # Errors
/// As [`reconcile`].
pub fn judge(request: &Request) -> Result<Judged, ReconcileError> {
    judge_watched(request, &|_| ())
}

fn judge_watched(request: &Request, watch: log::Watch) -> Result<Judged, ReconcileError> {
    let design = design::read(&request.design)?;
    let calendar = design.place.calendar();
    let asked = log::Request {
        paths: request.logs.clone(),
        entries: &design.logs,
        folder: Some(&design.folder),
        calendar: &calendar,
        zone: request.zone,
        nominal_v: design.system.nominal_v,
        from: request.from,
        to: request.to,
    };
    let mut reading = log::read_watched(&asked, watch)?;
    let design = with_nominal(design, &reading.timeline);
    let design = as_far_as_logged(design, &mut reading);
    let whole = period(request, &calendar, &reading)?;
    let (first, last) = without_slivers(request, &calendar, &reading, whole);
    let left_out = [(whole.0, whole.0 < first), (whole.1, last < whole.1)];
    for (day, _) in left_out.iter().filter(|(_, is_out)| *is_out) {
        reading.inspection.notes.push(format!(
            "of {day} less than an hour was logged: it is left out of the days, and stays in the sums by file"
        ));
    }
    let expected = Expectation::new(&design, &calendar, &reading.timeline, first, last);
    let accounts = Accounts::with_totals(
        &design,
        &calendar,
        &reading.timeline,
        &expected,
        &reading.day_totals,
    );
    let evidence = Evidence {
        design: &design,
        calendar: &calendar,
        expected: &expected,
        accounts: &accounts,
        timeline: &reading.timeline,
    };
    let found = findings::look(&evidence);
    let verdict = verdict::verdict(&evidence, &found);
    Ok(Judged {
        design_text: text_of(&request.design),
        design,
        calendar,
        reading,
        expected,
        accounts,
        found,
        verdict,
    })
}

fn text_of(file: &Path) -> String {
    std::fs::read_to_string(file).unwrap_or_default()
}

/// The design without the arrays of controllers that nothing in the log shows: neither their own side nor the
/// bank, which would show what all of them gave together. Told in a note either way.
fn as_far_as_logged(mut design: Design, reading: &mut Reading) -> Design {
    let missing = signals::unwatched(&design, &reading.timeline);
    if missing.is_empty() {
        return design;
    }
    let names: Vec<String> = missing
        .iter()
        .map(|k| match &design.controllers[*k].name {
            Some(name) => format!("\"{name}\""),
            None => format!("controller {}", k + 1),
        })
        .collect();
    let by_bank = reading.timeline.series(Role::BatteryPower).is_some();
    let then = if by_bank {
        "what all controllers gave is estimated from the bank's side"
    } else {
        design
            .arrays
            .retain(|array| !missing.contains(&array.controller));
        "their arrays are left out of offer and account"
    };
    reading.inspection.notes.push(format!(
        "no log shows the side of {}: {then}; if one shows all of them, leave `controller` out of its [[log]] entry",
        names.join(" and ")
    ));
    design
}

/// The nominal voltage from the log, where the design does not say: the usual one next below the
/// bank's median voltage while it is neither charged hard nor empty.
fn with_nominal(design: Design, timeline: &Timeline) -> Design {
    if design.system.nominal_v.is_some() {
        return design;
    }
    let Some(volts) = timeline
        .series(Role::BatteryVoltage)
        .or_else(|| timeline.series(Role::ChargeVoltage))
    else {
        return design.with_nominal(12.0);
    };
    let seen: Vec<f64> = (0..timeline.bins)
        .filter_map(|bin| volts.mean(bin))
        .collect();
    let typical = median(&seen).unwrap_or(12.8);
    let nominal = [12.0, 24.0, 36.0, 48.0]
        .into_iter()
        .min_by(|a: &f64, b| {
            (a * 1.07 - typical)
                .abs()
                .total_cmp(&(b * 1.07 - typical).abs())
        })
        .unwrap_or(12.0);
    design.with_nominal(nominal)
}

/// A day at the beginning or the end of a log with less than this of it is no day of the trip, s.
const SLIVER_S: f64 = 3600.0;
/// Fewest days of which the first and the last may be left out.
const ENOUGH_DAYS: i64 = 4;

/// The same dates without a first or a last one of which hardly anything was logged, as a clock that is off
/// or a last row at midnight leaves: nearly all of its sun would count as not measured. Dates that were asked
/// for stay.
fn without_slivers(
    request: &Request,
    calendar: &Calendar,
    reading: &Reading,
    (first, last): (NaiveDate, NaiveDate),
) -> (NaiveDate, NaiveDate) {
    let timeline = &reading.timeline;
    let is_sliver = |date: NaiveDate| {
        let (start, end) = calendar.bounds(date);
        let within = |bin: &usize| (start..end).contains(&timeline.time_of(*bin));
        let covered = |channel: &Channel| -> f64 {
            let bins = (0..timeline.bins).filter(within);
            bins.map(|bin| f64::from(channel.series.covered_s[bin]))
                .sum()
        };
        let most = timeline.channels.iter().map(covered).fold(0.0, f64::max);
        let totalled = reading.day_totals.iter().any(|total| total.date == date);
        most < SLIVER_S && !totalled
    };
    if (last - first).num_days() < ENOUGH_DAYS {
        return (first, last);
    }
    let from = match first.succ_opt() {
        Some(next) if request.from.is_none() && is_sliver(first) => next,
        _ => first,
    };
    let to = match last.pred_opt() {
        Some(before) if request.to.is_none() && is_sliver(last) => before,
        _ => last,
    };
    (from, to)
}

/// First and last local date with a reading, within the dates asked for; of logs of one row a day
/// where there is no other.
fn period(
    request: &Request,
    calendar: &Calendar,
    reading: &Reading,
) -> Result<(NaiveDate, NaiveDate), ReconcileError> {
    let timeline = &reading.timeline;
    let read = |bin: &usize| {
        timeline
            .channels
            .iter()
            .any(|c| c.series.covered_s[*bin] > 0.0 || c.series.min[*bin].is_finite())
    };
    let date_of = |bin: usize| calendar.date(timeline.time_of(bin));
    let first = (0..timeline.bins).find(read).map(date_of);
    let last = (0..timeline.bins).rev().find(read).map(date_of);
    let totalled = || reading.day_totals.iter().map(|t| t.date);
    let (Some(first), Some(last)) = (
        first.or_else(|| totalled().min()),
        last.or_else(|| totalled().max()),
    ) else {
        return Err(ReconcileError::Empty(match (request.from, request.to) {
            (None, None) => "the logs hold no reading within what a meter can show; `ampledger inspect` shows how each column was read".to_owned(),
            (from, to) => format!(
                "no reading {}{}; leave out --from and --to to see what dates the logs hold",
                from.map_or(String::new(), |d| format!("from {d} ")),
                to.map_or(String::new(), |d| format!("to {d}")),
            ),
        }));
    };
    Ok((
        request.from.map_or(first, |from| from.max(first)),
        request.to.map_or(last, |to| to.min(last)),
    ))
}
