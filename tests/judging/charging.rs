//! Rules about how the bank is charged: temperature, current, voltage.

use ampledger::account::Accounts;
use ampledger::design::Method;
use ampledger::expect::Expectation;
use ampledger::mapping::Role;
use ampledger::report::model::Severity;
use ampledger::timeline::stage;
use chrono::NaiveDate;

use crate::plant::{Judged, Minute, Plant, following, resting};

/// Judges a log in which some columns are missing.
fn judge_without<'a>(
    plant: &'a Plant,
    missing: &[Role],
    make: impl Fn(usize, usize) -> Minute,
) -> Judged<'a> {
    let mut timeline = plant.timeline(make);
    timeline.channels.retain(|c| !missing.contains(&c.role));
    let last = plant.first + chrono::Duration::days(plant.days as i64 - 1);
    let expected = Expectation::new(&plant.design, &plant.calendar, &timeline, plant.first, last);
    let accounts = Accounts::new(&plant.design, &plant.calendar, &timeline, &expected);
    Judged {
        plant,
        timeline,
        expected,
        accounts,
    }
}

fn is_unknown(judged: &Judged, kind: &str) -> bool {
    judged.look().unknown.iter().any(|u| u.kind == kind)
}

fn fine_text(judged: &Judged, kind: &str) -> String {
    let found = judged.look();
    let checked = found.checked.iter().find(|c| c.kind == kind);
    checked.map_or_else(
        || {
            panic!(
                "{kind} is not fine: {:?} {:?}",
                found.findings, found.unknown
            )
        },
        |c| c.text.clone(),
    )
}

fn figure(judged: &Judged, kind: &str, key: &str) -> f64 {
    let finding = judged.found(kind).expect(kind);
    finding.evidence[key].as_f64().expect(key)
}

/// Charging until eleven, then held at a level with a current that falls from 15 A to 1 A in five hours.
fn held(plant: &Plant, level_v: f64) -> impl Fn(usize, usize) -> Minute + '_ {
    move |day, minute| {
        let clear = plant.clear_w(day, minute);
        if !(660..960).contains(&minute) {
            return following(clear, 6.0);
        }
        let bank_a = 1.0 + 14.0 * (-(minute as f64 - 660.0) / 90.0).exp();
        Minute {
            charge_v: level_v + 0.003 * bank_a,
            charge_a: bank_a + 3.0,
            bank_v: level_v,
            bank_a,
            ..Minute::default()
        }
    }
}

/// With the stage that goes with it.
fn staged(plant: &Plant, level_v: f64, held_as: f64) -> impl Fn(usize, usize) -> Minute + '_ {
    let make = held(plant, level_v);
    move |day, minute| {
        let mut m = make(day, minute);
        m.more.stage = Some(match minute {
            660..960 => held_as,
            300..1200 => stage::BULK,
            _ => stage::OFF,
        });
        m
    }
}

fn with_temperature(
    make: impl Fn(usize, usize) -> Minute,
    c: impl Fn(usize) -> f64,
) -> impl Fn(usize, usize) -> Minute {
    move |day, minute| {
        let mut m = make(day, minute);
        m.more.bank_c = Some(c(minute));
        m
    }
}

mod temperature {
    use super::*;

    /// Warmest in the afternoon.
    fn day_of(low: f64, high: f64) -> impl Fn(usize) -> f64 {
        move |minute| {
            let turn = (minute as f64 - 900.0) / 1440.0 * std::f64::consts::TAU;
            (low + high) / 2.0 + (high - low) / 2.0 * turn.cos()
        }
    }

    #[test]
    fn a_bank_charged_above_its_limit_is_a_danger_with_its_figures() {
        let plant = Plant::new("lfp", 3);
        let judged = plant.judge(with_temperature(held(&plant, 14.2), |minute| {
            if (600..720).contains(&minute) {
                51.0
            } else {
                30.0
            }
        }));
        let finding = judged.found("hot-charge").expect("hot charge");
        assert_eq!(finding.severity, Severity::Stop);
        assert_eq!(finding.days.len(), 3);
        // Two hours a day, all of them with more than 4 A into the bank.
        assert!((figure(&judged, "hot-charge", "charged_min") - 360.0).abs() < 11.0);
        assert!((figure(&judged, "hot-charge", "highest_c") - 51.0).abs() < 1e-6);
    }

    #[test]
    fn a_bank_that_was_hot_only_while_it_gave_current_is_fine() {
        let plant = Plant::new("agm", 3);
        let judged = plant.judge(with_temperature(held(&plant, 14.2), |minute| {
            if minute < 180 { 55.0 } else { 30.0 }
        }));
        assert!(fine_text(&judged, "hot-charge").contains("55 C"));
    }

    #[test]
    fn without_a_temperature_summer_leaves_heat_unknown_and_winter_frost() {
        let mut plant = Plant::new("lfp", 3);
        let summer = plant.judge(held(&plant, 14.2));
        assert!(is_unknown(&summer, "hot-charge"));
        assert!(!is_unknown(&summer, "cold-charge"));
        plant.first = NaiveDate::from_ymd_opt(2026, 1, 10).unwrap();
        let winter = plant.judge(held(&plant, 14.2));
        assert!(is_unknown(&winter, "cold-charge"));
        assert!(!is_unknown(&winter, "hot-charge"));
        assert!(winter.found("cold-charge").is_none());
    }

    #[test]
    fn a_sensor_that_stands_still_accuses_nobody() {
        let plant = Plant::new("lfp", 3);
        let judged = plant.judge(with_temperature(held(&plant, 14.2), |_| -5.0));
        assert!(judged.found("cold-charge").is_none());
        assert!(is_unknown(&judged, "cold-charge"));
        assert!(is_unknown(&judged, "hot-charge"));
    }

    #[test]
    fn frost_with_charge_is_found_and_frost_at_night_alone_is_not() {
        let plant = Plant::new("lfp", 3);
        let cold = plant.judge(with_temperature(held(&plant, 14.2), day_of(-8.0, -2.0)));
        let lowest = figure(&cold, "cold-charge", "lowest_c");
        assert!((-8.0..0.0).contains(&lowest), "{lowest}");
        let thawed = plant.judge(with_temperature(held(&plant, 14.2), |minute| {
            if minute < 240 { -6.0 } else { 8.0 }
        }));
        assert!(fine_text(&thawed, "cold-charge").contains("-6 C"));
    }

    #[test]
    fn heat_without_the_banks_own_current_is_unknown() {
        let plant = Plant::new("lfp", 3);
        let missing = [Role::BatteryCurrent, Role::BatteryPower];
        let make = with_temperature(held(&plant, 14.2), day_of(25.0, 55.0));
        let judged = judge_without(&plant, &missing, make);
        assert!(judged.found("hot-charge").is_none());
        assert!(is_unknown(&judged, "hot-charge"));
        let cool = judge_without(
            &plant,
            &missing,
            with_temperature(held(&plant, 14.2), day_of(15.0, 30.0)),
        );
        assert!(fine_text(&cool, "hot-charge").contains("30 C"));
    }
}

mod current {
    use super::*;

    /// An engine gives a current from six o'clock on for some minutes on the second day.
    fn engine(amps: f64, minutes: usize) -> impl Fn(usize, usize) -> Minute {
        move |day, minute| {
            let mut m = resting();
            if day == 1 && (360..360 + minutes).contains(&minute) {
                m.bank_a = amps;
                m.bank_v = 13.6;
                m.more.other_a = Some(amps + 3.0);
            }
            m
        }
    }

    #[test]
    fn a_stated_limit_that_is_passed_is_a_danger() {
        let mut plant = Plant::new("lfp", 3);
        plant.design.battery.max_charge_a = Some(60.0);
        let judged = plant.judge(engine(75.0, 40));
        let finding = judged.found("charge-current-high").expect("passed");
        assert_eq!(finding.severity, Severity::Stop);
        assert_eq!(finding.days, ["2026-06-11"]);
        assert!((figure(&judged, "charge-current-high", "current_a") - 75.0).abs() < 0.1);
        assert!((figure(&judged, "charge-current-high", "minutes") - 40.0).abs() < 6.0);
    }

    #[test]
    fn a_current_within_the_meters_error_or_of_a_few_minutes_is_fine() {
        let mut plant = Plant::new("lfp", 3);
        plant.design.battery.max_charge_a = Some(60.0);
        assert!(fine_text(&plant.judge(engine(61.0, 40)), "charge-current-high").contains("61 A"));
        assert!(
            plant
                .judge(engine(75.0, 5))
                .found("charge-current-high")
                .is_none()
        );
    }

    #[test]
    fn without_a_stated_limit_the_usual_one_is_only_watched() {
        let plant = Plant::new("gel", 3);
        let judged = plant.judge(engine(75.0, 40));
        let finding = judged.found("charge-current-high").expect("passed");
        assert_eq!(finding.severity, Severity::Watch);
        assert_eq!(finding.evidence["limit_a"].as_f64(), Some(50.0));
        assert!(
            plant
                .judge(engine(45.0, 40))
                .found("charge-current-high")
                .is_none()
        );
    }

    #[test]
    fn the_controllers_current_clears_the_bank_but_never_accuses_it() {
        let mut plant = Plant::new("lfp", 3);
        let missing = [Role::BatteryCurrent, Role::BatteryPower];
        plant.design.battery.max_charge_a = Some(40.0);
        let clear = judge_without(&plant, &missing, held(&plant, 14.2));
        assert!(fine_text(&clear, "charge-current-high").contains("controller"));
        plant.design.battery.max_charge_a = Some(10.0);
        let open = judge_without(&plant, &missing, held(&plant, 14.2));
        assert!(open.found("charge-current-high").is_none());
        assert!(is_unknown(&open, "charge-current-high"));
    }
}

mod voltage {
    use super::*;

    const LOW: &str = "charge-voltage-low";
    const HIGH: &str = "charge-voltage-high";

    #[test]
    fn absorption_held_too_low_is_found_with_its_level() {
        let plant = Plant::new("agm", 6);
        let judged = plant.judge(staged(&plant, 13.7, stage::ABSORPTION));
        let finding = judged.found(LOW).expect("low");
        assert_eq!(finding.severity, Severity::Fix);
        assert!((figure(&judged, LOW, "held_v") - 13.7).abs() < 0.01);
        assert!((figure(&judged, LOW, "expected_low_v") - 14.2).abs() < 0.01);
        assert_eq!(finding.days.len(), 6);
        assert!(judged.found(HIGH).is_none());
    }

    #[test]
    fn without_a_stage_the_falling_current_shows_it() {
        let plant = Plant::new("lfp", 6);
        let judged = plant.judge(held(&plant, 13.85));
        assert!((figure(&judged, LOW, "held_v") - 13.85).abs() < 0.01);
        let right = plant.judge(held(&plant, 14.18));
        assert!(fine_text(&right, LOW).contains("14.18 V"));
    }

    #[test]
    fn float_is_not_taken_for_absorption() {
        let plant = Plant::new("agm", 6);
        for judged in [
            plant.judge(staged(&plant, 13.5, stage::FLOAT)),
            plant.judge(held(&plant, 13.5)),
        ] {
            assert!(judged.found(LOW).is_none());
            assert!(is_unknown(&judged, LOW));
        }
    }

    #[test]
    fn a_bank_the_sun_never_brought_there_is_unknown() {
        let plant = Plant::new("agm", 6);
        let judged = plant.judge(|day, minute| following(0.3 * plant.clear_w(day, minute), 6.0));
        assert!(judged.found(LOW).is_none());
        assert!(is_unknown(&judged, LOW));
    }

    #[test]
    fn a_half_full_lithium_bank_that_stands_still_by_itself_is_not_held() {
        let plant = Plant::new("lfp", 6);
        // The afternoon's haze takes half the current, and the voltage hardly notices.
        let judged = plant.judge(|day, minute| {
            let haze = if minute > 780 { 0.5 } else { 1.0 };
            let mut m = following(haze * plant.clear_w(day, minute), 6.0);
            if m.charge_a > 2.0 {
                m.bank_v = 13.38 + m.charge_a / 1000.0;
                m.charge_v = m.bank_v + 0.006 * m.charge_a;
            }
            m
        });
        assert!(judged.found(LOW).is_none());
    }

    #[test]
    fn two_days_are_no_setting() {
        let plant = Plant::new("agm", 2);
        let judged = plant.judge(staged(&plant, 13.7, stage::ABSORPTION));
        assert!(judged.found(LOW).is_none());
        assert!(is_unknown(&judged, LOW));
    }

    #[test]
    fn a_voltage_and_a_stage_that_stand_still_say_nothing() {
        let plant = Plant::new("agm", 6);
        let judged = plant.judge(|day, minute| {
            let mut m = following(plant.clear_w(day, minute), 6.0);
            (m.bank_v, m.charge_v) = (13.8, 13.8);
            m.more.stage = Some(stage::ABSORPTION);
            m
        });
        assert!(judged.found(LOW).is_none());
        let moving = plant.judge(|day, minute| {
            let mut m = following(plant.clear_w(day, minute), 6.0);
            m.more.stage = Some(stage::ABSORPTION);
            m
        });
        assert!(moving.found(LOW).is_none());
    }

    #[test]
    fn cold_lead_rightly_gets_more_and_uncompensated_too_little() {
        let mut plant = Plant::new("agm", 6);
        plant.design.controllers[0].compensation_v_per_c = -0.024;
        let at = |level: f64| {
            plant.judge(with_temperature(
                staged(&plant, level, stage::ABSORPTION),
                |minute| if minute < 400 { -2.0 } else { 0.0 },
            ))
        };
        let right = at(14.8);
        assert!(right.found(LOW).is_none() && right.found(HIGH).is_none());
        let bare = at(14.2);
        assert!((figure(&bare, LOW, "expected_low_v") - 14.8).abs() < 0.01);
    }

    #[test]
    fn where_the_temperature_is_not_logged_compensation_is_allowed_for() {
        let mut plant = Plant::new("agm", 6);
        plant.first = NaiveDate::from_ymd_opt(2026, 1, 10).unwrap();
        plant.design.controllers[0].compensation_v_per_c = -0.024;
        for level in [14.2, 14.7] {
            let judged = plant.judge(staged(&plant, level, stage::ABSORPTION));
            assert!(judged.found(LOW).is_none(), "{level}");
            assert!(judged.found(HIGH).is_none(), "{level}");
        }
    }

    #[test]
    fn a_gentle_voltage_of_the_design_is_named_and_fine() {
        let mut plant = Plant::new("lfp", 6);
        plant.design.controllers[0].absorption_v = 13.8;
        let judged = plant.judge(staged(&plant, 13.8, stage::ABSORPTION));
        assert!(fine_text(&judged, LOW).contains("gentle"));
        assert!(judged.found(HIGH).is_none());
    }

    #[test]
    fn the_controllers_log_alone_shows_its_setting() {
        let plant = Plant::new("agm", 6);
        let missing = [
            Role::BatteryVoltage,
            Role::BatteryCurrent,
            Role::BatteryPower,
        ];
        let low = judge_without(&plant, &missing, staged(&plant, 13.7, stage::ABSORPTION));
        assert!((figure(&low, LOW, "held_v") - 13.7).abs() < 0.02);
        let right = judge_without(&plant, &missing, staged(&plant, 14.2, stage::ABSORPTION));
        assert!(fine_text(&right, LOW).contains("6 days"));
    }

    #[test]
    fn a_joint_that_takes_voltage_is_no_low_setting() {
        let plant = Plant::new("agm", 6);
        let make = staged(&plant, 14.2, stage::ABSORPTION);
        // 30 mohm between controller and bank: at 15 A the bank stands 0.45 V lower.
        let judged = plant.judge(move |day, minute| {
            let mut m = make(day, minute);
            m.bank_v = m.charge_v - 0.030 * m.charge_a;
            m
        });
        assert!(judged.found(LOW).is_none());
    }

    #[test]
    fn an_engine_that_holds_less_is_no_setting_of_the_controller() {
        let plant = Plant::new("agm", 6);
        // From eleven to four the engine holds 13.8 V; the array adds what it can.
        let judged = plant.judge(|day, minute| {
            let mut m = following(0.5 * plant.clear_w(day, minute), 6.0);
            if (660..960).contains(&minute) {
                (m.bank_v, m.charge_v) = (13.8, 13.81);
                let engine = 1.0 + 25.0 * (-(minute as f64 - 660.0) / 90.0).exp();
                m.bank_a = m.charge_a + engine;
                m.more.other_a = Some(engine + 3.0);
            }
            m
        });
        assert!(judged.found(LOW).is_none());
    }

    #[test]
    fn at_24_volts_everything_is_twice_as_large() {
        let mut plant = Plant::new("agm", 6);
        plant.design.system.nominal_v = Some(24.0);
        plant.design.battery.cells_in_series = Some(12);
        plant.design.controllers[0].absorption_v = 28.4;
        plant.design.controllers[0].float_v = Some(27.0);
        let doubled = |level: f64| {
            let make = staged(&plant, level / 2.0, stage::ABSORPTION);
            plant.judge(move |day, minute| {
                let m = make(day, minute);
                Minute {
                    charge_v: 2.0 * m.charge_v,
                    bank_v: 2.0 * m.bank_v,
                    charge_a: m.charge_a / 2.0,
                    bank_a: m.bank_a / 2.0,
                    more: m.more,
                }
            })
        };
        assert!(doubled(28.1).found(LOW).is_none());
        assert!((figure(&doubled(27.8), LOW, "held_v") - 27.8).abs() < 0.01);
    }

    #[test]
    fn one_meter_beside_the_truth_is_no_setting() {
        let plant = Plant::new("agm", 6);
        let shifted = |by: f64| {
            let make = staged(&plant, 14.2, stage::ABSORPTION);
            plant.judge(move |day, minute| {
                let mut m = make(day, minute);
                m.bank_v += by;
                m
            })
        };
        assert!(shifted(-0.4).found(LOW).is_none());
        assert!(shifted(0.4).found(HIGH).is_none());
    }

    #[test]
    fn a_switching_controller_that_pulses_below_its_set_point_is_fine() {
        let mut plant = Plant::new("agm", 6);
        plant.design.controllers[0].method = Method::Pwm;
        let make = held(&plant, 14.2);
        let judged = plant.judge(move |day, minute| {
            let mut m = make(day, minute);
            if (660..960).contains(&minute) && minute % 3 != 0 {
                m.bank_v -= 0.4;
                m.charge_v -= 0.4;
            }
            m
        });
        assert!(judged.found(LOW).is_none());
    }

    #[test]
    fn above_the_setting_but_bearable_is_watched() {
        let plant = Plant::new("agm", 6);
        let judged = plant.judge(staged(&plant, 14.6, stage::ABSORPTION));
        let finding = judged.found(HIGH).expect("high");
        assert_eq!(finding.severity, Severity::Watch);
        assert!((figure(&judged, HIGH, "held_v") - 14.6).abs() < 0.01);
        assert!((figure(&judged, HIGH, "expected_high_v") - 14.2).abs() < 0.01);
    }

    #[test]
    fn above_what_the_cells_bear_is_a_danger_even_on_one_day() {
        let plant = Plant::new("lfp", 1);
        let judged = plant.judge(held(&plant, 14.8));
        let finding = judged.found(HIGH).expect("high");
        assert_eq!(finding.severity, Severity::Stop);
        assert!((figure(&judged, HIGH, "held_v") - 14.8).abs() < 0.06);
        assert!((figure(&judged, HIGH, "minutes") - 300.0).abs() < 90.0);
        assert!(plant.judge(held(&plant, 14.6)).found(HIGH).is_none());
    }

    #[test]
    fn an_engines_regulator_counts_and_is_named() {
        let plant = Plant::new("lfp", 3);
        let judged = plant.judge(|day, minute| {
            let mut m = resting();
            if day == 1 && (30..90).contains(&minute) {
                (m.bank_v, m.charge_v, m.bank_a) = (15.0, 15.0, 20.0);
            }
            m
        });
        let finding = judged.found(HIGH).expect("high");
        assert!(finding.r#where.contains("engine"), "{}", finding.r#where);
        assert_eq!(finding.severity, Severity::Stop);
    }

    #[test]
    fn a_pack_that_has_cut_itself_off_does_not_show_its_cells() {
        let plant = Plant::new("lfp", 3);
        let judged = plant.judge(|day, minute| {
            let mut m = following(plant.clear_w(day, minute), 6.0);
            if (660..900).contains(&minute) {
                (m.bank_v, m.charge_v, m.charge_a, m.bank_a) = (14.9, 14.9, 3.0, 0.0);
            }
            m
        });
        assert!(
            judged
                .found(HIGH)
                .is_none_or(|f| f.severity != Severity::Stop)
        );
    }

    #[test]
    fn equalising_flooded_lead_now_and_then_is_fine_and_every_day_is_not() {
        let mut plant = Plant::new("flooded", 6);
        plant.design.controllers[0].absorption_v = 14.6;
        let on = |days: usize| {
            let (usual, raised) = (held(&plant, 14.6), held(&plant, 15.6));
            with_temperature(
                move |day, minute| {
                    if day < days {
                        raised(day, minute)
                    } else {
                        usual(day, minute)
                    }
                },
                |minute| if minute < 400 { 24.0 } else { 25.0 },
            )
        };
        assert!(fine_text(&plant.judge(on(1)), HIGH).contains("equalised"));
        let often = plant.judge(on(6)).found(HIGH).expect("high");
        assert_eq!(often.severity, Severity::Stop);
    }
}

mod cells {
    use super::*;

    fn dip(volts: f64, minutes: usize) -> impl Fn(usize, usize) -> Minute {
        move |day, minute| {
            let mut m = resting();
            if day == 1 && (300..300 + minutes).contains(&minute) {
                m.bank_v = volts;
                m.charge_v = volts;
            }
            if day == 1 && (700..760).contains(&minute) {
                m.bank_a = 20.0;
            }
            m
        }
    }

    #[test]
    fn cells_emptied_too_far_and_charged_again_are_a_danger() {
        let plant = Plant::new("lfp", 3);
        let judged = plant.judge(dip(9.4, 30));
        let finding = judged.found("cell-limit-passed").expect("passed");
        assert_eq!(finding.severity, Severity::Stop);
        assert!(finding.summary.contains("charged again"));
        assert!((figure(&judged, "cell-limit-passed", "lowest_v") - 9.4).abs() < 0.01);
        assert!((figure(&judged, "cell-limit-passed", "limit_v") - 10.0).abs() < 1e-9);
    }

    #[test]
    fn a_sag_a_cut_off_pack_and_lead_are_no_emptied_cells() {
        let plant = Plant::new("lfp", 3);
        for (volts, minutes) in [(9.4, 1), (0.3, 60), (10.05, 60)] {
            let judged = plant.judge(dip(volts, minutes));
            assert!(judged.found("cell-limit-passed").is_none(), "{volts} V");
        }
        assert!(
            Plant::new("agm", 3)
                .judge(dip(9.4, 30))
                .found("cell-limit-passed")
                .is_none()
        );
    }
}

mod drained {
    use super::*;

    const KIND: &str = "bank-drained";

    /// Full at noon each day; from six in the evening twelve hours at a current, given back in the morning.
    fn nights(amps: f64) -> impl Fn(usize, usize) -> Minute {
        move |_, minute| {
            let mut m = resting();
            m.bank_a = match minute {
                0..360 | 1080..1440 => -amps,
                360..720 => 2.0 * amps,
                720..780 => 1.0,
                _ => 0.0,
            };
            if (720..780).contains(&minute) {
                (m.bank_v, m.charge_v) = (14.2, 14.2);
            }
            m
        }
    }

    #[test]
    fn nights_below_the_reserve_are_counted_from_full_charges() {
        let plant = Plant::new("lfp", 4);
        // Twelve hours at 15 A out of 200 Ah: down to 10 %, the reserve is 20 %.
        let judged = plant.judge(nights(15.0));
        let finding = judged.found(KIND).expect("drained");
        assert_eq!(finding.severity, Severity::Watch);
        assert!((figure(&judged, KIND, "lowest_pct") - 10.0).abs() < 2.5);
        assert!(finding.days.len() >= 3);
    }

    #[test]
    fn deep_nights_of_lead_are_worth_a_job_and_shallow_ones_are_fine() {
        let plant = Plant::new("agm", 4);
        let deep = plant.judge(nights(15.0)).found(KIND).expect("drained");
        assert_eq!(deep.severity, Severity::Fix);
        let shallow = plant.judge(nights(5.0));
        assert!(fine_text(&shallow, KIND).contains("70 %"));
    }

    #[test]
    fn a_night_that_may_or_may_not_have_been_below_is_not_counted() {
        let plant = Plant::new("lfp", 4);
        // Down to 20.5 %.
        assert!(plant.judge(nights(13.25)).found(KIND).is_none());
    }

    #[test]
    fn without_a_full_charge_or_a_percentage_it_is_unknown() {
        let plant = Plant::new("lfp", 4);
        let judged = plant.judge(|day, minute| following(0.5 * plant.clear_w(day, minute), 6.0));
        assert!(judged.found(KIND).is_none());
        assert!(is_unknown(&judged, KIND));
    }

    #[test]
    fn a_meters_percentage_stands_in_unless_it_stands_still() {
        let plant = Plant::new("lfp", 4);
        let missing = [Role::BatteryCurrent, Role::BatteryPower];
        let with_soc = |soc: fn(usize) -> f64| {
            judge_without(&plant, &missing, |day, minute| {
                let mut m = following(0.5 * plant.clear_w(day, minute), 6.0);
                m.more.soc = Some(soc(minute));
                m
            })
        };
        let low = with_soc(|minute| if minute < 400 { 9.0 } else { 45.0 });
        assert!((figure(&low, KIND, "lowest_pct") - 9.0).abs() < 0.5);
        assert!(with_soc(|_| 9.0).found(KIND).is_none());
    }

    #[test]
    fn a_reached_cut_off_counts_and_a_sag_under_load_does_not() {
        let mut plant = Plant::new("agm", 4);
        plant.design.battery.load_cut_off_v = Some(11.5);
        let night = |amps: f64| {
            plant.judge(move |_, minute| {
                let mut m = resting();
                if (200..220).contains(&minute) {
                    (m.bank_v, m.charge_v, m.bank_a) = (11.4, 11.4, -amps);
                }
                m
            })
        };
        let empty = night(4.0);
        assert_eq!(empty.found(KIND).expect("drained").severity, Severity::Fix);
        assert!((figure(&empty, KIND, "lowest_v") - 11.4).abs() < 0.02);
        assert_eq!(figure(&empty, KIND, "nights"), 4.0);
        assert!(night(60.0).found(KIND).is_none());
    }
}

mod runaway {
    use super::*;

    const KIND: &str = "runaway-signs";

    /// Held at float from nine to five; the current goes from 2 A to an end, the bank from 25 C to an end.
    fn floating(end_a: f64, end_c: f64) -> impl Fn(usize, usize) -> Minute {
        move |_, minute| {
            let mut m = resting();
            let part = (minute as f64 - 540.0) / 480.0;
            if (0.0..1.0).contains(&part) {
                m.bank_a = 2.0 + (end_a - 2.0) * part;
                m.charge_a = m.bank_a + 3.0;
                (m.bank_v, m.charge_v) = (13.6, 13.61);
            }
            m.more.bank_c = Some(25.0 + (end_c - 25.0) * part.clamp(0.0, 1.0));
            m
        }
    }

    #[test]
    fn more_current_at_a_held_voltage_and_a_warmer_bank_are_a_danger() {
        let plant = Plant::new("agm", 2);
        let judged = plant.judge(floating(16.0, 40.0));
        let finding = judged.found(KIND).expect("runaway");
        assert_eq!(finding.severity, Severity::Stop);
        assert!((figure(&judged, KIND, "held_v") - 13.6).abs() < 0.01);
        assert!((figure(&judged, KIND, "current_rise_a") - 13.0).abs() < 1.0);
        assert!((figure(&judged, KIND, "temperature_rise_c") - 14.0).abs() < 1.5);
    }

    #[test]
    fn a_current_that_falls_or_finds_its_float_level_is_fine() {
        let plant = Plant::new("agm", 2);
        assert!(fine_text(&plant.judge(floating(1.0, 32.0)), KIND).contains("never kept rising"));
        assert!(plant.judge(floating(4.0, 35.0)).found(KIND).is_none());
    }

    #[test]
    fn a_bank_that_stays_cool_is_not_running_away() {
        let plant = Plant::new("agm", 2);
        assert!(plant.judge(floating(16.0, 26.0)).found(KIND).is_none());
    }

    #[test]
    fn without_a_temperature_a_rising_current_is_unknown() {
        let plant = Plant::new("agm", 2);
        let judged = judge_without(&plant, &[Role::BatteryTemperature], floating(16.0, 40.0));
        assert!(judged.found(KIND).is_none());
        assert!(is_unknown(&judged, KIND));
    }

    #[test]
    fn a_morning_of_rising_sun_is_no_runaway() {
        let plant = Plant::new("agm", 3);
        let judged = plant.judge(with_temperature(
            |day, minute| following(plant.clear_w(day, minute), 6.0),
            |minute| 15.0 + minute as f64 / 100.0,
        ));
        assert!(judged.found(KIND).is_none());
    }
}
