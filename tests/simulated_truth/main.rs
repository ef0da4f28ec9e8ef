//! Whole-program runs on simulated trips with known truth, and the table of how well they did.
//!
//! The simulator shares nothing with what judges, except where the sun stands. Run with
//! `cargo test --test simulated_truth -- --nocapture` to see the table.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod accounts;
mod instruments;
#[allow(unreachable_pub)] // Shared by several test programs.
#[path = "../trips/mod.rs"]
mod trips;

use std::collections::BTreeMap;
use std::sync::OnceLock;

use ampledger::report::model::{Account, DayState, Entry, Severity};
use ampledger::sample;
use trips::{Job, Trip, can_be_judged, is_true, limiting, limiting_is_right, run_all};

/// Every case, the sound ones with two seeds, made once for all tests.
fn all() -> &'static [Trip] {
    static TRIPS: OnceLock<Vec<Trip>> = OnceLock::new();
    TRIPS.get_or_init(|| {
        let jobs: Vec<Job> = sample::cases()
            .iter()
            .flat_map(|case| {
                // Faulty cases have their own test at many seeds; here one tells.
                let seeds = if case.kinds.is_empty() { 2 } else { 1 };
                (1..=seeds).map(move |seed| Job {
                    case,
                    seed,
                    size: None,
                    place: None,
                })
            })
            .collect();
        run_all(&jobs)
    })
}

fn wh(entries: &[Entry], name: &str) -> f64 {
    entries.iter().find(|e| e.name == name).unwrap().wh
}

fn closes(account: &Account) -> (f64, f64) {
    let steps: f64 = account
        .harvest
        .iter()
        .filter(|e| e.name != "harvested")
        .map(|e| e.wh)
        .sum();
    let bank = |names: &[&str]| names.iter().map(|n| wh(&account.bank, n)).sum::<f64>();
    (
        steps - wh(&account.harvest, "harvested"),
        bank(&["harvested", "other_charge", "unexplained"])
            - bank(&["loads", "bank_cable", "bank_change", "bank_loss"]),
    )
}

fn kinds(trip: &Trip) -> Vec<&str> {
    trip.report
        .findings
        .iter()
        .map(|f| f.kind.as_str())
        .collect()
}

/// Largest difference between measured energies and the integral of the signals as logged, as a
/// share of throughput.
fn measured_error(trip: &Trip) -> f64 {
    trip.truth
        .signals
        .iter()
        .filter_map(|signal| {
            let rows: Vec<_> = trip
                .report
                .measured
                .iter()
                .filter(|m| m.date.is_none() && m.role == signal.role)
                .filter(|m| m.file.rsplit('/').next().unwrap().starts_with(&signal.log))
                .collect();
            // A current logged the wrong way round is turned when it is read.
            let turned = trip.case.kinds.contains(&"current-reversed") && signal.log == "bank";
            let (logged_in, logged_out) = if turned {
                (signal.logged_wh_out, signal.logged_wh_in)
            } else {
                (signal.logged_wh_in, signal.logged_wh_out)
            };
            let through = logged_in + logged_out;
            if rows.is_empty() || through < 1.0 {
                return None;
            }
            let got_in: f64 = rows.iter().filter_map(|m| m.wh_in).sum();
            let got_out: f64 = rows.iter().filter_map(|m| m.wh_out).sum();
            Some((got_in - logged_in).abs().max((got_out - logged_out).abs()) / through)
        })
        .fold(0.0, f64::max)
}

/// A finding to mend that the truth knows nothing of.
fn false_finding(trip: &Trip) -> Option<String> {
    trip.report
        .findings
        .iter()
        .filter(|f| f.severity <= Severity::Fix)
        .map(|f| f.kind.as_str())
        .find(|kind| !is_true(kind, trip))
        .map(str::to_owned)
}

struct Days {
    offered_errors: Vec<f64>,
    state_same: usize,
    states: usize,
    held_inside: usize,
    held: usize,
    /// Width of each held-back interval over the true value.
    held_width: Vec<f64>,
    unclear: usize,
}

fn days(trips: &[Trip]) -> Days {
    let mut sum = Days {
        offered_errors: Vec::new(),
        state_same: 0,
        states: 0,
        held_inside: 0,
        held: 0,
        held_width: Vec::new(),
        unclear: 0,
    };
    for trip in trips {
        let truth: BTreeMap<&str, _> = trip
            .truth
            .days
            .iter()
            .map(|d| (d.date.as_str(), d))
            .collect();
        for day in &trip.report.days {
            let Some(true_day) = truth.get(day.date.as_str()) else {
                continue;
            };
            sum.states += 1;
            sum.state_same += usize::from(day.state == true_day.state);
            sum.unclear += usize::from(day.state == DayState::Unclear);
            if let Some(offered) = day.offered_wh
                && true_day.held_back_wh < 0.1 * true_day.offered_wh
                && true_day.offered_wh > 100.0
            {
                sum.offered_errors
                    .push((offered / true_day.offered_wh - 1.0).abs());
            }
            if let Some(held) = day.intervals.get("held_back_wh")
                && true_day.held_back_wh > 100.0
            {
                sum.held += 1;
                sum.held_width
                    .push((held.high - held.low) / true_day.held_back_wh);
                sum.held_inside +=
                    usize::from((held.low..=held.high).contains(&true_day.held_back_wh));
            }
        }
    }
    sum
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn share(part: usize, whole: usize) -> f64 {
    100.0 * part as f64 / whole.max(1) as f64
}

#[test]
fn simulated_trips_are_read_accounted_and_judged_like_their_truth() {
    let trips = all();
    let mut wrong = Vec::new();
    let mut false_alarms = Vec::new();
    let (mut right, mut judged) = (0, 0);
    let mut worst_measured = 0.0f64;
    let mut harvest_inside = 0;
    for trip in trips {
        let harvested = trip
            .report
            .account
            .harvest
            .iter()
            .find(|e| e.name == "harvested")
            .unwrap();
        let true_wh = wh(&trip.truth.account.harvest, "harvested");
        harvest_inside += usize::from((harvested.low..=harvested.high).contains(&true_wh));
        let (harvest, bank) = closes(&trip.report.account);
        assert!(
            harvest.abs() <= 0.1 && bank.abs() <= 0.1,
            "{}: {harvest} {bank}",
            trip.case.name
        );
        worst_measured = worst_measured.max(measured_error(trip));
        if let Some(kind) = false_finding(trip) {
            false_alarms.push(format!("{} {}: {kind}", trip.case.name, trip.truth.seed));
        }
        if !can_be_judged(trip) {
            continue;
        }
        judged += 1;
        if limiting_is_right(trip) {
            right += 1;
        } else {
            wrong.push(format!(
                "{} {}: {} for {}",
                trip.case.name,
                trip.truth.seed,
                limiting(trip),
                trip.truth.limiting
            ));
        }
    }
    let d = days(trips);
    let offered = median(d.offered_errors.clone());
    println!(
        "trips                                            {}",
        trips.len()
    );
    println!("limiting right                                   {right} of {judged}  {wrong:?}");
    println!(
        "false findings of fix or stop                    {}  {false_alarms:?}",
        false_alarms.len()
    );
    println!(
        "measured against logged, worst                   {:.3} % of throughput",
        100.0 * worst_measured
    );
    println!(
        "true harvest inside the stated interval          {harvest_inside} of {}",
        trips.len()
    );
    println!(
        "days with the true state                         {:.0} % of {}",
        share(d.state_same, d.states),
        d.states
    );
    println!(
        "days called unclear                              {:.1} %",
        share(d.unclear, d.states)
    );
    println!(
        "offered on unheld days, median error             {:.1} % of {} days",
        100.0 * offered,
        d.offered_errors.len()
    );
    println!(
        "held back inside its interval                    {:.0} % of {} days",
        share(d.held_inside, d.held),
        d.held
    );
    println!(
        "width of that interval, median                   {:.0} % of the truth",
        100.0 * median(d.held_width.clone())
    );

    assert!(
        worst_measured < 0.005,
        "measured energies are off by {worst_measured}"
    );
    assert!(share(harvest_inside, trips.len()) >= 90.0);
    assert!(share(right, judged) >= 90.0, "wrong: {wrong:?}");
    assert!(
        share(false_alarms.len(), trips.len()) <= 5.0,
        "false: {false_alarms:?}"
    );
    assert!(offered < 0.10);
    assert!(share(d.state_same, d.states) >= 80.0);
}

#[test]
fn healthy_trips_get_no_finding_to_mend_and_no_short_day() {
    for trip in all().iter().filter(|t| t.case.name.starts_with("healthy")) {
        let name = format!("{} {}", trip.case.name, trip.truth.seed);
        let bad: Vec<_> = trip
            .report
            .findings
            .iter()
            .filter(|f| f.severity <= Severity::Fix)
            .map(|f| &f.summary)
            .collect();
        assert!(bad.is_empty(), "{name}: {bad:?}");
        assert!(
            trip.report.days.iter().all(|d| d.state != DayState::Short),
            "{name} has a short day"
        );
    }
}

#[test]
fn the_resistance_of_a_bad_joint_is_measured_within_its_interval_or_a_milliohm() {
    let joint = |t: &&Trip| t.case.kinds.contains(&"drop-battery-cable");
    for trip in all().iter().filter(joint) {
        let name = format!("{} {}", trip.case.name, trip.truth.seed);
        let finding = trip
            .report
            .findings
            .iter()
            .find(|f| f.kind == "drop-battery-cable")
            .unwrap_or_else(|| panic!("{name}: not found, only {:?}", kinds(trip)));
        let got = finding.evidence["resistance_mohm"]["value"]
            .as_f64()
            .unwrap();
        let fault = trip
            .truth
            .faults
            .iter()
            .find(|f| f.kind == "drop-battery-cable")
            .unwrap();
        let true_mohm = fault.figures["resistance_mohm"].as_f64().unwrap();
        assert!(
            (got - true_mohm).abs() <= (0.1 * true_mohm).max(1.0),
            "{name}: {got} for {true_mohm}"
        );
    }
}
