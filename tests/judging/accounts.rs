//! Full charges, accounts, and the verdict that follows.

use ampledger::expect::Regime;
use ampledger::mapping::Role;
use ampledger::report::model::{DayState, Limiting, Severity};
use ampledger::verdict::verdict;

use crate::plant::{Judged, Minute, Plant, following, resting, with_hold};

#[test]
fn lithium_is_full_after_five_minutes_held_with_a_small_current() {
    let Judged { accounts, .. } = Plant::new("lfp", 1).judge(with_hold(720, 8, 14.15, 5.0));
    assert_eq!(accounts.charge.full_days, [true]);
    assert_eq!(accounts.days[0].reached_full, Some(true));
}

#[test]
fn reaching_the_voltage_is_not_full_while_the_current_is_high() {
    let Judged { accounts, .. } = Plant::new("lfp", 1).judge(with_hold(720, 60, 14.15, 20.0));
    assert_eq!(accounts.charge.full_days, [false]);
}

#[test]
fn a_small_current_is_not_full_while_the_voltage_is_low() {
    let Judged { accounts, .. } = Plant::new("lfp", 1).judge(with_hold(720, 60, 13.9, 2.0));
    assert_eq!(accounts.charge.full_days, [false]);
}

#[test]
fn lead_must_be_held_for_half_an_hour() {
    let Judged {
        accounts: short, ..
    } = Plant::new("agm", 1).judge(with_hold(720, 20, 14.15, 5.0));
    assert_eq!(short.charge.full_days, [false]);
    let Judged { accounts: long, .. } = Plant::new("agm", 1).judge(with_hold(720, 40, 14.15, 5.0));
    assert_eq!(long.charge.full_days, [true]);
}

#[test]
fn the_resistance_is_the_slope_and_the_meters_disagreement_the_intercept() {
    let plant = Plant::new("lfp", 6);
    let Judged { accounts, .. } = plant.judge(|day, minute| {
        let mut m = following(plant.clear_w(day, minute), 20.0);
        m.charge_v += 0.04;
        m
    });
    let fit = accounts.run.unwrap();
    assert!((fit.resistance_mohm.value - 20.0).abs() < 0.2, "{fit:?}");
    assert!((fit.offset_v - 0.04).abs() < 0.003, "{fit:?}");
    assert!(fit.resistance_mohm.low < 20.0 && fit.resistance_mohm.high > 20.0);
}

#[test]
fn a_current_that_hardly_varies_gives_no_resistance() {
    let plant = Plant::new("lfp", 3);
    let Judged { accounts, .. } = plant.judge(|_, minute| match minute {
        600..800 => following(120.0, 20.0),
        _ => resting(),
    });
    let refusal = accounts.run.unwrap_err();
    assert!(refusal.text.contains("hardly varied"), "{}", refusal.text);
}

#[test]
fn two_voltages_of_one_meter_give_no_resistance() {
    let plant = Plant::new("lfp", 3);
    let Judged { accounts, .. } = plant.judge(|day, minute| {
        let m = following(plant.clear_w(day, minute), 20.0);
        // One column stands in for both ends of the run.
        Minute {
            bank_v: m.charge_v,
            ..m
        }
    });
    assert!(accounts.run.unwrap_err().text.contains("one meter"));
}

#[test]
fn a_clear_day_that_was_all_taken_is_ok_and_measures_the_array() {
    let plant = Plant::new("lfp", 5);
    let Judged {
        expected, accounts, ..
    } = plant.judge(|day, minute| following(0.97 * plant.clear_w(day, minute), 6.0));
    assert!(expected.clear.calibrated);
    assert!(
        (expected.clear.reference.value - 0.97).abs() < 0.03,
        "{:?}",
        expected.clear.reference
    );
    assert!(
        accounts.days.iter().all(|d| d.state == DayState::Ok),
        "{:?}",
        accounts.days
    );
}

#[test]
fn a_day_the_bank_was_full_is_full_and_never_short() {
    let plant = Plant::new("lfp", 5);
    let Judged {
        expected, accounts, ..
    } = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        if (660..1200).contains(&minute) && clear > 40.0 {
            Minute {
                charge_v: 14.2,
                charge_a: 4.0,
                bank_v: 14.19,
                bank_a: 1.0,
                ..Minute::default()
            }
        } else {
            following(clear, 6.0)
        }
    });
    assert!(expected.regimes.contains(&Regime::Held));
    for day in &accounts.days {
        assert_eq!(day.state, DayState::Full, "{day:?}");
        assert!(day.lost_wh.unwrap() < 1.0);
        assert!(day.held_back_wh.unwrap() > 500.0);
    }
}

#[test]
fn a_dull_day_is_dull_and_never_short() {
    let plant = Plant::new("lfp", 6);
    let Judged { accounts, .. } = plant.judge(|day, minute| {
        // The last two days under a restless grey sky.
        let sky = if day < 4 {
            1.0
        } else {
            0.25 + 0.1 * ((minute / 7) % 3) as f64
        };
        following(sky * plant.clear_w(day, minute), 6.0)
    });
    let states: Vec<DayState> = accounts.days.iter().map(|d| d.state).collect();
    assert_eq!(states[4..], [DayState::Dull, DayState::Dull]);
    assert!(!states.contains(&DayState::Short));
}

#[test]
fn days_on_which_half_the_array_is_gone_are_short_and_the_loss_is_half() {
    let plant = Plant::new("lfp", 8);
    let Judged { accounts, .. } = plant.judge(|day, minute| {
        let left = if day < 4 { 1.0 } else { 0.5 };
        following(left * plant.clear_w(day, minute), 6.0)
    });
    for day in &accounts.days[4..] {
        assert_eq!(day.state, DayState::Short, "{day:?}");
        let share = day.lost_wh.unwrap() / day.offered_wh.unwrap();
        assert!((share - 0.5).abs() < 0.05, "{share}");
    }
    assert!(accounts.days[..4].iter().all(|d| d.state == DayState::Ok));
}

#[test]
fn one_odd_morning_condemns_nothing() {
    let plant = Plant::new("lfp", 6);
    let Judged { accounts, .. } = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        match (day, minute) {
            // An hour and a half of a smooth veil, then a restless day.
            (4, 660..750) => following(0.6 * clear, 6.0),
            (4, _) => following((0.4 + 0.3 * ((minute / 6) % 3) as f64) * clear, 6.0),
            _ => following(clear, 6.0),
        }
    });
    assert_ne!(accounts.days[4].state, DayState::Short);
}

#[test]
fn every_day_and_both_accounts_close() {
    let plant = Plant::new("agm", 6);
    let Judged { accounts, .. } = plant.judge(|day, minute| {
        let sky = 0.3 + 0.1 * ((day + minute / 13) % 7) as f64;
        following(sky * plant.clear_w(day, minute), 15.0)
    });
    for day in &accounts.days {
        let rest = day.offered_wh.unwrap()
            - day.lost_wh.unwrap()
            - day.held_back_wh.unwrap()
            - day.unmeasured_wh.unwrap()
            + day.unexplained_wh.unwrap();
        assert!((day.harvest_wh.unwrap() - rest).abs() < 0.01, "{day:?}");
    }
    let sum: f64 = accounts
        .account
        .harvest
        .iter()
        .filter(|e| e.name != "harvested")
        .map(|e| e.wh)
        .sum();
    let harvested = accounts.account.harvest.last().unwrap();
    assert_eq!(harvested.name, "harvested");
    assert!((sum - harvested.wh).abs() < 0.1);
    assert!(
        accounts
            .account
            .harvest
            .iter()
            .all(|e| e.low <= e.wh && e.wh <= e.high)
    );
}

#[test]
fn two_days_are_too_little_to_name_a_culprit() {
    let plant = Plant::new("lfp", 2);
    let judged = plant.judge(|day, minute| following(0.4 * plant.clear_w(day, minute), 6.0));
    let found = judged.look();
    assert_eq!(verdict(&judged.evidence(), &found).limiting, Limiting::Log);
}

#[test]
fn a_drop_that_costs_next_to_nothing_is_watched_and_limits_nothing() {
    let plant = Plant::new("lfp", 6);
    // Twice the design's resistance at a fifth of the power: a few watt-hours a day.
    let judged = plant.judge(|day, minute| following(0.45 * plant.clear_w(day, minute), 14.0));
    let found = judged.look();
    let drop = judged.found("drop-battery-cable");
    let drop = drop.expect("a drop above one percent of 12 V is found");
    assert_eq!(drop.severity, Severity::Watch, "{}", drop.summary);
    assert_ne!(
        verdict(&judged.evidence(), &found).limiting,
        Limiting::Wiring
    );
}

#[test]
fn a_day_without_rows_of_the_bank_has_no_sums_of_it() {
    let plant = Plant::new("lfp", 6);
    let mut timeline = plant.timeline(|day, minute| following(plant.clear_w(day, minute), 6.0));
    let of_bank = [
        Role::BatteryVoltage,
        Role::BatteryCurrent,
        Role::BatteryPower,
    ];
    // The bank's meter stops after three days.
    for channel in &mut timeline.channels {
        if of_bank.contains(&channel.role) {
            for bin in 3 * 1440..channel.series.in_h.len() {
                (channel.series.in_h[bin], channel.series.out_h[bin]) = (0.0, 0.0);
                channel.series.covered_s[bin] = 0.0;
                channel.series.min[bin] = f32::INFINITY;
                channel.series.max[bin] = f32::NEG_INFINITY;
            }
        }
    }
    let judged = plant.judge_timeline(timeline);
    for (i, day) in judged.accounts.days.iter().enumerate() {
        let there = [
            day.load_wh,
            day.bank_in_wh,
            day.bank_out_ah,
            day.other_charge_wh,
        ];
        assert!(
            there.iter().all(|figure| figure.is_some() == (i < 3)),
            "{day:?}"
        );
        assert!(day.harvest_wh.is_some_and(|wh| wh > 1000.0), "{day:?}");
    }
}
