//! The voltage the bank is charged at.

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
fn a_full_bank_held_too_high_takes_nothing_and_is_in_danger_for_all_that_time() {
    let plant = Plant::new("lfp", 2);
    let judged = plant.judge(|day, minute| {
        let mut m = following(plant.clear_w(day, minute), 6.0);
        match minute {
            // It is charged beyond what it bears for four minutes, and left there for four hours.
            660..664 => (m.bank_v, m.charge_v, m.charge_a, m.bank_a) = (14.85, 14.9, 13.0, 10.0),
            664..900 => (m.bank_v, m.charge_v, m.charge_a, m.bank_a) = (14.9, 14.9, 3.0, 0.02),
            _ => {}
        }
        m
    });
    let finding = judged.found(HIGH).expect("high");
    assert_eq!(finding.severity, Severity::Stop);
    assert!((figure(&judged, HIGH, "minutes") - 480.0).abs() < 20.0);
    assert!(
        finding.summary.contains(" hours on 2 days"),
        "{}",
        finding.summary
    );
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

#[test]
fn a_low_voltage_read_at_the_bank_alone_may_be_a_joints() {
    let plant = Plant::new("agm", 6);
    let low = || staged(&plant, 13.7, stage::ABSORPTION);
    let with_joint = |judged: &Judged| {
        let finding = judged.found(LOW).expect("low");
        let joint = finding.also_possible.iter();
        let joint = joint
            .filter(|p| p.starts_with("a joint or a cable"))
            .count();
        (finding.confidence, joint)
    };
    let at_the_bank = judge_without(&plant, &[Role::ChargeVoltage], low());
    assert_eq!(with_joint(&at_the_bank), (Confidence::Medium, 1));
    let both = plant.judge(low());
    assert_eq!(with_joint(&both), (Confidence::High, 0));
    // A current that stays as it was is no voltage held at the bank.
    let steady = judge_without(&plant, &[Role::ChargeVoltage], |day, minute| {
        let mut made = low()(day, minute);
        if (660..960).contains(&minute) {
            (made.bank_a, made.charge_a) = (12.0, 15.0);
        }
        made
    });
    assert!(steady.found(LOW).is_none());
    let why = steady.unknown(LOW).expect("not told");
    assert!(why.contains("did not fall"), "{why}");
}

/// Half an hour of absorption, then float with the bank still hungry.
fn cut_short(plant: &Plant, absorption_v: f64) -> impl Fn(usize, usize) -> Minute + '_ {
    let (absorbing, floating) = (held(plant, absorption_v), held(plant, 13.6));
    move |day, minute| {
        let (mut made, stage) = match minute {
            660..690 => (absorbing(day, minute), stage::ABSORPTION),
            690..960 => (floating(day, minute), stage::FLOAT),
            300..1200 => (floating(day, minute), stage::BULK),
            _ => (floating(day, minute), stage::OFF),
        };
        made.more.stage = Some(stage);
        made
    }
}

#[test]
fn absorption_is_not_called_short_at_a_voltage_at_which_no_bank_is_ever_done() {
    let plant = Plant::new("agm", 6);
    const SHORT: &str = "absorption-short";
    let right = plant.judge(cut_short(&plant, 14.2));
    assert!(right.found(SHORT).is_some());
    let high = plant.judge(cut_short(&plant, 15.4));
    assert!(high.found(HIGH).is_some());
    assert!(high.found(SHORT).is_none());
    let why = high.unknown(SHORT).expect("not told");
    assert!(why.contains("takes current for gas"), "{why}");
}
