//! Nights on which the bank went too low.

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
