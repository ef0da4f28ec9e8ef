//! `explain`, `new`, `sample`, `inspect`, help.

use super::*;

#[test]
fn explain_knows_every_kind_it_lists_and_no_other() {
    let at = tempfile::tempdir().unwrap();
    let list = run(at.path(), &["explain"]);
    assert_eq!(list.status, 0);
    is_plain(&list.out);
    let kinds: Vec<&str> = list
        .out
        .lines()
        .filter(|l| !l.contains(' ') && !l.is_empty())
        .collect();
    assert!(kinds.contains(&"drop-battery-cable"), "{kinds:?}");
    for kind in kinds {
        let page = run(at.path(), &["explain", kind]);
        assert_eq!(page.status, 0, "{kind}");
        is_plain(&page.out);
    }
    let unknown = run(at.path(), &["explain", "never-fall"]);
    refused(&unknown, 2, &["never-fall", "never-full"]);
}

#[test]
fn new_writes_a_design_that_reads_and_never_writes_over_one() {
    let at = workshop("mine", &log());
    let again = run(at.path(), &["new", "design.toml"]);
    refused(&again, 1, &["design.toml", "--force"]);
    assert_eq!(
        fs::read_to_string(at.path().join("design.toml")).unwrap(),
        "mine"
    );
    let forced = run(at.path(), &["new", "design.toml", "--force"]);
    assert_eq!(forced.status, 0, "{}", forced.err);
    let ran = run(at.path(), &RECONCILE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let ran = run(
        at.path(),
        &["inspect", "log.csv", "--design", "design.toml"],
    );
    assert_eq!(ran.status, 0, "{}", ran.err);
    refused(
        &run(at.path(), &["new", "no/such/design.toml"]),
        1,
        &["no/such/design.toml"],
    );
}

#[test]
fn sample_leaves_an_occupied_folder_alone() {
    let at = trip();
    let before = files(at.path());
    let again = run(at.path(), &["sample", "trip", "--days", "3", "--seed", "9"]);
    refused(&again, 1, &["trip", "--force"]);
    assert_eq!(files(at.path()), before);
    let forced = run(at.path(), &["sample", "trip", "--days", "3", "--force"]);
    assert_eq!(forced.status, 0, "{}", forced.err);
    assert_eq!(files(at.path()), before, "the same seed is the same trip");
}

#[test]
fn sample_refuses_what_it_does_not_know() {
    let at = tempfile::tempdir().unwrap();
    let unknown = run(at.path(), &["sample", "s", "--case", "no-such-case"]);
    refused(&unknown, 2, &["no-such-case", "barge-september"]);
    for wrong in [
        ["--days", "0"],
        ["--days", "4000000000"],
        ["--step", "1 fortnight"],
        ["--step", "0 s"],
        ["--step", "7 min"],
    ] {
        refused(
            &run(at.path(), &[&["sample", "s"][..], &wrong].concat()),
            2,
            &[wrong[0]],
        );
    }
    assert!(!at.path().join("s").exists());
}

#[test]
fn inspect_shows_how_a_file_is_read() {
    let at = workshop(DESIGN, &log());
    let ran = run(at.path(), &["inspect", "log.csv"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    is_plain(&ran.out);
    assert!(ran.out.contains("battery_voltage"), "{}", ran.out);
    let json = run(at.path(), &["inspect", "log.csv", "--json"]);
    let file = serde_json::from_str::<Value>(&json.out).unwrap()["files"][0].clone();
    for key in [
        "file",
        "encoding",
        "delimiter",
        "decimal",
        "header_line",
        "rows",
        "refused",
        "refused_by_why",
        "first",
        "last",
        "step_s",
        "gaps",
        "duplicates",
        "out_of_order",
        "time_format",
        "timezone",
        "columns",
        "questions",
    ] {
        assert!(file.get(key).is_some(), "{key}");
    }
    assert_eq!(file["rows"]["read"], 384);
    assert_eq!(file["step_s"], 900.0);
    assert_eq!(files(at.path()).len(), 2, "inspect writes nothing");
    assert_eq!(run(at.path(), &["inspect"]).status, 2);
}

#[test]
fn help_and_version_are_done() {
    let at = tempfile::tempdir().unwrap();
    for words in [&["--help"][..], &["--version"], &["reconcile", "--help"]] {
        let ran = run(at.path(), words);
        assert_eq!((ran.status, ran.err.as_str()), (0, ""));
        assert!(!ran.out.is_empty());
    }
}
