//! The bank and the yields.

use ampledger::design::Chemistry;
use ampledger::physics::{bank, rest_voltage, yields};

use crate::{expected, near, rows};

#[test]
fn rest_voltages() {
    for row in rows("rest_voltage_lead_acid.csv", 31) {
        let chemistry = match row.text("table") {
            "flooded_bci" => Chemistry::Flooded,
            "agm_typical" => Chemistry::Agm,
            "gel_typical" => Chemistry::Gel,
            // Another honest table of flooded lead must lie within the range that is admitted.
            "flooded_second_public_table" => {
                let read = rest_voltage::soc_from_rest(
                    Chemistry::Flooded,
                    row.number("rest_v_12v") / 6.0,
                    0.01,
                );
                let soc = row.number("soc_pct") / 100.0;
                let within = read.low <= soc && soc <= read.high;
                assert!(within, "{soc}: {read:?}");
                continue;
            }
            other => panic!("an unknown table {other}"),
        };
        let soc = row.number("soc_pct") / 100.0;
        let found = 6.0 * rest_voltage::rest_cell_v(chemistry, soc);
        near(found, row.number("rest_v_12v"), 1e-9, row.text("table"));
    }
    for row in rows("rest_voltage_lfp.csv", 33) {
        let found = rest_voltage::rest_cell_v(Chemistry::Lfp, row.number("soc_pct") / 100.0);
        let typical = row.text("table") == "typical_cell";
        // The computed rows agree with the typical ones within 16 mV, as their head says.
        let tolerance = if typical { 1e-9 } else { 0.016 };
        near(found, row.number("cell_v"), tolerance, row.text("soc_pct"));
        if typical {
            near(
                16.0 * found,
                row.number("v_16s_48v"),
                0.0006,
                "sixteen in series",
            );
        }
    }
}

#[test]
fn peukert() {
    for (i, row) in rows("peukert.csv", 11).iter().enumerate() {
        let what = format!("row {i}");
        let (rated, rate) = (row.number("c_rated_ah"), row.number("h_rate"));
        let (exponent, current) = (row.number("k"), row.number("current_a"));
        let hours = bank::peukert_hours(rated, rate, exponent, current);
        // Printed to four decimals.
        near(hours, row.number("hours"), 1e-6 * hours + 0.5e-4, &what);
        let delivered = row.number("delivered_ah");
        near(hours * current, delivered, 1e-6 * delivered + 0.5e-4, &what);
        let held = bank::capacity_at_current_ah(rated, rate, exponent, current);
        near(held, delivered.min(1.05 * rated), 1e-4, &what);
    }
}

#[test]
fn capacity_between_anchors() {
    for row in rows("capacity_two_anchors.csv", 5) {
        let case = row.text("case");
        let lead = case.contains("lead");
        let found = bank::capacity_between(
            row.number("ah_out"),
            row.number("ah_in"),
            row.number("eta_c"),
            row.number("soc1"),
            row.number("soc2"),
            if lead { 0.05 } else { 0.03 },
        )
        .unwrap();
        let wanted = row.number("capacity_ah");
        near(found.capacity_ah, wanted, 0.001 * wanted, case);
        near(
            found.relative_sd * 100.0,
            row.number("rel_sd_pct"),
            0.006,
            case,
        );
    }
}

#[test]
fn internal_resistance() {
    for row in rows("internal_resistance_step.csv", 5) {
        let before = (row.number("v_before"), row.number("i_before_a"));
        let after = (row.number("v_after"), row.number("i_after_a"));
        let (found, sd) = bank::step_resistance_ohm(before, after, 0.010).unwrap();
        near(found * 1000.0, row.number("r_mohm"), 0.01, row.text("case"));
        near(sd * 1000.0, row.number("sd_mohm"), 0.01, row.text("case"));
    }
}

#[test]
fn counter_drift() {
    for (i, row) in rows("soc_drift.csv", 5).iter().enumerate() {
        let what = format!("row {i}");
        let days = row.number("days");
        let ah_in = row.number("ah_charged_per_day") * days;
        let (set, truth) = (row.number("eta_set"), row.number("eta_true"));
        let offset = bank::counter_drift_ah(row.number("offset_a"), days, 0.0, set, truth);
        near(offset, row.number("drift_offset_ah"), 0.01, &what);
        let efficiency = bank::counter_drift_ah(0.0, days, ah_in, set, truth);
        near(efficiency, row.number("drift_eta_ah"), 0.01, &what);
        let both = bank::counter_drift_ah(row.number("offset_a"), days, ah_in, set, truth);
        let share = both / row.number("capacity_ah") * 100.0;
        near(share, row.number("drift_pct_of_capacity"), 0.01, &what);
    }
}

#[test]
fn performance_ratio() {
    let wanted = rows("performance_ratio.csv", 19);
    let part =
        |quantity: &str, found: f64| near(found, expected(&wanted, quantity), 1e-4, quantity);
    let hourly = [
        60.0, 190.0, 350.0, 520.0, 660.0, 760.0, 800.0, 780.0, 690.0, 540.0, 370.0, 200.0, 70.0,
    ];
    let stored = expected(&wanted, "E_bat_in_wh") - expected(&wanted, "E_bat_out_wh");
    part("stored_net_wh", stored);
    // The storage correction counts the rise between two anchors, 60 Wh.
    let period = yields::Period {
        array_w: expected(&wanted, "P0_w"),
        irradiation_wh_m2: hourly.iter().sum(),
        array_wh: expected(&wanted, "E_A_wh"),
        load_wh: expected(&wanted, "E_load_wh"),
        stored_wh: 60.0,
    };
    let found = period.yields().unwrap();
    part("Yr_h", found.reference_h);
    part("Y_A_h", found.array_h);
    part("Y_f_h", found.final_h);
    part("L_C_h", found.capture_loss_h);
    part("L_S_h", found.system_loss_h);
    part("PR_final", found.performance_ratio);
    part("PR_array", found.array_ratio);
    part("Y_f_storage_corrected_h", found.stored_final_h);
    part("PR_storage_corrected", found.stored_performance_ratio);
}
