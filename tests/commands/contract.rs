//! What report.json and days.csv promise, whatever was read.

use super::*;

const TOP: [&str; 15] = [
    "schema",
    "version",
    "run",
    "system",
    "inputs",
    "measured",
    "period",
    "verdict",
    "days",
    "account",
    "performance",
    "findings",
    "checked",
    "unknown",
    "assumed",
];
const DAY: [&str; 26] = [
    "date",
    "coverage",
    "sun_coverage",
    "planned_wh",
    "clear_wh",
    "offered_wh",
    "array_wh",
    "harvest_wh",
    "held_back_wh",
    "lost_wh",
    "unmeasured_wh",
    "unexplained_wh",
    "load_wh",
    "other_charge_wh",
    "bank_in_wh",
    "bank_out_wh",
    "bank_in_ah",
    "bank_out_ah",
    "soc_low_pct",
    "soc_high_pct",
    "low_v",
    "high_v",
    "reached_full",
    "judged",
    "state",
    "why",
];
const FINDING: [&str; 14] = [
    "kind",
    "severity",
    "confidence",
    "where",
    "from",
    "to",
    "days",
    "lost_wh_per_day",
    "summary",
    "evidence",
    "also_possible",
    "next_check",
    "chart",
    "why",
];

/// The evidence every kind of finding carries.
fn evidence(kind: &str) -> &'static [&'static str] {
    match kind {
        "harvest-short" => &["lost_wh", "worst_day"],
        "array-weak" => &["scale"],
        "array-part-out" => &["fraction_out", "since"],
        "array-dark" => &["dark_h"],
        "shade-repeating" => &[
            "from_time",
            "to_time",
            "sun_from_deg",
            "sun_to_deg",
            "depth",
        ],
        "drop-array-cable" => &["design_mohm", "drop_pct"],
        "drop-rising" => &["before_mohm", "after_mohm", "since"],
        "charge-voltage-low" | "charge-voltage-high" => {
            &["held_v", "expected_low_v", "expected_high_v"]
        }
        "capacity-low" => &["capacity_ah", "rated_ah"],
        "bank-drained" => &["lowest_pct", "lowest_v", "nights"],
        "cell-limit-passed" => &["lowest_v", "limit_v"],
        "hot-charge" => &["charged_min", "highest_c"],
        "charge-current-high" => &["current_a", "limit_a"],
        "runaway-signs" => &["held_v", "current_rise_a", "temperature_rise_c"],
        "charge-loss-high" => &["charge_efficiency"],
        "battery-resistance-high" => &["resistance_mohm", "typical_mohm"],
        "standby-high" => &["standby_a", "budget_a"],
        "clock-off" => &["shift_min"],
        "current-reversed" => &[],
        "current-offset" => &["offset_a"],
        "logs-disagree" => &["ratio", "what"],
        "cold-voltage-over-limit" => &["string_voc_v", "limit_v", "at_c"],
        "controller-undersized" => &["array_a", "limit_a"],
        "cable-undersized" | "fuse-unsuitable" => &["run", "current_a", "fuse_a", "ampacity_a"],
        "controller-limiting" => &["limit_a", "lost_wh"],
        "drop-battery-cable" => &[
            "resistance_mohm",
            "design_mohm",
            "excess_mohm",
            "drop_v",
            "at_a",
            "lost_wh",
            "heat_w",
        ],
        "meter-offset" => &["offset_v"],
        "never-full" => &["last_full", "days_since_full", "days_full", "days_counted"],
        "absorption-short" => &["held_min", "ending_a", "full_current_a"],
        "soc-unreliable" => &["worst_error_pct", "false_full"],
        "cold-charge" => &["charged_min", "lowest_c"],
        "load-over-budget" => &["load_wh", "budget_wh"],
        "use-exceeds-harvest" => &["deficit_wh_per_day"],
        "log-gaps" => &["gap_h", "longest_h"],
        other => panic!("no evidence is agreed for {other}"),
    }
}

/// Checks one report against the contract.
pub(super) fn holds(report: &Value) {
    for key in TOP.iter().chain(&["options", "recommended"]) {
        assert!(report.get(key).is_some(), "{key}");
    }
    assert_eq!(report["schema"], "ampledger-report-1");
    intervals("report", report);
    for day in report["days"].as_array().unwrap() {
        for key in DAY {
            assert!(day.get(key).is_some(), "{key}");
        }
        day_closes(day);
    }
    for input in report["inputs"].as_array().unwrap() {
        let rows = |k: &str| input["rows"][k].as_u64().unwrap();
        let told = ["used", "repaired", "merged", "refused"].map(rows);
        assert_eq!(rows("read"), told.iter().sum::<u64>());
    }
    accounts_close(&report["account"]);
    for finding in report["findings"].as_array().unwrap() {
        for key in FINDING {
            assert!(finding.get(key).is_some(), "{key}");
        }
        let kind = finding["kind"].as_str().unwrap();
        for key in evidence(kind) {
            assert!(finding["evidence"].get(key).is_some(), "{kind}: {key}");
        }
        for key in ["tool", "where", "healthy", "faulty", "then", "caution"] {
            assert!(finding["next_check"][key].is_string(), "{kind}: {key}");
        }
    }
}

fn day_closes(day: &Value) {
    let Some(offered) = day["offered_wh"].as_f64() else {
        assert_eq!(day["judged"], false, "judged without an offer: {day}");
        return;
    };
    let wh = |key: &str| day[key].as_f64().unwrap();
    let taken = wh("lost_wh") + wh("held_back_wh") + wh("unmeasured_wh");
    let rest = offered - taken + wh("unexplained_wh") - wh("harvest_wh");
    assert!(rest.abs() <= 0.1, "{}: {rest} Wh", day["date"]);
}

fn accounts_close(account: &Value) {
    let entries = |name: &str| -> Vec<(String, f64)> {
        account[name]
            .as_array()
            .unwrap()
            .iter()
            .map(|e| {
                (
                    e["name"].as_str().unwrap().to_owned(),
                    e["wh"].as_f64().unwrap(),
                )
            })
            .collect()
    };
    let harvest = entries("harvest");
    let order: Vec<&str> = harvest.iter().map(|e| e.0.as_str()).collect();
    assert_eq!(
        order,
        [
            "planned",
            "season",
            "weather",
            "heat",
            "array",
            "shade",
            "array_cable",
            "conversion",
            "controller_limit",
            "held_back",
            "unmeasured",
            "unexplained",
            "harvested"
        ]
    );
    let (harvested, steps) = harvest.split_last().unwrap();
    let sum: f64 = steps.iter().map(|e| e.1).sum();
    assert!((sum - harvested.1).abs() <= 0.1, "{sum} {harvested:?}");
    let bank: BTreeMap<String, f64> = entries("bank").into_iter().collect();
    let side = |names: &[&str]| names.iter().map(|n| bank[*n]).sum::<f64>();
    let came = side(&["harvested", "other_charge", "unexplained"]);
    let went = side(&["loads", "bank_cable", "bank_change", "bank_loss"]);
    assert!((came - went).abs() <= 0.1, "{came} {went}");
}

/// `low <= value <= high` wherever the three stand together.
fn intervals(place: &str, value: &Value) {
    match value {
        Value::Object(map) => {
            let number = |key: &str| map.get(key).and_then(Value::as_f64);
            let middle = number("value").or_else(|| number("wh"));
            if let (Some(low), Some(middle), Some(high)) = (number("low"), middle, number("high")) {
                assert!(
                    low <= middle && middle <= high,
                    "{place}: {low} {middle} {high}"
                );
            }
            for (key, inner) in map {
                intervals(&format!("{place}.{key}"), inner);
            }
        }
        Value::Array(list) => list.iter().for_each(|inner| intervals(place, inner)),
        _ => {}
    }
}

#[test]
fn holds_for_every_case_of_the_samples() {
    for case in ampledger::sample::cases() {
        let at = tempfile::tempdir().unwrap();
        let made = run(
            at.path(),
            &["sample", "trip", "--case", case.name, "--days", "6"],
        );
        assert_eq!(made.status, 0, "{}: {}", case.name, made.err);
        let ran = run(at.path(), &JUDGE_TRIP);
        assert_eq!(ran.status, 0, "{}: {}", case.name, ran.err);
        holds(&report(&at.path().join("out")));
        charts_are_there(&at.path().join("out"));
    }
}

/// A chart that a finding names is there to be looked at.
fn charts_are_there(folder: &Path) {
    for finding in report(folder)["findings"].as_array().unwrap() {
        if let Some(chart) = finding["chart"].as_str() {
            assert!(folder.join(chart).exists(), "{}: {chart}", finding["kind"]);
        }
    }
}

#[test]
fn a_chart_that_the_log_has_nothing_for_is_not_named() {
    let at = tempfile::tempdir().unwrap();
    let made = [
        "sample",
        "trip",
        "--case",
        "hungry-crew",
        "--days",
        "7",
        "--step",
        "5 min",
    ];
    assert_eq!(run(at.path(), &made).status, 0);
    let log = fs::read_to_string(at.path().join("trip/bank-week-1.csv")).unwrap();
    // Time, voltage and current alone: no state of charge to draw.
    let bare: String = log
        .lines()
        .map(|line| line.split(',').take(3).collect::<Vec<_>>().join(",") + "\n")
        .collect();
    fs::write(at.path().join("trip/bank-week-1.csv"), bare).unwrap();
    let ran = run(at.path(), &JUDGE_TRIP);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let out = at.path().join("out");
    assert!(!out.join("charts/charge.svg").exists());
    charts_are_there(&out);
    let report = report(&out);
    let findings = report["findings"].as_array().unwrap();
    let named = |kind: &str| &findings.iter().find(|f| f["kind"] == kind).unwrap()["chart"];
    assert!(named("never-full").is_null());
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(!page.contains("charge-chart") && !page.contains("figure-charge"));
}

#[test]
fn report_json_has_its_keys_in_order_and_no_figure_that_is_none() {
    let at = trip();
    run(at.path(), &JUDGE_TRIP);
    let text = fs::read_to_string(at.path().join("out/report.json")).unwrap();
    assert!(!text.contains("NaN") && !text.contains("Infinity"));
    let keys: Vec<&str> = text
        .lines()
        .filter_map(|l| l.strip_prefix("  \"")?.split('"').next())
        .collect();
    let places = TOP.map(|key| keys.iter().position(|k| *k == key).unwrap());
    assert!(places.is_sorted(), "{keys:?}");
}

#[test]
fn days_csv_has_the_agreed_columns_and_a_line_a_day() {
    let at = trip();
    run(at.path(), &JUDGE_TRIP);
    let bytes = fs::read(at.path().join("out/days.csv")).unwrap();
    assert!(!bytes.contains(&b'\r'));
    let text = String::from_utf8(bytes).unwrap();
    let mut lines = text.lines();
    assert_eq!(lines.next().unwrap(), DAY.join(","));
    let days = report(&at.path().join("out"))["days"].clone();
    let days = days.as_array().unwrap();
    assert_eq!(lines.clone().count(), days.len());
    for (line, day) in lines.zip(days) {
        let cells: Vec<&str> = line.split(',').collect();
        assert_eq!(cells[0], day["date"].as_str().unwrap());
        for (key, cell) in DAY
            .iter()
            .zip(&cells)
            .filter(|(key, _)| key.ends_with("_wh"))
        {
            match day[*key].as_f64() {
                Some(wh) => assert!((cell.parse::<f64>().unwrap() - wh).abs() < 0.1, "{key}"),
                None => assert_eq!(*cell, "", "{key}"),
            }
        }
    }
}

#[test]
fn names_are_text_and_never_markup() {
    let name = "<script>alert(1)</script> & =1+1";
    let at = workshop(&format!("[system]\nname = \"{name}\"\n{DESIGN}"), &log());
    let ran = run(at.path(), &RECONCILE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    for (path, bytes) in files(&at.path().join("out")) {
        let text = String::from_utf8(bytes).unwrap();
        if path.extension().is_some_and(|e| e == "html" || e == "svg") {
            assert!(!text.contains("<script>alert"), "{}", path.display());
        }
    }
    assert_eq!(report(&at.path().join("out"))["system"]["name"], name);
}
