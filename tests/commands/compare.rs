//! `compare`: two reports of one system.

use super::*;

/// A report of three days beside the same with another resistance of the run.
fn two_reports() -> TempDir {
    let at = trip();
    assert_eq!(run(at.path(), &JUDGE_TRIP).status, 0);
    let mut later = report(&at.path().join("out"));
    later["series"]["drop"]["resistance_mohm"] =
        serde_json::json!({"value": 7.0, "low": 6.5, "high": 7.5});
    let text = serde_json::to_string(&later).unwrap();
    fs::write(at.path().join("later.json"), text).unwrap();
    at
}

const COMPARE: [&str; 3] = ["compare", "out/report.json", "later.json"];

#[test]
fn a_mended_run_is_better_and_what_cannot_be_told_unclear() {
    let at = two_reports();
    let ran = run(
        at.path(),
        &[&COMPARE[..], &["--json", "--chart", "both.svg"]].concat(),
    );
    assert_eq!(ran.status, 0, "{}", ran.err);
    let found: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(found["schema"], "ampledger-compare-1");
    let change = |name: &str| {
        let rows = found["rows"].as_array().unwrap();
        let row = rows.iter().find(|r| r["name"] == name).unwrap();
        row["change"].as_str().unwrap().to_owned()
    };
    assert_eq!(change("wiring"), "better");
    assert_ne!(change("full_charges"), "better");
    assert_ne!(change("array"), "better");
    let svg = fs::read_to_string(at.path().join("both.svg")).unwrap();
    assert!(svg.starts_with("<svg") && svg.contains("before") && !svg.contains("NaN"));
    let text = run(at.path(), &COMPARE);
    is_plain(&text.out);
    assert!(text.out.contains("BETTER: resistance"), "{}", text.out);
    let back = run(at.path(), &["compare", "later.json", "out/report.json"]);
    assert!(back.out.contains("WORSE: resistance"), "{}", back.out);
}

#[test]
fn other_files_and_other_systems_are_refused() {
    let at = two_reports();
    let ran = run(at.path(), &["compare", "out/report.json", "none.json"]);
    refused(&ran, 1, &["none.json"]);
    let ran = run(
        at.path(),
        &["compare", "trip/truth.json", "out/report.json"],
    );
    refused(
        &ran,
        1,
        &[
            "truth.json",
            "no report of ampledger",
            "ampledger reconcile",
        ],
    );
    let mut other = report(&at.path().join("out"));
    other["system"]["name"] = "another boat".into();
    fs::write(at.path().join("other.json"), other.to_string()).unwrap();
    let ran = run(at.path(), &["compare", "out/report.json", "other.json"]);
    refused(&ran, 1, &["another boat", "one system"]);
}

#[test]
fn another_array_or_bank_is_told_first_and_findings_by_what_became_of_them() {
    let at = two_reports();
    let mut other = report(&at.path().join("out"));
    let mut finding = other["findings"][0].clone();
    finding["kind"] = "log-gaps".into();
    other["findings"] = serde_json::json!([finding]);
    other["unknown"] = serde_json::json!([]);
    other["system"]["array_w"] = 990.into();
    other["system"]["capacity_ah"] = 77.into();
    fs::write(at.path().join("later.json"), other.to_string()).unwrap();
    let ran = run(at.path(), &COMPARE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    is_plain(&ran.out);
    let head: Vec<&str> = ran.out.lines().take(5).collect();
    let head = head.join(" ");
    assert!(head.contains("Not the same system"), "{head}");
    assert!(head.contains("990 W") && head.contains("77 Ah"), "{head}");
    let told = ran.out.split("FINDINGS").nth(1).unwrap();
    assert!(told.contains("Came: gaps in the log."), "{told}");
    assert!(told.contains("Went: "), "{told}");
}

#[test]
fn one_log_is_compared_before_and_after_a_date() {
    let at = tempfile::tempdir().unwrap();
    // The joint goes bad on the eighth day: what comes after is worse, and nothing else is.
    let made = ["sample", "trip", "--case", "drop-rising", "--seed", "4"];
    assert_eq!(run(at.path(), &made).status, 0);
    let truth: Value =
        serde_json::from_str(&fs::read_to_string(at.path().join("trip/truth.json")).unwrap())
            .unwrap();
    let since = truth["days"][7]["date"].as_str().unwrap();
    let asked = ["reconcile", "--design", "trip/design.toml", "--out", "out"];
    let ran = run(at.path(), &[&asked[..], &["--mended", since]].concat());
    assert_eq!(ran.status, 0, "{}", ran.err);
    is_plain(&ran.out);
    assert!(ran.out.contains("WORSE: resistance"), "{}", ran.out);
    let json = fs::read_to_string(at.path().join("out/comparison.json")).unwrap();
    let found: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(found["schema"], "ampledger-compare-1");
    assert_eq!(found["after"]["from"], since);
    assert!(at.path().join("out/charts/comparison.svg").exists());
    assert!(at.path().join("out/comparison.txt").exists());
    // The report holds all of it, and a run without the date leaves nothing of it behind.
    let drawn_again = run(at.path(), &["render", "out/report.json", "--out", "again"]);
    assert_eq!(drawn_again.status, 0, "{}", drawn_again.err);
    assert_eq!(
        files(&at.path().join("out")),
        files(&at.path().join("again"))
    );
    assert_eq!(run(at.path(), &asked).status, 0);
    for of_the_mend in ["comparison.json", "comparison.txt", "charts/comparison.svg"] {
        assert!(!at.path().join("out").join(of_the_mend).exists());
    }

    let early = run(
        at.path(),
        &[&asked[..], &["--mended", "2001-01-01"]].concat(),
    );
    refused(&early, 1, &["--mended 2001-01-01", "logged days before it"]);
    let piped = run(at.path(), &[&asked[..], &["-", "--mended", since]].concat());
    refused(&piped, 2, &["standard input"]);
}

#[test]
fn an_array_is_compared_by_the_mornings_of_a_bank_that_is_full_by_noon() {
    let at = tempfile::tempdir().unwrap();
    // A string goes out: before, the bank was full every day and no day could be judged whole.
    let made = ["sample", "trip", "--case", "string-out", "--seed", "3"];
    assert_eq!(run(at.path(), &made).status, 0);
    let truth: Value =
        serde_json::from_str(&fs::read_to_string(at.path().join("trip/truth.json")).unwrap())
            .unwrap();
    let figures = &truth["faults"][0]["figures"];
    let (since, out) = (
        figures["since"].as_str().unwrap(),
        figures["fraction_out"].as_f64().unwrap(),
    );
    let asked = ["reconcile", "--design", "trip/design.toml", "--out", "out"];
    let ran = run(at.path(), &[&asked[..], &["--mended", since]].concat());
    assert_eq!(ran.status, 0, "{}", ran.err);
    let json = fs::read_to_string(at.path().join("out/comparison.json")).unwrap();
    let found: Value = serde_json::from_str(&json).unwrap();
    let rows = found["rows"].as_array().unwrap();
    let array = rows.iter().find(|r| r["name"] == "array").unwrap();
    assert_eq!(array["change"], "worse");
    let value = |side: &str| array[side]["value"].as_f64().unwrap();
    let lost = 1.0 - value("after") / value("before");
    assert!((lost - out).abs() < 0.05, "{lost} for {out}");
}
