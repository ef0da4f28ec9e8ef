//! Shade that comes back, and what only looks like it.

use ampledger::account::Accounts;
use ampledger::expect::Expectation;
use ampledger::mapping::Role;
use ampledger::report::model::{DayState, Limiting, Severity};
use ampledger::verdict::verdict;

use crate::plant::{Judged, Minute, Plant, resting, taken};

/// Minutes of the day in which the mast of these tests throws its shadow, in summer at 48 N: the sun
/// between about 85 and 145 degrees, some 35 to 60 degrees high.
const MAST: std::ops::Range<usize> = 480..670;
/// What it leaves.
const LEFT: f64 = 0.3;

fn masted(plant: &Plant, day: usize, minute: usize) -> Minute {
    let left = if MAST.contains(&minute) { LEFT } else { 1.0 };
    taken(day, left * plant.clear_w(day, minute))
}

fn shade_step(judged: &Judged) -> f64 {
    let harvest = &judged.accounts.account.harvest;
    harvest.iter().find(|e| e.name == "shade").unwrap().wh
}

#[test]
fn a_mast_on_four_clear_days_is_shade_with_its_hours_bearings_and_loss() {
    let plant = Plant::new("lfp", 4);
    let judged = plant.judge(|day, minute| masted(&plant, day, minute));
    let shade = judged.found("shade-repeating").expect("shade is found");
    assert_eq!(shade.severity, Severity::Fix, "{}", shade.summary);
    assert_eq!(shade.days.len(), 4);
    assert_eq!(shade.evidence["from_time"], "08:00");
    assert_eq!(shade.evidence["to_time"], "11:10");
    let figure = |key: &str| shade.evidence[key].as_f64().unwrap();
    assert!((figure("depth") - 0.7).abs() < 0.02, "{:?}", shade.evidence);
    // The sun's own bearings at those instants, by its position.
    let bearing = |minute: usize| {
        let at = plant.calendar.start_of(plant.first) + minute as i64 * 60;
        ampledger::physics::sun::position(at as f64, 48.0, 0.0).azimuth_deg
    };
    assert!((figure("sun_from_deg") - bearing(MAST.start)).abs() < 1.5);
    assert!((figure("sun_to_deg") - bearing(MAST.end)).abs() < 1.5);
    let taken: f64 = (0..4)
        .flat_map(|day| MAST.map(move |minute| (day, minute)))
        .map(|(day, minute)| (1.0 - LEFT) * plant.clear_w(day, minute) / 60.0)
        .sum();
    assert!(
        (shade_step(&judged) + taken).abs() < 0.03 * taken,
        "{} for {taken}",
        shade_step(&judged)
    );
    let lost = shade.lost_wh_per_day.unwrap();
    assert!(
        lost.low <= taken / 4.0 && taken / 4.0 <= lost.high,
        "{lost:?}"
    );
}

#[test]
fn shade_is_the_cause_and_the_short_days_its_consequence() {
    let plant = Plant::new("lfp", 4);
    let judged = plant.judge(|day, minute| masted(&plant, day, minute));
    let found = judged.look();
    let short = found.findings.iter().find(|f| f.kind == "harvest-short");
    let short = short.expect("days of shade are short days");
    assert_eq!(short.part_of.as_deref(), Some("shade-repeating"));
    let told = verdict(&judged.evidence(), &found);
    assert_eq!(told.limiting, Limiting::Array);
    assert!(
        told.text.contains("shades the panels from 08:00 to 11:10"),
        "{}",
        told.text
    );
}

#[test]
fn shade_sets_neither_the_arrays_scale_nor_the_sky() {
    let plant = Plant::new("lfp", 5);
    // In the shade from dawn till early afternoon: most of the clear hours.
    let judged = plant.judge(|day, minute| {
        let left = if (300..720).contains(&minute) {
            0.35
        } else {
            1.0
        };
        taken(day, left * plant.clear_w(day, minute))
    });
    let reference = judged.expected.clear.reference;
    assert!((reference.value - 1.0).abs() < 0.03, "{reference:?}");
    assert!(judged.found("array-weak").is_none());
    assert!(judged.found("array-part-out").is_none());
    assert!(judged.found("shade-repeating").is_some());
}

#[test]
fn every_day_and_the_account_close_with_shade_in_them() {
    let plant = Plant::new("agm", 6);
    let judged = plant.judge(|day, minute| {
        let sky = if day % 3 == 2 {
            0.5 + 0.1 * ((minute / 9) % 4) as f64
        } else {
            1.0
        };
        let m = masted(&plant, day, minute);
        // The bank is full from two o'clock.
        if minute > 840 && m.charge_a > 6.0 {
            Minute {
                charge_v: 14.2,
                charge_a: 5.0,
                bank_v: 14.19,
                bank_a: 2.0,
                ..Minute::default()
            }
        } else {
            taken(day, sky * m.charge_a * (m.bank_v + 0.2))
        }
    });
    assert!(shade_step(&judged) < -100.0);
    for day in &judged.accounts.days {
        let rest = day.offered_wh.unwrap()
            - day.lost_wh.unwrap()
            - day.held_back_wh.unwrap()
            - day.unmeasured_wh.unwrap()
            + day.unexplained_wh.unwrap();
        assert!((day.harvest_wh.unwrap() - rest).abs() < 0.01, "{day:?}");
    }
    let (steps, last) = judged.accounts.account.harvest.split_at(12);
    let sum: f64 = steps.iter().map(|e| e.wh).sum();
    assert_eq!(last[0].name, "harvested");
    assert!((sum - last[0].wh).abs() < 0.1);
    assert!(steps.iter().all(|e| e.low <= e.wh && e.wh <= e.high));
}

#[test]
fn a_dip_on_one_day_is_no_shade() {
    let plant = Plant::new("lfp", 4);
    let judged = plant.judge(|day, minute| match day {
        1 => masted(&plant, day, minute),
        _ => taken(day, plant.clear_w(day, minute)),
    });
    assert!(judged.found("shade-repeating").is_none());
    assert_eq!(shade_step(&judged), 0.0);
}

#[test]
fn two_days_against_six_bright_ones_are_no_shade() {
    let plant = Plant::new("lfp", 8);
    let judged = plant.judge(|day, minute| match day {
        2 | 5 => masted(&plant, day, minute),
        _ => taken(day, plant.clear_w(day, minute)),
    });
    assert!(judged.found("shade-repeating").is_none());
}

#[test]
fn clouds_at_another_hour_each_day_are_no_shade() {
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| {
        let from = 450 + 70 * day;
        let left = if (from..from + 90).contains(&minute) {
            LEFT
        } else {
            1.0
        };
        taken(day, left * plant.clear_w(day, minute))
    });
    assert!(judged.found("shade-repeating").is_none());
}

#[test]
fn a_bank_full_every_afternoon_is_no_shade() {
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        match minute {
            // Absorption, then float far below what the sun would give; the loads follow through.
            780..840 => Minute {
                charge_v: 14.2,
                charge_a: 9.0,
                bank_v: 14.19,
                bank_a: 6.0,
                ..Minute::default()
            },
            840..860 => Minute {
                charge_v: 14.2 - 0.035 * (minute - 840) as f64,
                bank_v: 14.2 - 0.035 * (minute - 840) as f64,
                bank_a: -3.0,
                ..Minute::default()
            },
            860..1140 if clear > 40.0 => Minute {
                charge_v: 13.5,
                charge_a: 3.2,
                bank_v: 13.49,
                bank_a: 0.2,
                ..Minute::default()
            },
            _ => taken(day, clear),
        }
    });
    assert!(judged.found("shade-repeating").is_none());
    assert!(
        judged
            .accounts
            .days
            .iter()
            .all(|d| d.state == DayState::Full),
        "{:?}",
        judged.accounts.days
    );
}

#[test]
fn an_awning_shades_at_the_stop_where_it_is_out() {
    let mut plant = Plant::new("lfp", 8);
    let moved = plant.calendar.start_of(plant.first) + 4 * 86_400;
    let next = plant.design.place.base.clone();
    plant.design.place.legs.push((moved, next));
    let judged = plant.judge(|day, minute| match day {
        0..4 => masted(&plant, day, minute),
        _ => taken(day, plant.clear_w(day, minute)),
    });
    let shade = judged
        .found("shade-repeating")
        .expect("the awning is found");
    assert_eq!(shade.days.len(), 4);
    let later = &judged.accounts.days[4..];
    assert!(later.iter().all(|d| d.lost_wh.unwrap() < 1.0), "{later:?}");
}

#[test]
fn a_clock_an_hour_off_is_no_shade() {
    let plant = Plant::new("lfp", 6);
    for shift in [-60, 60] {
        let judged = plant.judge(|day, minute| {
            let at = (minute as i64 + shift).clamp(0, 1439) as usize;
            taken(day, plant.clear_w(day, at))
        });
        assert!(judged.found("shade-repeating").is_none(), "{shift} minutes");
    }
}

#[test]
fn a_tree_in_the_west_needs_three_evenings() {
    for (days, found) in [(2, false), (4, true)] {
        let plant = Plant::new("lfp", days);
        let judged = plant.judge(|day, minute| {
            let left = if minute >= 960 { 0.25 } else { 1.0 };
            taken(day, left * plant.clear_w(day, minute))
        });
        let shade = judged.found("shade-repeating");
        assert_eq!(shade.is_some(), found, "{days} days");
    }
}

#[test]
fn under_a_restless_grey_sky_there_is_no_shade() {
    let plant = Plant::new("lfp", 8);
    let judged = plant.judge(|day, minute| {
        let sky = 0.2 + 0.13 * (((minute + 31 * day) / 11) % 5) as f64;
        taken(day, sky * plant.clear_w(day, minute))
    });
    assert!(judged.found("shade-repeating").is_none());
    assert!(
        judged
            .look()
            .unknown
            .iter()
            .any(|u| u.kind == "shade-repeating")
    );
}

#[test]
fn south_of_the_equator_the_bearings_run_clockwise_through_north() {
    let mut plant = Plant::new("lfp", 4);
    plant.design.place.base.latitude_deg = -33.0;
    let judged = plant.judge(|day, minute| {
        let left = if (650..760).contains(&minute) {
            LEFT
        } else {
            1.0
        };
        taken(day, left * plant.clear_w(day, minute))
    });
    let shade = judged.found("shade-repeating").expect("shade is found");
    let from = shade.evidence["sun_from_deg"].as_f64().unwrap();
    let to = shade.evidence["sun_to_deg"].as_f64().unwrap();
    // Noon lies inside: from west of north to east of it.
    assert!(from > 300.0 && to < 60.0, "{from} to {to}");
}

#[test]
fn the_banks_side_alone_tells_no_shade() {
    let plant = Plant::new("lfp", 4);
    let mut timeline = plant.timeline(|day, minute| masted(&plant, day, minute));
    let charger = [Role::ChargeVoltage, Role::ChargeCurrent, Role::ChargePower];
    timeline.channels.retain(|c| !charger.contains(&c.role));
    let last = plant.first + chrono::Duration::days(3);
    let expected = Expectation::new(&plant.design, &plant.calendar, &timeline, plant.first, last);
    let accounts = Accounts::new(&plant.design, &plant.calendar, &timeline, &expected);
    let judged = Judged {
        plant: &plant,
        timeline,
        expected,
        accounts,
    };
    let found = judged.look();
    let array = [
        "shade-repeating",
        "array-weak",
        "array-part-out",
        "array-dark",
    ];
    assert!(
        found
            .findings
            .iter()
            .all(|f| !array.contains(&f.kind.as_str()))
    );
    assert!(found.unknown.iter().any(|u| u.kind == "shade-repeating"));
    assert!(found.unknown.iter().any(|u| u.kind == "array-dark"));
}

#[test]
fn nights_and_a_column_that_never_moves_are_no_shade() {
    let plant = Plant::new("lfp", 4);
    let judged = plant.judge(|_, _| Minute {
        charge_a: 5.0,
        ..resting()
    });
    assert!(judged.found("shade-repeating").is_none());
    assert!(judged.found("array-dark").is_none());
}
