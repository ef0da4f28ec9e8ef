//! `render`: the same outputs without the logs.

use super::*;

#[test]
fn gives_the_same_outputs_without_the_logs() {
    let at = trip();
    let printed = run(at.path(), &JUDGE_TRIP).out;
    fs::remove_dir_all(at.path().join("trip")).unwrap();
    let ran = run(at.path(), &["render", "out/report.json", "--out", "again"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let (first, again) = (
        files(&at.path().join("out")),
        files(&at.path().join("again")),
    );
    assert_eq!(
        first.keys().collect::<Vec<_>>(),
        again.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &first {
        assert!(again[name] == *bytes, "{} differs", name.display());
    }
    assert_eq!(ran.out, printed.replace("out/report", "again/report"));
}

#[test]
fn refuses_what_is_no_report_and_says_where() {
    let at = workshop(DESIGN, &log());
    run(at.path(), &RECONCILE);
    let before = files(&at.path().join("out"));
    let text = fs::read_to_string(at.path().join("out/report.json")).unwrap();
    let cut = &text[..text.len() / 2];
    let wrong = text.replace("ampledger-report-1", "ampledger-report-9");
    let report: Value = serde_json::from_str(&text).unwrap();
    let changed = |pointer: &str, to: Value| {
        let mut report = report.clone();
        *report.pointer_mut(pointer).unwrap() = to;
        report.to_string()
    };
    let step = changed("/series/profile/step_s", i64::MAX.into());
    let start = changed("/series/profile/start_s", i64::MIN.into());
    let uneven = changed("/series/profile/regime", "d".into());
    let number = text.replacen("\"days\": [", "\"days\": 7, \"other\": [", 1);
    for (content, says) in [
        (cut, "line "),
        ("{\"a\": 1}", "schema"),
        ("[]", "schema"),
        ("", "line 1"),
        (wrong.as_str(), "ampledger-report-9"),
        (number.as_str(), "line "),
        (step.as_str(), "`series.profile.step_s`"),
        (start.as_str(), "`series.profile.start_s`"),
        (uneven.as_str(), "`series.profile.harvest_w`"),
    ] {
        fs::write(at.path().join("r.json"), content).unwrap();
        let ran = run(at.path(), &["render", "r.json", "--out", "out"]);
        refused(&ran, 1, &["r.json", says]);
    }
    refused(&run(at.path(), &["render", "none.json"]), 1, &["none.json"]);
    assert_eq!(files(&at.path().join("out")), before);
}

#[test]
fn a_post_is_printed_and_written_without_place_and_names() {
    let at = trip();
    let ran = run(at.path(), &[&JUDGE_TRIP[..], &["--post"]].concat());
    assert_eq!(ran.status, 0, "{}", ran.err);
    let written = fs::read_to_string(at.path().join("out/post.md")).unwrap();
    assert_eq!(ran.out, written);
    let report: Value =
        serde_json::from_str(&fs::read_to_string(at.path().join("out/report.json")).unwrap())
            .unwrap();
    let text = |v: &Value| v.as_str().unwrap().to_owned();
    let system = &report["system"];
    let mut left_out = vec![text(&system["name"])];
    left_out.extend(text(&system["place"]).split(", ").map(str::to_owned));
    left_out.extend(
        report["inputs"]
            .as_array()
            .unwrap()
            .iter()
            .map(|i| text(&i["file"])),
    );
    assert!(left_out.len() >= 5, "{left_out:?}");
    for name in left_out {
        assert!(!written.contains(&name), "{name} in {written}");
    }
    assert!(written.contains(&text(&report["run"])));
    let again = run(
        at.path(),
        &["render", "out/report.json", "--out", "again", "--post"],
    );
    assert_eq!(again.out, written);
    let both = run(
        at.path(),
        &[&JUDGE_TRIP[..], &["--post", "--json"]].concat(),
    );
    assert_eq!(both.status, 2);
}
