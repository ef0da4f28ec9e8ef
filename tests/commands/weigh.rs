//! `weigh`: rows, advice, refusals, wrong usage.

use super::*;

const WEIGH_TRIP: [&str; 3] = ["weigh", "--design", "trip/design.toml"];

fn weighed(at: &Path, more: &[&str]) -> Value {
    let ran = run(at, &[&WEIGH_TRIP[..], more, &["--json"]].concat());
    assert_eq!(ran.status, 0, "{}", ran.err);
    serde_json::from_str(&ran.out).unwrap()
}

#[test]
fn the_json_has_what_is_promised() {
    let at = trip();
    let found = weighed(
        at.path(),
        &[
            "--try",
            "battery.capacity=560 Ah",
            "--try",
            "load.compressor fridge.when=day",
        ],
    );
    assert_eq!(found["schema"], "ampledger-weigh-1");
    for key in ["ah_pct", "soc_points", "ok", "why"] {
        assert!(found["reproduced"].get(key).is_some(), "{key}");
    }
    assert_eq!(found["reproduced"]["ok"], true, "{}", found["reproduced"]);
    let rows = found["options"].as_array().unwrap();
    assert_eq!(rows[0]["name"], "as it is");
    for row in rows {
        for key in [
            "name",
            "set",
            "cost",
            "unserved_wh_per_day",
            "full_share",
            "lowest_soc_pct",
            "nights_below_reserve",
            "held_back_wh_per_day",
            "change",
            "note",
        ] {
            assert!(row.get(key).is_some(), "{key}");
        }
        let change = row["change"].as_str().unwrap();
        assert!(["better", "same", "worse", "unclear"].contains(&change));
    }
    let names: Vec<&str> = rows.iter().map(|r| r["name"].as_str().unwrap()).collect();
    assert!(names.contains(&"battery.capacity=560 Ah"), "{names:?}");
    assert!(names.contains(&"one more string of panels"), "{names:?}");
    assert!(found.get("recommended").is_some() && found["why"].is_string());
}

#[test]
fn the_text_is_plain_and_the_same_each_time() {
    let at = trip();
    let first = run(at.path(), &WEIGH_TRIP);
    assert_eq!(first.status, 0, "{}", first.err);
    is_plain(&first.out);
    assert!(first.out.contains("as it is") && first.out.contains("ADVICE"));
    assert_eq!(run(at.path(), &WEIGH_TRIP).out, first.out);
    let month = run(at.path(), &[&WEIGH_TRIP[..], &["--month", "11"]].concat());
    is_plain(&month.out);
    assert!(month.out.contains("November, modelled"), "{}", month.out);
}

#[test]
fn wrong_tries_are_wrong_usage() {
    let at = trip();
    for (tried, says) in [
        ("battery.capactiy=300 Ah", "battery.capacity"),
        ("battery.capacity=300 V", "battery.capacity"),
        ("battery.capacity", "KEY=VALUE"),
        ("load.toaster.hours=0", "toaster"),
        ("log.files=x.csv", "cannot be tried"),
    ] {
        let ran = run(at.path(), &[&WEIGH_TRIP[..], &["--try", tried]].concat());
        refused(&ran, 2, &[says]);
    }
    let ran = run(at.path(), &[&WEIGH_TRIP[..], &["--month", "13"]].concat());
    assert_eq!(ran.status, 2);
}

#[test]
fn a_log_without_the_banks_current_has_nothing_to_replay() {
    let log: String = (0..96)
        .map(|k| format!("2026-06-01 {:02}:{:02}:00,13.2\n", k / 4, k % 4 * 15))
        .collect();
    let at = workshop(DESIGN, &format!("time,battery voltage (V)\n{log}"));
    let ran = run(at.path(), &["weigh", "log.csv", "--design", "design.toml"]);
    refused(&ran, 1, &["nothing to replay", "current"]);
}

#[test]
fn the_report_weighs_the_options_of_the_design_and_is_silent_without_any() {
    let at = trip();
    let ran = run(at.path(), &JUDGE_TRIP);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let found = report(&at.path().join("out"));
    let rows = found["options"].as_array().unwrap();
    assert!(rows.len() >= 2 && rows[0]["name"] == "as it is");
    assert!(found["recommended_why"].is_string());
    let page = fs::read_to_string(at.path().join("out/report.html")).unwrap();
    assert!(page.contains("<section id=\"options\""));
    assert!(at.path().join("out/charts/options.svg").is_file());

    let bare = workshop(DESIGN, &log());
    assert_eq!(run(bare.path(), &RECONCILE).status, 0);
    let page = fs::read_to_string(bare.path().join("out/report.html")).unwrap();
    assert!(!page.contains("<section id=\"options\""));
    assert!(!bare.path().join("out/charts/options.svg").exists());
}
