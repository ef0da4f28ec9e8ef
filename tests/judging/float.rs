//! Voltages that a controller holds, told from voltages that stand still by themselves, where no stage is
//! logged; and what the bank's log alone can tell of them.

use ampledger::expect::Regime;
use ampledger::mapping::Role;
use ampledger::report::model::{DayState, Entry};

use crate::plant::{Judged, Minute, More, Plant, following};

/// At absorption from 10:30 on for an hour, and at float from 11:50 until 18:00, UTC.
const ABSORBING: std::ops::Range<usize> = 630..690;
const SINKING: std::ops::Range<usize> = 690..710;
const FLOATING: std::ops::Range<usize> = 710..1080;

/// A day that fills the bank: it follows the sun, absorbs, sinks, and floats at a voltage while a fridge
/// comes and goes.
fn filled(plant: &Plant, day: usize, minute: usize, float_v: f64) -> Minute {
    let fridge = if (minute / 20).is_multiple_of(2) {
        1.0
    } else {
        6.0
    };
    let held = |bank_v: f64, bank_a: f64, load_a: f64| Minute {
        charge_v: bank_v + 0.006 * (bank_a + load_a),
        charge_a: bank_a + load_a,
        bank_v,
        bank_a,
        more: More::default(),
    };
    if ABSORBING.contains(&minute) {
        held(14.19, 3.0, 3.0)
    } else if SINKING.contains(&minute) {
        let down = (minute - SINKING.start) as f64 / SINKING.len() as f64;
        held(14.1 - down * (14.1 - float_v), -2.5, 3.0)
    } else if FLOATING.contains(&minute) {
        held(float_v, 0.2, fridge)
    } else {
        following(plant.clear_w(day, minute), 6.0)
    }
}

/// What a clear sky offered while the bank was full, beyond what was taken, Wh.
fn held_back_wh(plant: &Plant, day: usize, make: impl Fn(usize) -> Minute) -> f64 {
    (ABSORBING.start..FLOATING.end)
        .map(|minute| {
            let taken = make(minute);
            (plant.clear_w(day, minute) - taken.charge_v * taken.charge_a).max(0.0) / 60.0
        })
        .sum()
}

/// The regimes of a stretch of minutes of every day, each once.
fn regimes(judged: &Judged, minutes: std::ops::Range<usize>) -> Vec<Regime> {
    let grid = &judged.expected.grid;
    let mut seen: Vec<Regime> = Vec::new();
    for day in 0..grid.dates.len() {
        let start = grid.day(day).start;
        // The moments wholly inside.
        for moment in start + minutes.start.div_ceil(5)..start + minutes.end / 5 {
            let regime = judged.expected.regimes[moment];
            if !seen.contains(&regime) {
                seen.push(regime);
            }
        }
    }
    seen
}

fn entry<'a>(judged: &'a Judged, name: &str) -> &'a Entry {
    let harvest = &judged.accounts.account.harvest;
    harvest.iter().find(|e| e.name == name).unwrap()
}

#[test]
fn lead_that_floats_lower_than_designed_is_held_there_and_no_dull_sky() {
    // A quarter of a volt below the design's float.
    let plant = Plant::new("agm", 6);
    let judged = plant.judge(|day, minute| filled(&plant, day, minute, 13.26));
    assert_eq!(regimes(&judged, FLOATING), [Regime::Held]);
    for (i, day) in judged.accounts.days.iter().enumerate() {
        assert_eq!(day.state, DayState::Full, "{}", day.why);
        let truly = held_back_wh(&plant, i, |minute| filled(&plant, i, minute, 13.26));
        let said = day.intervals["held_back_wh"];
        assert!(
            said.low <= truly && truly <= said.high,
            "{said:?} of {truly}"
        );
    }
}

#[test]
fn the_way_down_from_absorption_measures_no_sky() {
    for chemistry in ["agm", "lfp"] {
        let plant = Plant::new(chemistry, 4);
        let judged = plant.judge(|day, minute| filled(&plant, day, minute, 13.5));
        assert_eq!(regimes(&judged, SINKING), [Regime::Held], "{chemistry}");
    }
}

#[test]
fn a_cloud_during_absorption_measures_the_sky() {
    let plant = Plant::new("agm", 4);
    // Meanwhile the bank takes what the cloud leaves.
    let clouded = |minutes: std::ops::Range<usize>| {
        plant.judge(|day, minute| {
            if minutes.contains(&minute) {
                Minute {
                    charge_v: 13.86,
                    charge_a: 12.0,
                    bank_v: 13.8,
                    bank_a: 9.0,
                    more: More::default(),
                }
            } else {
                filled(&plant, day, minute, 13.5)
            }
        })
    };
    let short = clouded(650..665);
    assert_eq!(short.expected.regimes[12 * 11], Regime::Held);
    assert_eq!(regimes(&short, 660..665), [Regime::Held], "a short break");
    assert_eq!(regimes(&clouded(640..680), 645..675), [Regime::Following]);
}

#[test]
fn a_lithium_bank_that_stands_still_while_it_charges_is_not_held() {
    // Half full all day: no current moves its voltage by more than hundredths, near the float set point.
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| {
        let clouds = 0.6 + 0.1 * ((minute / 15 + day) % 4) as f64;
        let watts = clouds * plant.clear_w(day, minute);
        let charge_a = watts / 13.4;
        Minute {
            charge_v: 13.41 + 0.0004 * charge_a,
            charge_a,
            bank_v: 13.32,
            bank_a: charge_a - 3.0,
            more: More::default(),
        }
    });
    assert_eq!(regimes(&judged, 540..900), [Regime::Following]);
}

#[test]
fn after_absorption_a_lithium_bank_may_float_where_it_also_stands_by_itself() {
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| filled(&plant, day, minute, 13.5));
    assert_eq!(regimes(&judged, FLOATING), [Regime::Held]);
    assert_eq!(regimes(&judged, 480..600), [Regime::Following]);
}

/// What the bank's own meter logs of days that fill the bank.
fn bank_alone<'a>(plant: &'a Plant, make: &dyn Fn(usize, usize) -> Minute) -> Judged<'a> {
    let mut timeline = plant.timeline(make);
    let bank = [
        Role::BatteryVoltage,
        Role::BatteryCurrent,
        Role::BatteryPower,
    ];
    timeline.channels.retain(|c| bank.contains(&c.role));
    plant.judge_timeline(timeline)
}

#[test]
fn the_bank_alone_shows_what_it_did_not_take_and_the_range_says_how_sure_that_is() {
    let plant = Plant::new("lfp", 8);
    // Every other day under a cloudy sky; by day the loads take half as much again as by night.
    let make = |day: usize, minute: usize| {
        let sky = if day.is_multiple_of(2) { 1.0 } else { 0.7 };
        let mut made = filled(&plant, day, minute, 13.5);
        if !(ABSORBING.start..FLOATING.end).contains(&minute) {
            made = following(sky * plant.clear_w(day, minute), 6.0);
            made.bank_a -= if plant.clear_w(day, minute) > 0.0 {
                1.5
            } else {
                0.0
            };
        }
        made
    };
    let judged = bank_alone(&plant, &make);
    let (mut harvested, mut held) = (0.0, 0.0);
    for (i, day) in judged.accounts.days.iter().enumerate() {
        let sky = if i.is_multiple_of(2) { 1.0 } else { 0.7 };
        let truly: f64 = (ABSORBING.start..FLOATING.end)
            .map(|minute| {
                let taken = make(i, minute);
                (sky * plant.clear_w(i, minute) - taken.charge_v * taken.charge_a).max(0.0) / 60.0
            })
            .sum();
        let said = day.intervals["held_back_wh"];
        assert!(
            said.low <= truly && truly <= said.high,
            "{said:?} of {truly}"
        );
        assert_eq!(day.state, DayState::Full, "{}", day.why);
        held += truly;
        harvested += (0..1440)
            .map(|minute| make(i, minute))
            .map(|m| m.charge_v * m.charge_a / 60.0)
            .sum::<f64>();
    }
    let said = entry(&judged, "harvested");
    assert!(
        said.low <= harvested && harvested <= said.high,
        "{said:?} of {harvested}"
    );
    let said = entry(&judged, "held_back");
    assert!(
        said.low <= -held && -held <= said.high,
        "{said:?} of {held}"
    );
}
