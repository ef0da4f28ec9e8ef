//! The run from controller to bank that gets worse, or does not.

use ampledger::report::model::Severity;

use crate::plant::{Judged, Plant, following};

/// Clear days with the run's resistance of the day.
fn days(plant: &Plant, mohm: impl Fn(usize) -> f64) -> Judged<'_> {
    plant.judge(|day, minute| following(plant.clear_w(day, minute), mohm(day)))
}

#[test]
fn a_joint_that_works_loose_is_found_with_its_day() {
    let plant = Plant::new("lfp", 9);
    let judged = days(&plant, |day| if day < 5 { 6.0 } else { 20.0 });
    let rising = judged.found("drop-rising").unwrap();
    let number = |key: &str| rising.evidence[key].as_f64().unwrap();
    assert!((number("before_mohm") - 6.0).abs() < 0.3);
    assert!((number("after_mohm") - 20.0).abs() < 0.5);
    assert_eq!(rising.evidence["since"], "2026-06-15");
    assert_eq!(rising.days.first().map(String::as_str), Some("2026-06-15"));
    // The whole run is told as too high: its rise asks for no job of its own.
    assert_eq!(rising.severity, Severity::Fix);
    assert_eq!(rising.part_of.as_deref(), Some("drop-battery-cable"));
}

#[test]
fn a_run_that_stays_or_was_mended_is_fine() {
    let plant = Plant::new("lfp", 9);
    let steady = days(&plant, |_| 12.0);
    assert!(steady.found("drop-rising").is_none());
    assert!(steady.fine("drop-rising").unwrap().contains("12.0 mohm"));
    let mended = days(&plant, |day| if day < 5 { 30.0 } else { 6.0 });
    assert!(mended.found("drop-rising").is_none());
}

#[test]
fn a_rise_that_costs_next_to_nothing_is_no_finding() {
    let plant = Plant::new("lfp", 9);
    // 1.4 mohm more at 30 A are 40 mV.
    let slight = days(&plant, |day| if day < 5 { 2.0 } else { 3.4 });
    assert!(slight.found("drop-rising").is_none());
}

#[test]
fn three_days_are_too_few() {
    let plant = Plant::new("lfp", 3);
    let judged = days(&plant, |day| if day < 2 { 6.0 } else { 30.0 });
    assert!(judged.found("drop-rising").is_none());
    assert!(judged.unknown("drop-rising").is_some());
}

#[test]
fn one_odd_day_is_no_rise() {
    let plant = Plant::new("lfp", 9);
    let judged = days(&plant, |day| if day == 8 { 30.0 } else { 6.0 });
    assert!(judged.found("drop-rising").is_none());
}
