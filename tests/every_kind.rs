//! Every kind of finding against simulated trips that have it at twice the smallest size a log can
//! show, and against trips that don't: the table of found, missed and false.
//!
//! `cargo test --test every_kind -- --nocapture` prints the table of a few seeds,
//! `cargo test --release --test every_kind -- --ignored --nocapture` that of many.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

#[allow(unreachable_pub)] // Shared by several test programs.
mod trips;

use std::collections::BTreeMap;

use ampledger::report::model::{Finding, Severity};
use ampledger::sample;
use ampledger::smallest::SMALLEST;
use serde_json::Value;
use trips::{Job, Trip, can_be_judged, is_true, limiting, limiting_is_right, looked_for, run_all};

/// Multiple of the smallest size at which faults are to be found.
const SIZE: f64 = 2.0;

/// How one kind did.
#[derive(Default)]
struct Row {
    found: usize,
    /// Said not to be tellable from that log.
    untold: usize,
    missed: Vec<String>,
    /// On trips that don't have it.
    false_on: Vec<String>,
}

/// Is sound: nothing is wrong with it.
fn sound(trip: &Trip) -> bool {
    trip.case.kinds.is_empty() && trip.truth.faults.is_empty()
}

fn name(trip: &Trip) -> String {
    format!("{} {}", trip.case.name, trip.truth.seed)
}

/// Reads every trip into the table.
fn table(trips: &[Trip]) -> BTreeMap<&'static str, Row> {
    let mut rows: BTreeMap<&'static str, Row> =
        SMALLEST.iter().map(|s| (s.kind, Row::default())).collect();
    for trip in trips {
        let has = |kind: &str| trip.report.findings.iter().any(|f| f.kind == kind);
        for kind in trip.case.kinds {
            let row = rows.get_mut(kind).unwrap();
            if has(kind) {
                row.found += 1;
            } else if trip.report.unknown.iter().any(|u| u.kind == *kind) {
                row.untold += 1;
                row.missed.push(format!("{} (cannot tell)", name(trip)));
            } else {
                row.missed.push(name(trip));
            }
        }
        for finding in &trip.report.findings {
            if !is_true(&finding.kind, trip)
                && let Some(row) = rows.get_mut(finding.kind.as_str())
            {
                row.false_on.push(name(trip));
            }
        }
    }
    rows
}

fn print(rows: &BTreeMap<&'static str, Row>) {
    println!(
        "{:26}{:>6}{:>8}{:>8}  where missed; where false",
        "kind", "found", "missed", "false"
    );
    for (kind, row) in rows {
        let note = if looked_for(kind) {
            format!("{:?}; {:?}", row.missed, row.false_on)
        } else {
            "not looked for".to_owned()
        };
        println!(
            "{kind:26}{:>6}{:>8}{:>8}  {note}",
            row.found,
            row.missed.len(),
            row.false_on.len()
        );
    }
}

/// How near the figures of findings came.
#[derive(Default)]
struct Nearness {
    right: usize,
    of: usize,
    off: Vec<String>,
}

impl Nearness {
    fn add(&mut self, right: bool, trip: &Trip, got: f64, truly: f64) {
        self.of += 1;
        if right {
            self.right += 1;
        } else {
            self.off
                .push(format!("{}: {got:.2} for {truly:.2}", name(trip)));
        }
    }
}

fn value(of: &Value) -> Option<f64> {
    of.as_f64().or_else(|| of.get("value")?.as_f64())
}

/// A finding of the kind with a figure of its evidence and the true one.
fn pair<'a>(trip: &'a Trip, kind: &str, key: &str) -> Option<(&'a Finding, f64, f64)> {
    let finding = trip.report.findings.iter().find(|f| f.kind == kind)?;
    let fault = trip.truth.faults.iter().find(|f| f.kind == kind)?;
    Some((
        finding,
        value(finding.evidence.get(key)?)?,
        fault.figures.get(key)?.as_f64()?,
    ))
}

fn within(got: f64, truly: f64, share: f64, least: f64) -> bool {
    (got - truly).abs() <= (share * truly.abs()).max(least)
}

/// The figures that are to be near the truth.
fn nearness(trips: &[Trip]) -> [(&'static str, Nearness); 5] {
    let mut lines = [
        "wiring resistance within 1 mohm or 10 %",
        "lithium capacity within 10 %",
        "lead capacity inside its interval",
        "standby within 10 %",
        "clock shift within 5 min",
    ]
    .map(|line| (line, Nearness::default()));
    for trip in trips {
        if let Some((_, got, truly)) = pair(trip, "drop-battery-cable", "resistance_mohm") {
            let right = within(got, truly, 0.1, 1.0);
            lines[0].1.add(right, trip, got, truly);
        }
        if let Some((finding, got, truly)) = pair(trip, "capacity-low", "capacity_ah") {
            let lithium = matches!(trip.report.system.chemistry.as_str(), "lfp" | "nmc");
            let of = &finding.evidence["capacity_ah"];
            let inside = of["low"].as_f64().is_none_or(|low| low <= truly)
                && of["high"].as_f64().is_none_or(|high| truly <= high);
            let (line, right) = if lithium {
                (1, within(got, truly, 0.1, 0.0))
            } else {
                (2, inside)
            };
            lines[line].1.add(right, trip, got, truly);
        }
        if let Some((_, got, truly)) = pair(trip, "standby-high", "standby_a") {
            let right = within(got, truly, 0.1, 0.0);
            lines[3].1.add(right, trip, got, truly);
        }
        if let Some((_, got, truly)) = pair(trip, "clock-off", "shift_min") {
            let right = within(got, truly, 0.0, 5.0);
            lines[4].1.add(right, trip, got, truly);
        }
    }
    lines
}

fn share(part: usize, whole: usize) -> f64 {
    part as f64 / whole.max(1) as f64
}

/// Runs every faulty case with `seeds` at twice the smallest size and every sound one with
/// `sound_seeds`, prints what came of it, and asserts.
fn judge(seeds: u64, sound_seeds: u64) {
    let jobs: Vec<Job> = sample::cases()
        .iter()
        .flat_map(|case| {
            let healthy = case.name.starts_with("healthy");
            let (count, size) = if healthy {
                (sound_seeds, None)
            } else {
                (seeds, Some(SIZE))
            };
            (1..=count).map(move |seed| Job {
                case,
                seed,
                size,
                place: None,
            })
        })
        .collect();
    let trips = run_all(&jobs);
    let rows = table(&trips);
    print(&rows);

    let looked: Vec<&Row> = rows
        .iter()
        .filter(|(kind, _)| looked_for(kind))
        .map(|(_, row)| row)
        .collect();
    let found: usize = looked.iter().map(|r| r.found).sum();
    let missed: usize = looked.iter().map(|r| r.missed.len()).sum();
    let untold: usize = looked.iter().map(|r| r.untold).sum();
    println!(
        "found {found} of {}, {untold} of them said not to be tellable",
        found + missed
    );

    let healthy: Vec<&Trip> = trips.iter().filter(|t| sound(t)).collect();
    let alarms: Vec<String> = healthy
        .iter()
        .filter_map(|trip| {
            let bad: Vec<&str> = trip
                .report
                .findings
                .iter()
                .filter(|f| f.severity <= Severity::Fix || !is_true(&f.kind, trip))
                .map(|f| f.kind.as_str())
                .collect();
            (!bad.is_empty()).then(|| format!("{}: {bad:?}", name(trip)))
        })
        .collect();
    println!(
        "healthy trips with a false finding {} of {}  {alarms:?}",
        alarms.len(),
        healthy.len()
    );

    let judged: Vec<&Trip> = trips.iter().filter(|t| can_be_judged(t)).collect();
    let wrong: Vec<String> = judged
        .iter()
        .filter(|t| !limiting_is_right(t))
        .map(|t| format!("{}: {} for {}", name(t), limiting(t), t.truth.limiting))
        .collect();
    let literal = judged.iter().filter(|t| limiting(t) == t.truth.limiting);
    println!(
        "limiting right {} of {}, {} of them to the letter  {wrong:?}",
        judged.len() - wrong.len(),
        judged.len(),
        literal.count()
    );
    let near = nearness(&trips);
    for (line, n) in &near {
        println!("{line:42}{:>4} of {:<4} {:?}", n.right, n.of, n.off);
    }

    assert!(share(found, found + missed) >= 0.95);
    assert!(share(alarms.len(), healthy.len()) <= 0.05, "{alarms:?}");
    assert!(share(wrong.len(), judged.len()) <= 0.05, "{wrong:?}");
    for (line, n) in &near {
        assert!(share(n.off.len(), n.of) <= 0.10, "{line}: {:?}", n.off);
    }
}

#[test]
fn every_kind_has_a_case_and_every_column_a_role() {
    for s in SMALLEST {
        let shown = sample::cases().iter().any(|c| c.kinds.contains(&s.kind));
        assert!(shown, "no case shows {}", s.kind);
        for column in s.columns {
            let role = ampledger::mapping::Role::from_name(column);
            assert!(role.is_some(), "{}: {column}", s.kind);
        }
    }
    let healthy = sample::cases()
        .iter()
        .filter(|c| c.name.starts_with("healthy"));
    assert!(healthy.count() >= 14);
}

#[test]
fn what_is_twice_the_smallest_is_found_and_healthy_trips_stay_healthy() {
    judge(2, 2);
}

#[test]
#[ignore = "takes minutes: the same with many seeds, run by hand"]
fn the_same_with_many_seeds() {
    judge(10, 12);
}
