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

/// Two sides that follow the sun, but for what `part` leaves of B's, from a day and a minute.
fn with_part<'a>(
    both: &'a Plant,
    [roof, garden]: [&Plant; 2],
    part: impl Fn(usize, usize) -> f64 + Copy,
) -> Judged<'a> {
    let gives = move |day: usize, minute: usize| {
        let (a, b) = under(sky(day, minute), [roof, garden], day, minute);
        (a, part(day, minute) * b)
    };
    both.judge_timeline(two_sides(
        both,
        |day, minute| {
            let (a, b) = gives(day, minute);
            side(day, a + b, a)
        },
        |day, minute| {
            let (a, b) = gives(day, minute);
            side(day, a + b, b)
        },
    ))
}

#[test]
fn shade_on_one_of_two_arrays_is_found_and_named_though_the_sum_hardly_shows_it() {
    let (both, roof, garden) = two_arrays();
    // The garden's array is a third of all, and looks west: a tree shades it for two hours after noon.
    let tree = |_: usize, minute: usize| match minute {
        800..920 => 0.3,
        _ => 1.0,
    };
    let judged = with_part(&both, [&roof, &garden], tree);
    let found = judged.found("shade-repeating").expect("missed");
    assert!(
        found.r#where.ends_with("the panels on \"B\""),
        "{}",
        found.r#where
    );
    let lost = trip_wh(|day, minute| {
        let (_, b) = under(sky(day, minute), [&roof, &garden], day, minute);
        (1.0 - tree(day, minute)) * b
    });
    let told = of_harvest(&judged, "shade");
    assert!(
        (-told.high..=-told.low).contains(&lost),
        "{lost} in {told:?}"
    );
    assert!((told.wh + lost).abs() < 0.1 * lost, "{lost} in {told:?}");
}

#[test]
fn what_falls_off_for_the_rest_of_the_day_is_no_shade() {
    let (both, roof, garden) = two_arrays();
    // B floats at a voltage that nothing tells from a bank that is charged, from one o'clock to the evening.
    let judged = with_part(&both, [&roof, &garden], |_, minute| match minute {
        780.. => 0.3,
        _ => 1.0,
    });
    assert!(judged.found("shade-repeating").is_none());
}

#[test]
fn a_gap_in_one_controllers_log_is_a_gap_whichever_it_is() {
    let (both, roof, garden) = two_arrays();
    let whole = || two_controllers(&both, &roof, &garden, 99).timeline;
    let in_gap = |m: usize| (3 * 1440 + 600..3 * 1440 + 900).contains(&m);
    let offered: f64 = (0..1440)
        .filter(|m| in_gap(3 * 1440 + m))
        .map(|m| {
            [&roof, &garden]
                .map(|p| p.clear_w(3, m) / 60.0)
                .iter()
                .sum::<f64>()
        })
        .sum();
    for name in ["A", "B"] {
        let mut timeline = whole();
        let own = |c: &&mut Channel| c.controller.as_deref() == Some(name);
        for channel in timeline.channels.iter_mut().filter(own) {
            for bin in (0..channel.series.in_h.len()).filter(|bin| in_gap(*bin)) {
                (channel.series.in_h[bin], channel.series.out_h[bin]) = (0.0, 0.0);
                channel.series.covered_s[bin] = 0.0;
                channel.series.min[bin] = f32::INFINITY;
                channel.series.max[bin] = f32::NEG_INFINITY;
            }
        }
        let judged = both.judge_timeline(timeline);
        let day = &judged.accounts.days[3];
        let unmeasured = day.unmeasured_wh.unwrap();
        assert!(
            (unmeasured - offered).abs() < 0.1 * offered,
            "{name}: {unmeasured} of {offered}"
        );
        assert!(judged.found("array-part-out").is_none());
    }
}

#[test]
fn a_full_charge_is_judged_by_the_controller_that_is_set_lowest() {
    let (mut both, roof, garden) = two_arrays();
    both.design.controllers[0].absorption_v = 14.6;
    both.design.controllers[1].absorption_v = 14.2;
    both.design
        .assumed
        .retain(|a| a.key != "controller.absorption");
    let full = |minute: usize| (780..900).contains(&minute);
    let made = |day: usize, minute: usize, part: f64| {
        let (a, b) = under(1.0, [&roof, &garden], day, minute);
        let mut made = side(day, a + b, part * (a + b));
        if full(minute) {
            (made.charge_v, made.bank_v, made.bank_a) = (14.2, 14.18, 2.0);
            made.charge_a = part * 5.0;
        }
        made
    };
    let judged = both.judge_timeline(two_sides(
        &both,
        |day, minute| made(day, minute, 0.6),
        |day, minute| made(day, minute, 0.4),
    ));
    assert!((judged.expected.absorption_v - 14.2).abs() < 1e-9);
    assert!(judged.accounts.charge.full_days.iter().all(|full| *full));
    assert!(judged.found("never-full").is_none());
}

#[test]
fn the_controller_that_alone_charges_too_high_is_named() {
    let (both, roof, garden) = two_arrays();
    let high = |minute: usize| (720..840).contains(&minute);
    let judged = both.judge_timeline(two_sides(
        &both,
        |day, minute| {
            let (a, b) = under(1.0, [&roof, &garden], day, minute);
            let mut made = side(day, a + b, if high(minute) { 0.0 } else { a });
            if high(minute) {
                (made.charge_v, made.bank_v, made.bank_a) = (15.2, 15.18, 6.0);
            }
            made
        },
        |day, minute| {
            let (a, b) = under(1.0, [&roof, &garden], day, minute);
            let mut made = side(day, a + b, b);
            if high(minute) {
                (made.charge_v, made.bank_v, made.bank_a) = (15.2, 15.18, 6.0);
                made.charge_a = 9.0;
            }
            made
        },
    ));
    let found = judged
        .found("charge-voltage-high")
        .expect("a danger missed");
    assert_eq!(found.severity, Severity::Stop);
    assert_eq!(found.r#where, "the charging voltage of \"B\"");
    assert!(found.summary.contains("by \"B\""), "{}", found.summary);
}

#[test]
fn dirt_on_one_of_two_arrays_is_told_by_the_other_whatever_the_haze() {
    let (both, roof, garden) = two_arrays();
    let dirty = |left: f64| with_part(&both, [&roof, &garden], move |_, _| left);
    let judged = dirty(0.55);
    let found = judged.found("array-weak").expect("missed");
    assert_eq!(found.r#where, "the panels on \"B\"");
    let scale = &found.evidence["scale"];
    let at = |key: &str| scale[key].as_f64().unwrap();
    assert!(at("low") <= 0.55 && 0.55 <= at("high"), "{scale}");
    // Of what is missing, what no healthy array lacks is lost: from 80 of the 90 % that the design allows it.
    let own = trip_wh(|day, minute| under(sky(day, minute), [&roof, &garden], day, minute).1);
    let lost = own * (0.8 / 0.9 - 0.55);
    let told = of_harvest(&judged, "array");
    assert!(
        (-told.high..=-told.low).contains(&lost),
        "{lost} in {told:?}"
    );
    // What healthy arrays differ by is no dirt.
    let fair = dirty(0.82);
    assert!(fair.found("array-weak").is_none() && fair.accounts.reductions.is_empty());
}

#[test]
fn a_clock_put_right_names_the_other_controllers_log_too() {
    let (both, roof, garden) = two_arrays();
    let late =
        |day: usize, minute: usize| under(1.0, [&roof, &garden], day, (minute + 1440 - 75) % 1440);
    let mut timeline = two_sides(
        &both,
        |day, minute| {
            let (a, b) = late(day, minute);
            side(day, a + b, a)
        },
        |day, minute| {
            let (a, b) = late(day, minute);
            side(day, a + b, b)
        },
    );
    for channel in &mut timeline.channels {
        if let Some(name) = &channel.controller {
            channel.source = format!("log of {name}");
        }
    }
    let judged = both.judge_timeline(timeline);
    let then = judged.found("clock-off").expect("missed").next_check.then;
    let named = ["A", "B"].map(|name| then.contains(&format!("\"log of {name}\"")));
    assert_eq!(named, [true, true], "{then}");
}
