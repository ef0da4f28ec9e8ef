//! More current into the bank than it may take.

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
