//! Several controllers, each with its own side in the log or without one, and logs that show too little of
//! a controller to say what it was doing.

use ampledger::account::wire;
use ampledger::mapping::Role;
use ampledger::report::model::{DayState, Entry, Severity};
use ampledger::timeline::Channel;

use crate::light::{two_arrays, two_controllers, two_sides};
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

/// What A and B give under a sky of some share of the clear one, W.
fn under(share: f64, [roof, garden]: [&Plant; 2], day: usize, minute: usize) -> (f64, f64) {
    let of = |plant: &Plant| share * plant.clear_w(day, minute);
    (of(roof), of(garden))
}

/// Clear every other day, and clouds that come and go between.
fn sky(day: usize, minute: usize) -> f64 {
    let cloud = day % 2 == 1 && (minute / 25) % 3 == day / 2 % 3;
    if cloud { 0.4 } else { 1.0 }
}

/// A minute of one side of a bank that both charge.
fn side(day: usize, both_w: f64, own_w: f64) -> Minute {
    let mut made = taken(day, both_w);
    made.charge_a = own_w / made.charge_v;
    made
}

/// Wh of the whole trip.
fn trip_wh(watts: impl Fn(usize, usize) -> f64) -> f64 {
    let minutes = (0..8).flat_map(|day| (0..1440).map(move |minute| (day, minute)));
    minutes.map(|(day, minute)| watts(day, minute) / 60.0).sum()
}

fn of_harvest<'j>(judged: &'j Judged<'_>, name: &str) -> &'j Entry {
    let mut steps = judged.accounts.account.harvest.iter();
    steps.find(|step| step.name == name).unwrap()
}

#[test]
fn a_limit_of_the_second_controller_is_found_and_named() {
    const LIMIT_A: f64 = 6.0;
    let (both, roof, garden) = two_arrays();
    let parts = |day, minute| under(sky(day, minute), [&roof, &garden], day, minute);
    // The current settles the voltage and the voltage the current: close enough at the limit.
    let cut = |day: usize, minute: usize| {
        let (a, b) = parts(day, minute);
        let volts = taken(day, a + b).charge_v;
        (a, b.min(LIMIT_A * volts), a + b)
    };
    let judged = both.judge_timeline(two_sides(
        &both,
        |day, minute| {
            let (a, b, _) = cut(day, minute);
            side(day, a + b, a)
        },
        |day, minute| {
            let (a, b, _) = cut(day, minute);
            let mut made = side(day, a + b, b);
            made.charge_a = made.charge_a.min(LIMIT_A);
            made
        },
    ));
    let lost = trip_wh(|day, minute| {
        let (a, b, all) = cut(day, minute);
        all - a - b
    });
    let told = of_harvest(&judged, "controller_limit");
    assert!(
        (-told.high..=-told.low).contains(&lost),
        "{lost} in {told:?}"
    );
    // The other controller shows the sky meanwhile.
    assert!((told.high - told.low) < 0.5 * lost, "{lost} in {told:?}");
    let found = judged.found("controller-limiting").expect("missed");
    assert_eq!(found.r#where, "the charge controller \"B\"");
    assert!((judged.expected.branches[1].limit_a - LIMIT_A).abs() < 0.1);
    assert!(judged.found("array-part-out").is_none() && judged.found("array-weak").is_none());
}

/// A holds its voltage from eleven on and gives a tenth, B goes on.
fn a_holds(minute: usize) -> bool {
    minute >= 660
}

#[test]
fn what_one_controller_holds_back_is_told_by_the_other() {
    let (both, roof, garden) = two_arrays();
    let parts = |day, minute| under(sky(day, minute), [&roof, &garden], day, minute);
    let gives = |day: usize, minute: usize| {
        let (a, b) = parts(day, minute);
        (if a_holds(minute) { 0.1 * a } else { a }, b)
    };
    let judged = both.judge_timeline(two_sides(
        &both,
        |day, minute| {
            let (a, b) = gives(day, minute);
            let mut made = side(day, a + b, a);
            if a_holds(minute) && a > 0.0 {
                made.charge_v = 14.2;
                made.charge_a = a / 14.2;
            }
            made
        },
        |day, minute| {
            let (a, b) = gives(day, minute);
            side(day, a + b, b)
        },
    ));
    let held = trip_wh(|day, minute| parts(day, minute).0 - gives(day, minute).0);
    let told = of_harvest(&judged, "held_back");
    assert!(
        (-told.high..=-told.low).contains(&held),
        "{held} in {told:?}"
    );
    assert!((told.high - told.low) < 0.3 * held, "{held} in {told:?}");
    let faults = [
        "array-dark",
        "array-part-out",
        "array-weak",
        "harvest-short",
    ];
    assert!(faults.iter().all(|kind| judged.found(kind).is_none()));
}

#[test]
fn a_controller_cut_off_from_the_bank_holds_nothing() {
    let (both, roof, garden) = two_arrays();
    // The fuse between B and the bank is gone: B stands at its own set point by day and gives nothing.
    let judged = both.judge_timeline(two_sides(
        &both,
        |day, minute| {
            let (a, _) = under(1.0, [&roof, &garden], day, minute);
            side(day, a, a)
        },
        |day, minute| {
            let (a, b) = under(1.0, [&roof, &garden], day, minute);
            let mut made = side(day, a, 0.0);
            if b > 0.0 {
                made.charge_v = 14.4;
            }
            made
        },
    ));
    let found = judged.found("array-part-out").expect("missed");
    assert!(found.summary.contains("controller B"), "{}", found.summary);
    let lost = trip_wh(|day, minute| under(1.0, [&roof, &garden], day, minute).1);
    let told = of_harvest(&judged, "array");
    assert!(
        (-told.high..=-told.low).contains(&lost),
        "{lost} in {told:?}"
    );
}
