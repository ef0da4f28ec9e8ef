//! Cells, panels, controllers, fuses and conductors.

use ampledger::design::{Material, WireSize};
use ampledger::physics::{cell, conductor, converter, panel, protection};

use crate::{near, rows};

#[test]
fn cell_temperature_and_power() {
    for (i, row) in rows("cell_temperature.csv", 8).iter().enumerate() {
        let what = format!("row {i}");
        let (g, air, wind) = (
            row.number("g_wm2"),
            row.number("t_air_c"),
            row.number("wind_ms"),
        );
        for (noct, temperature, power) in [
            (45.0, "tc_noct45", "p100_noct45_w"),
            (58.0, "tc_noct58", "p100_noct58_w"),
        ] {
            let hot = cell::noct_temperature(air, g, noct);
            near(hot, row.number(temperature), 0.01, &what);
            // The vectors leave out the loss in low light.
            let bright = panel::mpp_power_w(100.0, g, hot, -0.0038) / panel::low_light_factor(g);
            near(bright, row.number(power), 0.01, &what);
        }
        near(
            cell::faiman(air, g, wind, 25.0, 6.84),
            row.number("tc_faiman_25_6.84"),
            0.01,
            &what,
        );
        near(
            cell::faiman(air, g, wind, 15.0, 4.0),
            row.number("tc_faiman_flush_15_4"),
            0.01,
            &what,
        );
        let rack = cell::king(air, g, wind, -3.56, -0.075, 3.0);
        near(rack, row.number("tc_king_open_rack"), 0.01, &what);
        let back = cell::king(air, g, wind, -2.81, -0.0455, 0.0);
        near(back, row.number("tc_king_insulated_back"), 0.01, &what);
    }
}

#[test]
fn direct_coupling_against_tracking() {
    let curve = panel::Curve::new(18.2, 5.5, 22.3, 5.9, -0.003, 0.0005).unwrap();
    for (i, row) in rows("pwm_vs_mppt.csv", 9).iter().enumerate() {
        let what = format!("row {i}");
        let (g, hot, bank_v) = (
            row.number("g_wm2"),
            row.number("t_cell_c"),
            row.number("v_bat"),
        );
        let drop = row.number("drop_v");
        let part = |column: &str, found: f64| {
            let wanted = row.number(column);
            near(found, wanted, 0.005 * wanted, &what);
        };
        part("pwm_i_a", curve.current_at(bank_v + drop, g, hot));
        let direct = converter::pwm_output_w(&curve, g, hot, bank_v, drop, 1);
        part("pwm_p_bat_w", direct);
        let (best_v, best_w) = curve.best_point(g, hot);
        part("vmp_v", best_v);
        part("pmp_w", best_w);
        let tracked = converter::mppt_output_w(best_w, 0.96, None, bank_v);
        part("mppt_p_bat_w", tracked);
        near(
            tracked / direct - 1.0,
            row.number("mppt_gain_rel"),
            0.002,
            &what,
        );
    }
}

#[test]
fn controller_rating() {
    for row in rows("controller_rating.csv", 6) {
        let (power, bank_v, limit) = (
            row.number("p0_w"),
            row.number("v_bat"),
            row.number("limit_a"),
        );
        let needed = converter::needed_output_a(power, bank_v);
        near(needed, row.number("i_at_stc_a"), 0.001, "needed");
        near(
            needed * protection::CONTINUOUS_MARGIN,
            row.number("i_times_1.25"),
            0.001,
            "margin",
        );
        let cut = converter::peak_cut(power, bank_v, limit);
        near(cut * 100.0, row.number("peak_clip_pct"), 0.001, "cut");
        assert_eq!(cut > 0.0, row.text("verdict") == "clips");
    }
}

#[test]
fn cold_strings() {
    for row in rows("voc_cold.csv", 8) {
        let (voc, n, cold) = (
            row.number("voc_stc_v"),
            row.number("n_series"),
            row.number("t_min_c"),
        );
        let beta = row.number("beta_pct_per_k") / 100.0;
        let limit = row.number("controller_limit_v");
        near(
            panel::heat_factor(cold, beta),
            row.number("factor_coef"),
            1e-5,
            "factor",
        );
        let by_sheet = panel::string_voltage_v(voc, n as u32, beta, cold);
        near(
            by_sheet,
            row.number("voc_cold_coef_v"),
            0.01,
            "by coefficient",
        );
        assert_eq!(by_sheet > limit, row.text("verdict_coef") == "over");
        near(
            protection::cold_factor(cold),
            row.number("factor_table"),
            1e-9,
            "table",
        );
        let by_table = voc * n * protection::cold_factor(cold);
        near(by_table, row.number("voc_cold_table_v"), 0.01, "by table");
        assert_eq!(by_table > limit, row.text("verdict_table") == "over");
    }
}

#[test]
fn fuses() {
    for row in rows("fuse_examples.csv", 6) {
        let least = protection::least_fuse_a(row.number("continuous_a"));
        near(least, row.number("min_rating_a"), 0.001, row.text("case"));
        let rating = protection::next_standard_fuse_a(least).unwrap();
        near(rating, row.number("next_standard_a"), 0.0, row.text("case"));
        let over = rating > row.number("ampacity_a");
        assert_eq!(
            over,
            row.text("verdict") == "fuse_exceeds_wire",
            "{}",
            row.text("case")
        );
    }
}

#[test]
fn gauge_sizes() {
    let km = |gauge, material| conductor::resistance_20c_ohm_per_km(WireSize::Awg(gauge), material);
    for row in rows("awg_resistance.csv", 15) {
        let name = row.text("awg");
        let gauge = match name.split_once('/') {
            Some((noughts, _)) => 1 - noughts.parse::<i32>().unwrap(),
            None => name.parse().unwrap(),
        };
        let part = |column: &str, found: f64| {
            let wanted = row.number(column);
            near(found, wanted, 0.0005 * wanted, name);
        };
        part("area_mm2", conductor::awg_area_mm2(gauge));
        part("r20_cu_solid_ohm_per_km", km(gauge, Material::Copper));
        part("r20_al_solid_ohm_per_km", km(gauge, Material::Aluminium));
        let size = WireSize::Awg(gauge);
        let kilometre =
            conductor::resistance_mohm(1000.0, size, Material::Copper, 75.0, true) / 1000.0;
        part("r75_cu_solid_computed_ohm_per_km", kilometre);
        // Strands add to the solid value: at 20 C the stranded table stands up to 3 % above it.
        let strands = row.number("nec_cu_uncoated_20c_ohm_per_km") / km(gauge, Material::Copper);
        assert!((1.0..1.035).contains(&strands), "{name}: {strands}");
    }
}

#[test]
fn metric_sizes() {
    let km = |mm2, material| conductor::resistance_20c_ohm_per_km(WireSize::Metric(mm2), material);
    for row in rows("iec60228_resistance.csv", 18) {
        let mm2 = row.number("mm2_nominal");
        near(
            km(mm2, Material::Copper),
            row.number("class5_plain"),
            1e-12,
            row.text("mm2_nominal"),
        );
        if !row.text("al_class2").is_empty() {
            let found = km(mm2, Material::Aluminium);
            near(
                found,
                row.number("al_class2"),
                1e-12,
                row.text("mm2_nominal"),
            );
        }
    }
}

#[test]
fn voltage_drop() {
    for row in rows("voltage_drop.csv", 12) {
        let case = row.text("case");
        let part = |column: &str, found: f64| {
            let wanted = row.number(column);
            // One in a thousand, or half of the last printed digit where that is more.
            near(found, wanted, (0.001 * wanted).max(0.0006), case);
        };
        let (current, length) = (row.number("current_a"), row.number("one_way_m"));
        let warm = row.number("conductor_c");
        let joints = row.number("joints_ohm") * 1000.0;
        let listed = row.number("r20_ohm_per_km");
        let size = match listed {
            0.0 => None,
            r if (r - 3.2772).abs() < 1e-9 => Some(WireSize::Awg(10)),
            r if (r - 5.2106).abs() < 1e-9 => Some(WireSize::Awg(12)),
            r if (r - 20.95).abs() < 1e-9 => Some(WireSize::Awg(18)),
            7.98 => Some(WireSize::Metric(2.5)),
            4.95 => Some(WireSize::Metric(4.0)),
            3.30 => Some(WireSize::Metric(6.0)),
            1.21 => Some(WireSize::Metric(16.0)),
            0.554 => Some(WireSize::Metric(35.0)),
            other => panic!("{case}: no size for {other}"),
        };
        let run = size.map_or(0.0, |size| {
            conductor::resistance_mohm(length, size, Material::Copper, warm, false)
        });
        part("r_total_mohm", run + joints);
        let drop = conductor::drop_v(current, run + joints);
        part("drop_v", drop);
        part("drop_pct", drop / row.number("v_nominal") * 100.0);
        part("loss_w", conductor::heat_w(current, run + joints));
    }
}
