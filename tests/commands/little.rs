//! Logs that can be read but not judged get a report that says so.

use super::*;

fn judged(header: &str, row: impl Fn(u32) -> Option<String>) -> Value {
    let rows: String = (0..480)
        .filter_map(|k| {
            let minute = k * 15;
            let stamp = format!(
                "2026-06-{:02} {:02}:{:02}",
                minute / 1440 + 1,
                minute / 60 % 24,
                minute % 60
            );
            Some(format!("{stamp},{}\n", row(k)?))
        })
        .collect();
    let at = workshop(DESIGN, &format!("{header}\n{rows}"));
    let ran = run(at.path(), &RECONCILE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report = report(&at.path().join("out"));
    contract::holds(&report);
    report
}

#[test]
fn volts_alone() {
    let report = judged("time,battery voltage (V)", |_| Some("13.2".to_owned()));
    assert_eq!(report["verdict"]["limiting"], "log");
    assert!(report["days"][1]["harvest_wh"].is_null());
}

#[test]
fn nothing_from_the_array_is_neither_a_full_bank_nor_a_dull_sky() {
    let header =
        "time,battery voltage (V),battery current (A),charge voltage (V),charge current (A)";
    let report = judged(header, |_| Some("13.14,-3,13.19,0".to_owned()));
    for day in report["days"].as_array().unwrap() {
        assert_eq!(day["state"], "short", "{day}");
        assert_eq!(day["harvest_wh"], 0.0);
        assert!(
            day["held_back_wh"].as_f64().unwrap() < 1.0,
            "nothing held it back: {day}"
        );
    }
}

#[test]
fn days_without_readings_are_not_spoken_for() {
    let report = judged("time,panel power (W)", |k| {
        let hour = f64::from(k % 96) / 4.0;
        let watts = 150.0 * ((hour - 6.0) / 12.0 * std::f64::consts::PI).sin().max(0.0);
        (!(192..384).contains(&k)).then(|| format!("{watts:.1}"))
    });
    let text = report["verdict"]["text"].as_str().unwrap();
    assert!(text.contains("3 of 5 days"), "{text}");
}

#[test]
fn one_row_or_one_a_day() {
    let header = "time,battery voltage (V),battery current (A)";
    for every in [480, 96] {
        let report = judged(header, |k| (k % every == 0).then(|| "13.2,-1".to_owned()));
        assert_eq!(report["verdict"]["limiting"], "log");
        assert_eq!(report["days"].as_array().unwrap().len() as u32, 480 / every);
        assert!(
            report["days"][0]["bank_out_wh"].is_null(),
            "nothing to add up"
        );
    }
}

#[test]
fn totals_of_the_day_are_taken_as_they_stand() {
    let header = "time,yield (Wh),load (Wh),lowest soc (%),max battery voltage (V)";
    let report = judged(header, |k| {
        (k % 96 == 0).then(|| format!("{},350,{},14.2", 400 + k, 50 + k / 96))
    });
    assert_eq!(report["verdict"]["limiting"], "log");
    let days = report["days"].as_array().unwrap();
    assert_eq!(days.len(), 5);
    for (k, day) in days.iter().enumerate() {
        assert_eq!(day["harvest_wh"], 400.0 + 96.0 * k as f64);
        assert_eq!(day["load_wh"], 350.0);
        assert_eq!(day["soc_low_pct"], 50.0 + k as f64);
        assert_eq!(day["high_v"], 14.2);
        assert_eq!(day["state"], "unmeasured");
        assert!(day["why"].as_str().unwrap().contains("totals"));
    }
    let sum = 5.0 * 400.0 + 96.0 * 10.0;
    let account = |name: &str, of: &str| {
        let entries = report["account"][of].as_array().unwrap();
        entries.iter().find(|e| e["name"] == name).unwrap()["wh"]
            .as_f64()
            .unwrap()
    };
    assert!((account("harvested", "harvest") - sum).abs() < 0.1);
    assert!((account("loads", "bank") - 1750.0).abs() < 0.1);
}

#[test]
fn rows_wholly_in_gaps() {
    let header = "time,battery voltage (V),battery current (A)";
    let report = judged(header, |k| (k % 80 < 2).then(|| "13.2,-1".to_owned()));
    assert_eq!(report["verdict"]["limiting"], "log");
    assert!(
        report["days"]
            .as_array()
            .unwrap()
            .iter()
            .all(|d| d["judged"] == false)
    );
}

/// Rows of a harvest's counter every five minutes from a June midnight: what it shows after so many Wh, the
/// same 60 W from six in the morning to six at night.
fn counter(days: u32, shown: impl Fn(u32, f64) -> Option<f64>) -> String {
    let mut wh = 0.0;
    let mut text = "time,harvest_total (Wh)\n".to_owned();
    for k in 0..days * 288 {
        let (day, minute) = (k / 288 + 1, k % 288 * 5);
        if let Some(total) = shown(k, wh) {
            let (hour, minute) = (minute / 60, minute % 60);
            text += &format!("2026-06-{day:02} {hour:02}:{minute:02}:17,{total:.2}\n");
        }
        if (360..1080).contains(&minute) {
            wh += 5.0;
        }
    }
    text
}

/// Harvest of each day, and the total as measured.
fn harvested(log: &str) -> (Vec<f64>, f64) {
    let at = workshop(DESIGN, log);
    let ran = run(at.path(), &RECONCILE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report = report(&at.path().join("out"));
    contract::holds(&report);
    let days = report["days"].as_array().unwrap();
    let measured = report["measured"].as_array().unwrap();
    let total = measured.iter().find(|m| m["date"].is_null()).unwrap();
    assert_eq!(total["role"], "harvest_total");
    (
        days.iter()
            .map(|d| d["harvest_wh"].as_f64().unwrap())
            .collect(),
        total["wh_in"].as_f64().unwrap(),
    )
}

fn near(found: f64, wanted: f64) -> bool {
    (found - wanted).abs() < 0.1
}

#[test]
fn a_running_counter_tells_the_harvest() {
    // A hundredth of a Wh from row to row at night: the sun can be followed by it.
    let fine = |k: u32, wh: f64| Some(50_000.0 + wh + f64::from(k) / 100.0);
    let (days, total) = harvested(&counter(6, fine));
    assert!(days.iter().all(|wh| (wh - 722.9).abs() < 0.2), "{days:?}");
    assert!((total - 6.0 * 722.9).abs() < 0.5, "{total}");
}

#[test]
fn a_coarse_counter_tells_days() {
    let coarse = |_, wh: f64| Some((wh / 100.0).floor() * 100.0);
    let (days, total) = harvested(&counter(6, coarse));
    assert!(
        days.iter().all(|wh| [700.0, 800.0].contains(wh)),
        "{days:?}"
    );
    assert!(near(total, 4300.0), "{total}");
}

#[test]
fn a_power_logged_beside_it_goes_before_a_counter() {
    let counted = counter(6, |k, wh| Some(wh + f64::from(k) / 100.0));
    let at = workshop(DESIGN, &counted);
    // The array gives 10 W all day and night, whatever the counter says.
    let watts: String = (0..6 * 288)
        .map(|k| {
            let (day, minute) = (k / 288 + 1, k % 288 * 5);
            let (hour, minute) = (minute / 60, minute % 60);
            format!("2026-06-{day:02} {hour:02}:{minute:02}:00,10\n")
        })
        .collect();
    fs::write(
        at.path().join("array.csv"),
        format!("time,panel power (W)\n{watts}"),
    )
    .unwrap();
    let ran = run(at.path(), &[&RECONCILE[..], &["array.csv"]].concat());
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report = report(&at.path().join("out"));
    let day = report["days"][1]["harvest_wh"].as_f64().unwrap();
    assert!((200.0..=240.0).contains(&day), "{day}");
}

#[test]
fn a_counter_that_begins_anew_or_pauses_loses_what_it_did_not_show() {
    // Noon of the second day: it begins at 0. Of the third two hours are missing. On the fourth it shows 0 twice.
    let (anew, gap, dip) = (288 + 144, 2 * 288 + 144, 3 * 288 + 144);
    let shown = |k: u32, wh: f64| {
        let total = if k < anew { 90_000.0 + wh } else { wh - 1080.0 };
        match k {
            k if (gap..gap + 24).contains(&k) => None,
            k if (dip..dip + 2).contains(&k) => Some(0.0),
            _ => Some(total),
        }
    };
    let (days, total) = harvested(&counter(6, shown));
    assert!(near(days[0], 720.0) && near(days[1], 715.0), "{days:?}");
    assert!(near(days[2], 720.0 - 25.0 * 5.0), "{days:?}");
    assert!(near(days[3], 720.0), "{days:?}");
    assert!(near(total, days.iter().sum()), "{total} {days:?}");
}

#[test]
fn without_a_harvest_the_account_says_no_more_than_the_days() {
    let volts: String = (0..6 * 288)
        .map(|k| {
            let (day, minute) = (k / 288 + 1, k % 288 * 5);
            format!(
                "2026-06-{day:02} {:02}:{:02}:00,13.2\n",
                minute / 60,
                minute % 60
            )
        })
        .collect();
    let at = workshop(DESIGN, &format!("time,battery voltage (V)\n{volts}"));
    let ran = run(at.path(), &RECONCILE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report = report(&at.path().join("out"));
    contract::holds(&report);
    for day in report["days"].as_array().unwrap() {
        assert!(
            day["unmeasured_wh"].is_null() && day["harvest_wh"].is_null(),
            "{day}"
        );
    }
    let entries = report["account"]["harvest"].as_array().unwrap();
    let of = |name: &str, key: &str| {
        let entry = entries.iter().find(|e| e["name"] == name).unwrap();
        entry[key].as_f64().unwrap()
    };
    for step in ["weather", "heat", "unmeasured", "harvested"] {
        assert_eq!(of(step, "wh"), 0.0, "{step}");
    }
    assert!(of("unmeasured", "low") < -1000.0 && of("harvested", "high") > 1000.0);
    let unknown = report["unknown"].as_array().unwrap();
    assert!(unknown.iter().any(|u| u["kind"] == "unmeasured"));
}
