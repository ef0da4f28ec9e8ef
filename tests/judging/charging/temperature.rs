//! Charging too hot or too cold.

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
fn a_bank_that_stands_at_its_limit_is_not_beyond_it() {
    let plant = Plant::new("lfp", 3);
    let judged = plant.judge(with_temperature(held(&plant, 14.2), day_of(-0.2, 0.4)));
    assert!(judged.found("cold-charge").is_none());
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
