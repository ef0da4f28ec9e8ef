//! Cells emptied too far.

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
