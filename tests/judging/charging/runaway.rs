//! Current that rises at a held voltage.

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
