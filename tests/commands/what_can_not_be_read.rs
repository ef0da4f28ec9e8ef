//! Inputs that end in a message.

use super::*;

/// Whatever is wrong, it is told in one message and the report made before stays as it was.
fn leaves_the_report_alone(design: &str, log: Option<&str>, says: &[&str]) {
    let at = workshop(DESIGN, &crate::log());
    assert_eq!(run(at.path(), &RECONCILE).status, 0);
    let before = files(&at.path().join("out"));
    fs::write(at.path().join("design.toml"), design).unwrap();
    match log {
        Some(text) => fs::write(at.path().join("log.csv"), text).unwrap(),
        None => fs::remove_file(at.path().join("log.csv")).unwrap(),
    }
    refused(&run(at.path(), &RECONCILE), 1, says);
    assert_eq!(files(&at.path().join("out")), before);
}

#[test]
fn a_missing_file() {
    leaves_the_report_alone(DESIGN, None, &["log.csv"]);
}

#[test]
fn an_empty_file() {
    leaves_the_report_alone(DESIGN, Some(""), &["log.csv", "empty"]);
}

#[test]
fn a_header_without_rows() {
    leaves_the_report_alone(DESIGN, Some(HEADER), &["log.csv", "row"]);
}

#[test]
fn nothing_but_a_time() {
    let log = "time\n2026-06-01 00:00:00\n2026-06-01 00:05:00\n2026-06-01 00:10:00\n";
    leaves_the_report_alone(DESIGN, Some(log), &["log.csv", "readings"]);
}

#[test]
fn a_state_of_charge_without_volts_or_amperes() {
    let log = "time,soc (%)\n2026-06-01 00:00,50\n2026-06-01 00:05,51\n2026-06-01 00:10,52\n";
    leaves_the_report_alone(DESIGN, Some(log), &["log.csv", "soc", "[log.columns]"]);
}

#[test]
fn a_length_in_kilograms() {
    let cable = "[[cable]]\nrun = \"controller-battery\"\nlength = \"6 kg\"\nsize = \"16 mm2\"\n";
    let design = format!("{DESIGN}{cable}");
    let log = crate::log();
    leaves_the_report_alone(
        &design,
        Some(&log),
        &["design.toml:12", "cable.length", "6 kg"],
    );
}

#[test]
fn a_key_nobody_knows_is_told_with_the_nearest() {
    let design = DESIGN.replace("chemistry", "chemstry");
    let log = crate::log();
    leaves_the_report_alone(
        &design,
        Some(&log),
        &["design.toml:8", "chemstry", "chemistry"],
    );
}

#[test]
fn a_pattern_without_a_match() {
    let at = workshop(DESIGN, &log());
    let ran = run(
        at.path(),
        &["reconcile", "march-*.csv", "--design", "design.toml"],
    );
    refused(&ran, 1, &["march-*.csv"]);
}

#[test]
fn figures_no_meter_shows() {
    let log = crate::log().replace(",13", ",1e300");
    let says = ["no reading within what a meter can show", "inspect"];
    leaves_the_report_alone(
        DESIGN,
        Some(&log.replace(",4.5", ",1e300").replace(",-2.0", ",1e300")),
        &says,
    );
}
