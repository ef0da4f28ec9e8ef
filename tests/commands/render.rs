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
    let number = text.replacen("\"days\": [", "\"days\": 7, \"other\": [", 1);
    for (content, says) in [
        (cut, "line "),
        ("{\"a\": 1}", "schema"),
        ("[]", "schema"),
        ("", "line 1"),
        (wrong.as_str(), "ampledger-report-9"),
        (number.as_str(), "line "),
    ] {
        fs::write(at.path().join("r.json"), content).unwrap();
        let ran = run(at.path(), &["render", "r.json", "--out", "out"]);
        refused(&ran, 1, &["r.json", says]);
    }
    refused(&run(at.path(), &["render", "none.json"]), 1, &["none.json"]);
    assert_eq!(files(&at.path().join("out")), before);
}
