//! Several controllers, each with its own side in the log or without one, and logs that show too little of
//! a controller to say what it was doing.

use ampledger::account::wire;
use ampledger::mapping::Role;
use ampledger::report::model::{DayState, Severity};
use ampledger::timeline::Channel;

use crate::light::{two_arrays, two_controllers};
use crate::plant::{Judged, Minute, More, Plant, taken};

/// Two sound arrays of which only the first controller was logged.
fn with_one_side<'a>(both: &'a Plant, roof: &Plant, garden: &Plant) -> Judged<'a> {
    let whole = two_controllers(both, roof, garden, 99);
    let mut timeline = whole.timeline;
    timeline
        .channels
        .retain(|c| c.controller.as_deref() != Some("B"));
    both.judge_timeline(timeline)
}

#[test]
fn a_controller_that_no_log_shows_is_no_dead_array() {
    let (both, roof, garden) = two_arrays();
    let judged = with_one_side(&both, &roof, &garden);
    assert_eq!(judged.expected.signals.unwatched, [1]);
    for kind in [
        "array-part-out",
        "array-dark",
        "array-weak",
        "harvest-short",
    ] {
        assert!(judged.found(kind).is_none(), "{kind}");
    }
    // The bank shows what both gave.
    let truly: f64 = (0..8 * 1440)
        .map(|m| [&roof, &garden].map(|p| p.clear_w(m / 1440, m % 1440)))
        .map(|[one, other]| (one + other) / 60.0)
        .sum();
    let harvested = &judged.accounts.account.harvest;
    let harvested = harvested.iter().find(|e| e.name == "harvested").unwrap();
    assert!(
        (harvested.low..=harvested.high).contains(&truly),
        "{harvested:?} for {truly}"
    );
}

/// Both controllers logged, with so much more between one of them and the bank, ohm.
fn with_a_run(name: &str, ohm: f64, check: impl FnOnce(Judged<'_>)) {
    let (both, roof, garden) = two_arrays();
    let whole = two_controllers(&both, &roof, &garden, 99);
    let mut timeline = whole.timeline;
    let of = |role: Role| {
        let mut channels = timeline.channels.iter();
        let found = channels.find(|c| c.role == role && c.controller.as_deref() == Some(name));
        found.unwrap().series.clone()
    };
    let (amps, mut volts) = (of(Role::ChargeCurrent), of(Role::ChargeVoltage));
    for bin in 0..volts.min.len() {
        let more = (ohm * f64::from(amps.max[bin])) as f32;
        volts.min[bin] += more;
        volts.max[bin] += more;
    }
    for channel in &mut timeline.channels {
        if channel.role == Role::ChargeVoltage && channel.controller.as_deref() == Some(name) {
            channel.series = volts.clone();
        }
    }
    check(both.judge_timeline(timeline));
}

#[test]
fn either_controllers_bad_joint_is_found_and_named() {
    for (place, name) in [(0, "A"), (1, "B")] {
        with_a_run(name, 0.05, |judged| {
            let runs: Vec<Option<f64>> = judged
                .accounts
                .runs
                .iter()
                .map(|run| Some(run.as_ref().ok()?.resistance_mohm.value))
                .collect();
            assert_eq!(runs.len(), 2);
            // The plant's own run has 6 to 9 mohm by either current.
            assert!((55.0..60.0).contains(&runs[place].unwrap()), "{runs:?}");
            let worst = judged.accounts.run.as_ref().unwrap();
            assert_eq!(worst.name.as_deref(), Some(name));
            let found = judged
                .found("drop-battery-cable")
                .expect("a hot joint is missed");
            assert!(found.severity <= Severity::Fix);
            assert!(
                found.summary.contains(&format!("\"{name}\"")),
                "{}",
                found.summary
            );
        });
    }
}

#[test]
fn the_worst_run_of_none_says_what_is_missing() {
    assert!(wire::worst(&[]).is_err());
}

/// A bank full from eleven on, its controller then giving nothing.
fn full_from_eleven(plant: &Plant, day: usize, minute: usize) -> Minute {
    let watts = if minute < 660 {
        plant.clear_w(day, minute)
    } else {
        0.0
    };
    let light = plant.clear_w(day, minute) > 0.0;
    Minute {
        more: More {
            array_v: Some(if light { 42.0 } else { 0.0 }),
            array_a: Some(watts / 36.0),
            ..More::default()
        },
        ..taken(day, watts)
    }
}

#[test]
fn without_a_voltage_a_full_bank_is_no_dead_array() {
    let plant = Plant::new("lfp", 6);
    for with_panels in [true, false] {
        let mut timeline = plant.timeline(|day, minute| full_from_eleven(&plant, day, minute));
        let stays = |c: &Channel| match c.role {
            Role::ChargePower => true,
            Role::ArrayVoltage => with_panels,
            _ => false,
        };
        timeline.channels.retain(stays);
        let judged = plant.judge_timeline(timeline);
        assert!(judged.found("array-dark").is_none());
        for day in &judged.accounts.days {
            let wanted = match with_panels {
                true => DayState::Full,
                false => DayState::Unclear,
            };
            assert_eq!(day.state, wanted, "{day:?}");
        }
    }
}
