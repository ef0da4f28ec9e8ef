//! The mistakes people make when they read such logs, each as a case that is judged right here.
//!
//! Two of the twenty stand elsewhere, since they are about reading: energy across a gap and signs
//! (`tests/reading.rs`), local time at a change of zone (`tests/properties.rs`).

use ampledger::expect::Regime;
use ampledger::report::model::{DayState, Limiting, Severity};
use ampledger::timeline::stage;
use ampledger::verdict::verdict;

use crate::plant::{Judged, Minute, More, Plant, following, resting};

/// A minute with the bank full: the controller holds its voltage and little flows.
fn full(minute: Minute) -> Minute {
    Minute {
        charge_v: 14.2,
        charge_a: 4.0,
        bank_v: 14.19,
        bank_a: 1.0,
        ..minute
    }
}

fn worst(judged: &Judged) -> Severity {
    judged
        .look()
        .findings
        .first()
        .map_or(Severity::Fine, |f| f.severity)
}

#[test]
fn harvest_on_days_with_a_full_bank_is_not_held_against_the_panels() {
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        // Full from mid-morning on: two thirds of the sun is never asked for.
        if minute > 570 && clear > 30.0 {
            full(Minute::default())
        } else {
            following(clear, 6.0)
        }
    });
    assert!(
        judged
            .accounts
            .days
            .iter()
            .all(|d| d.state == DayState::Full)
    );
    assert!(judged.found("harvest-short").is_none());
    assert_eq!(
        verdict(&judged.evidence(), &judged.look()).limiting,
        Limiting::Nothing
    );
}

#[test]
fn a_winter_day_is_compared_with_winter_sun() {
    let mut plant = Plant::new("lfp", 6);
    plant.first = chrono::NaiveDate::from_ymd_opt(2026, 12, 14).unwrap();
    let judged = plant.judge(|day, minute| following(0.95 * plant.clear_w(day, minute), 6.0));
    assert!(judged.found("harvest-short").is_none());
    assert!(
        judged
            .accounts
            .days
            .iter()
            .all(|d| d.state != DayState::Short)
    );
}

#[test]
fn full_days_and_starving_days_do_not_cancel() {
    let plant = Plant::new("lfp", 10);
    // Five days that overflow, then five on which half the array is gone.
    let judged = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        match day {
            0..5 if minute > 720 && clear > 30.0 => full(Minute::default()),
            0..5 => following(clear, 6.0),
            _ => following(0.5 * clear, 6.0),
        }
    });
    let short: Vec<_> = judged
        .accounts
        .days
        .iter()
        .filter(|d| d.state == DayState::Short)
        .collect();
    assert_eq!(short.len(), 5);
    assert!(judged.found("harvest-short").is_some());
}

#[test]
fn a_jump_to_100_percent_is_not_a_full_bank() {
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| {
        let mut m = following(0.3 * plant.clear_w(day, minute), 6.0);
        // On two dull noons the meter sets itself to 100 % at 13.3 V.
        let jumped = (day == 2 || day == 4) && minute >= 720;
        m.more.soc = Some(if jumped { 100.0 } else { 55.0 });
        m
    });
    let finding = judged.found("soc-unreliable").expect("a false full");
    assert!(finding.evidence["worst_error_pct"].as_f64().unwrap() > 40.0);
    assert!(judged.accounts.charge.full_days.iter().all(|f| !f));
}

#[test]
fn the_float_stage_is_no_proof_of_a_full_bank() {
    let plant = Plant::new("agm", 6);
    let judged = plant.judge(|day, minute| {
        let mut m = following(0.5 * plant.clear_w(day, minute), 6.0);
        // By its timer: float while 15 A still flow.
        if (720..900).contains(&minute) {
            (m.charge_v, m.bank_v, m.charge_a, m.bank_a) = (13.5, 13.45, 18.0, 15.0);
            m.more.stage = Some(stage::FLOAT);
        } else {
            m.more.stage = Some(stage::BULK);
        }
        m
    });
    assert!(judged.accounts.charge.full_days.iter().all(|f| !f));
}

#[test]
fn the_voltage_at_the_controller_is_not_the_banks() {
    let plant = Plant::new("lfp", 6);
    // The controller stands at 14.2 V all noon; the bank, behind 40 mohm, at 13.6 V and hungry.
    let judged = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        if (690..870).contains(&minute) {
            Minute {
                charge_v: 14.2,
                charge_a: 15.0,
                bank_v: 13.6,
                bank_a: 12.0,
                ..Minute::default()
            }
        } else {
            following(clear.min(180.0), 40.0)
        }
    });
    assert!(judged.accounts.charge.full_days.iter().all(|f| !f));
    assert!(judged.found("drop-battery-cable").is_some());
}

#[test]
fn slow_logs_whose_rows_fall_a_minute_apart_still_show_a_bad_joint() {
    let plant = Plant::new("lfp", 6);
    let mut timeline = plant.timeline(|day, minute| {
        let mut made = following(plant.clear_w(day, minute).min(180.0), 40.0);
        // Meters whose last digit jumps about, each row by itself.
        made.bank_v += 0.004 * ((day * 37 + minute * 11) % 7) as f64 - 0.012;
        made
    });
    for channel in &mut timeline.channels {
        let of_bank = channel.role.name().starts_with("battery");
        channel.step_s = 900.0;
        for bin in (0..channel.series.min.len()).filter(|b| b % 15 != usize::from(of_bank)) {
            channel.series.min[bin] = f32::INFINITY;
            channel.series.max[bin] = f32::NEG_INFINITY;
        }
    }
    let judged = plant.judge_timeline(timeline);
    let run = judged.accounts.run.as_ref().expect("measured");
    assert!((run.resistance_mohm.value - 40.0).abs() < 3.0, "{run:?}");
}

#[test]
fn current_from_the_controller_is_not_current_into_the_bank() {
    let plant = Plant::new("agm", 2);
    // 20 A from the controller, all of it into loads: the bank is full.
    let judged = plant.judge(|_, minute| {
        if (660..780).contains(&minute) {
            Minute {
                charge_v: 14.2,
                charge_a: 20.0,
                bank_v: 14.19,
                bank_a: 1.0,
                ..Minute::default()
            }
        } else {
            resting()
        }
    });
    assert_eq!(judged.accounts.charge.full_days, [true, true]);
}

#[test]
fn lead_that_gives_back_less_than_it_took_is_healthy() {
    let plant = Plant::new("flooded", 12);
    // Broken cloud and full at noon.
    let by_day = |day: usize, minute: usize| {
        let sky = 0.5 + 0.4 * (minute as f64 / 9.0 + day as f64).sin();
        match minute {
            660..780 => full(Minute::default()),
            _ => following(sky * plant.clear_w(day, minute), 6.0),
        }
    };
    let is_night = |day: usize, minute: usize| plant.clear_w(day, minute) < 5.0;
    // At night so much is drawn that 88 % of what went in comes out again.
    let (mut taken, mut given, mut night) = (0.0, 0.0, 0.0);
    for minute in 0..1440 {
        let amps = by_day(0, minute).bank_a;
        match amps {
            _ if is_night(0, minute) => night += 1.0,
            _ if amps > 0.0 => taken += amps,
            _ => given -= amps,
        }
    }
    let drawn = (0.88 * taken - given) / night;
    let judged = plant.judge(|day, minute| {
        let mut m = by_day(day, minute);
        if is_night(day, minute) {
            m.bank_a = -drawn;
        }
        m
    });
    for kind in ["charge-loss-high", "current-offset", "capacity-low"] {
        assert!(judged.found(kind).is_none(), "{kind}");
    }
    assert!(
        worst(&judged) >= Severity::Watch,
        "{:#?}",
        judged.look().findings
    );
}

#[test]
fn two_clocks_that_differ_make_no_resistance() {
    let plant = Plant::new("lfp", 6);
    // A cloudy sky, a good cable, and a bank log three minutes behind the controller's.
    let sky = |day: usize, minute: usize| -> f64 {
        let wave = ((minute as f64) / 7.0 + day as f64).sin();
        0.55 + 0.4 * wave
    };
    let truth =
        |day: usize, minute: usize| following(sky(day, minute) * plant.clear_w(day, minute), 4.4);
    let judged = plant.judge(|day, minute| {
        let (now, late) = (truth(day, minute), truth(day, minute.saturating_sub(3)));
        Minute {
            bank_v: late.bank_v,
            bank_a: late.bank_a,
            ..now
        }
    });
    assert!(judged.found("drop-battery-cable").is_none());
}

#[test]
fn an_afternoon_of_shade_does_not_make_the_panels_weak() {
    let plant = Plant::new("lfp", 8);
    let judged = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        let shaded = (900..1020).contains(&minute);
        following(if shaded { 0.35 * clear } else { 0.95 * clear }, 6.0)
    });
    for kind in ["array-weak", "array-part-out", "array-dark"] {
        assert!(judged.found(kind).is_none(), "{kind}");
    }
}

#[test]
fn the_engines_charge_is_not_the_suns() {
    let plant = Plant::new("lfp", 6);
    let engine = |minute: usize| (60..150).contains(&minute);
    let judged = plant.judge(|day, minute| {
        let mut m = following(0.5 * plant.clear_w(day, minute), 6.0);
        if engine(minute) {
            m.bank_a += 40.0;
            m.bank_v = 13.6;
        }
        m
    });
    let harvested: f64 = judged
        .accounts
        .days
        .iter()
        .filter_map(|d| d.harvest_wh)
        .sum();
    let sun: f64 = (0..6 * 1440)
        .map(|i| {
            let m = following(0.5 * plant.clear_w(i / 1440, i % 1440), 6.0);
            m.charge_v * m.charge_a / 60.0
        })
        .sum();
    assert!((harvested / sun - 1.0).abs() < 0.005, "{harvested} {sun}");
    let other: f64 = judged
        .accounts
        .days
        .iter()
        .filter_map(|d| d.other_charge_wh)
        .sum();
    // 40 A at 13.6 V for an hour and a half on six days.
    assert!(
        (other / (40.0 * 13.6 * 1.5 * 6.0) - 1.0).abs() < 0.15,
        "{other}"
    );
}

#[test]
fn watt_hours_are_counted_at_the_real_voltage() {
    let plant = Plant::new("lfp", 1);
    let judged = plant.judge(|_, _| Minute {
        charge_v: 13.4,
        bank_v: 13.3,
        bank_a: -2.0,
        ..Minute::default()
    });
    let out = judged.accounts.days[0].bank_out_wh.unwrap();
    assert!((out - 2.0 * 24.0 * 13.3).abs() < 0.5, "{out}");
}

#[test]
fn one_sunny_day_at_full_power_does_not_undo_a_fault() {
    let plant = Plant::new("lfp", 11);
    let judged = plant.judge(|day, minute| {
        let share = if (3..10).contains(&day) && day != 6 {
            0.5
        } else {
            0.97
        };
        following(share * plant.clear_w(day, minute), 6.0)
    });
    let short: Vec<usize> = judged
        .accounts
        .days
        .iter()
        .enumerate()
        .filter(|(_, d)| d.state == DayState::Short)
        .map(|(i, _)| i)
        .collect();
    assert_eq!(short, [3, 4, 5, 7, 8, 9]);
}

#[test]
fn a_cold_pack_that_refuses_charge_is_no_dead_array() {
    let mut plant = Plant::new("lfp", 6);
    plant.first = chrono::NaiveDate::from_ymd_opt(2026, 3, 3).unwrap();
    let judged = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        // Bright mornings at -3 C: the pack takes nothing until noon.
        let cold = minute < 720;
        let mut m = if cold {
            resting()
        } else {
            following(clear, 6.0)
        };
        if cold {
            m.bank_a = -3.0;
        }
        m.more = More {
            bank_c: Some(if cold { -3.0 } else { 6.0 }),
            array_v: Some(if clear > 5.0 { 43.0 } else { 0.5 }),
            ..More::default()
        };
        m
    });
    assert!(judged.expected.regimes.contains(&Regime::Refused));
    assert!(judged.found("array-dark").is_none());
    assert!(judged.found("harvest-short").is_none());
}
