//! Design files, good and bad, as owners write them.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::path::{Path, PathBuf};

use ampledger::design::read::read_text;
use ampledger::design::{Design, DesignError, Material, Method, Run, WireSize};
use ampledger::mapping::{ColumnRef, HeaderRef, Role, StampZone};
use proptest::prelude::*;

const LEAST: &str = include_str!("designs/good/least.toml");
const EVERY: &str = include_str!("designs/good/every-key.toml");

fn parse(text: &str) -> Result<Design, DesignError> {
    read_text(text, Path::new("home.toml"), Path::new(""))
}

fn toml_files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/designs")
        .join(folder);
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    files
}

fn close(got: f64, want: f64) {
    assert!((got - want).abs() < 1e-9, "{got}, not {want}");
}

#[test]
fn each_bad_design_is_refused_in_the_words_on_record() {
    let files = toml_files("bad");
    assert!(files.len() >= 30);
    let update = std::env::var_os("UPDATE_EXPECT").is_some_and(|v| v == "1");
    let mut differ = Vec::new();
    for path in files {
        let text = std::fs::read_to_string(&path).unwrap();
        let name = path.file_name().unwrap();
        let error = read_text(&text, Path::new(name), Path::new(""))
            .expect_err(&format!("{} was taken", path.display()));
        let said = format!("{error}\n");
        let record = path.with_extension("txt");
        if update {
            std::fs::write(&record, &said).unwrap();
        }
        let want = std::fs::read_to_string(&record).unwrap_or_default();
        if said != want {
            differ.push(format!("{}\nsaid:\n{said}want:\n{want}", path.display()));
        }
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}

#[test]
fn each_good_design_is_taken() {
    for path in toml_files("good") {
        let design = ampledger::design::read(&path).unwrap_or_else(|e| panic!("{e}"));
        assert!(design.array_w() > 0.0);
        assert_eq!(design.folder, path.parent().unwrap());
    }
}

#[test]
fn every_key_arrives_in_its_base_unit() {
    let design = parse(EVERY).unwrap();
    close(design.place.base.altitude_m, 396.24);
    close(design.arrays[0].panel.power_w, 160.0);
    close(design.arrays[0].panel.noct_c, 45.0);
    close(design.arrays[0].panel.voc_per_degree, -0.0028);
    close(design.array_w(), 6.0 * 160.0 + 120.0);
    assert_eq!(design.arrays[1].controller, 1);
    close(design.arrays[1].panel.imp_a.unwrap(), 120.0 / 19.0);
    let port = &design.controllers[0];
    close(port.compensation_v_per_c, -0.04);
    close(port.absorption_h.unwrap(), 2.5);
    assert_eq!(design.controllers[1].method, Method::Pwm);
    close(design.controllers[1].absorption_v, 29.2);
    close(design.battery.capacity_ah, 400.0);
    close(design.battery.full_current_a, 6.0);
    close(design.battery.reserve_pct, 55.0);
    let to_bank = design.cable(Run::ControllerBattery, 1).unwrap();
    assert_eq!(to_bank.material, Material::CopperCladAluminium);
    close(to_bank.joints_mohm, 4.0);
    close(to_bank.drop_limit, 0.008);
    assert_eq!(design.cables[2].size, WireSize::Awg(-1));
    assert!(design.cables[2].chassis_return);
    assert!(design.cable(Run::ArrayController, 1).is_none());
    close(design.plan.harvest_wh.unwrap(), 3100.0);
    close(design.plan.record_low_c.unwrap(), -20.0);
    close(design.plan.air_c[11], 1.0);
    assert_eq!(
        design.options[1].set["battery.capacity"].as_str(),
        Some("600 Ah")
    );
}

#[test]
fn legs_begin_on_their_own_clock_and_inherit() {
    let design = parse(EVERY).unwrap();
    let legs = &design.place.legs;
    let at = |text: &str| {
        chrono::DateTime::parse_from_rfc3339(text)
            .unwrap()
            .timestamp()
    };
    assert_eq!(legs[0].0, at("2026-06-03T00:00:00+02:00"));
    assert_eq!(legs[1].0, at("2026-06-20T09:30:00+03:00"));
    close(legs[1].1.altitude_m, 2.0);
    assert_eq!(legs[1].1.tilt_deg, None);
}

#[test]
fn a_log_entry_says_how_to_read() {
    let design = parse(EVERY).unwrap();
    let log = &design.logs[0];
    assert_eq!(log.timezone, Some(StampZone::Named(chrono_tz::UTC)));
    close(log.clock_shift_s, -720.0);
    assert_eq!(log.header, Some(HeaderRef::Line(7)));
    assert_eq!((log.delimiter, log.decimal), (Some(b';'), Some(b',')));
    assert_eq!(log.only, Some((ColumnRef::Name("node".into()), "3".into())));
    assert_eq!(
        log.columns[&Role::BatteryCurrent].columns,
        [ColumnRef::Number(4)]
    );
    assert_eq!(log.columns[&Role::Time].columns.len(), 2);
    assert_eq!(log.columns[&Role::Stage].values["3"], "absorption");
    assert!(log.columns[&Role::ChargeCurrent].add);
    let other = &design.logs[1];
    assert_eq!(other.timezone, Some(StampZone::Local));
    assert_eq!(
        (other.delimiter, other.header),
        (Some(b'\t'), Some(HeaderRef::None))
    );
    assert_eq!(other.missing, ["nil"]);
}

#[test]
fn what_is_missing_is_assumed_and_listed() {
    let design = parse(LEAST).unwrap();
    let why = |key: &str| design.assumed.iter().find(|a| a.key == key).cloned();
    assert_eq!(why("array.panel.noct").unwrap().value, "58 C");
    assert_eq!(why("array.allowance").unwrap().value, "90 %");
    assert_eq!(why("place.timezone").unwrap().value, "Etc/GMT-1 (UTC+1)");
    assert_eq!(why("battery.reserve").unwrap().value, "20 %");
    assert_eq!(why("battery.capacity"), None);
    assert_eq!(design.system.nominal_v, None);
    assert!(
        design
            .assumed
            .iter()
            .all(|a| !a.value.is_empty() && !a.why.is_empty())
    );
    let mut keys: Vec<&str> = design.assumed.iter().map(|a| a.key.as_str()).collect();
    keys.sort_unstable();
    let count = keys.len();
    keys.dedup();
    assert_eq!(keys.len(), count, "an assumption stands twice");
    assert!(
        design.plan.air_c[0] > design.plan.air_c[6],
        "July is winter in the south"
    );
}

#[test]
fn what_is_given_is_not_listed_as_assumed() {
    let design = parse(EVERY).unwrap();
    for given in [
        "controller.absorption (port)",
        "battery.reserve",
        "system.nominal",
        "place.timezone",
    ] {
        assert!(design.assumed.iter().all(|a| a.key != given), "{given}");
    }
    assert!(
        design
            .assumed
            .iter()
            .any(|a| a.key == "controller.absorption (starboard)")
    );
}

#[test]
fn a_design_with_everything_said_assumes_nothing() {
    let design = parse(include_str!("designs/good/one-of-each.toml")).unwrap();
    let keys: Vec<&str> = design.assumed.iter().map(|a| a.key.as_str()).collect();
    // Set on the controller, but nothing an AGM bank is to have.
    assert_eq!(keys, ["controller.equalise"]);
}

#[test]
fn only_what_must_be_given_may_not_be_left_out() {
    let needed = [
        "latitude",
        "longitude",
        "power",
        "chemistry",
        "capacity",
        "run",
        "on",
        "set",
        "files",
    ];
    let text = include_str!("designs/good/one-of-each.toml");
    let lines: Vec<&str> = text.lines().collect();
    let mut refused = std::collections::BTreeSet::new();
    for (i, line) in lines.iter().enumerate() {
        let Some((word, _)) = line.split_once(" = ") else {
            continue;
        };
        let left: Vec<&str> = [&lines[..i], &lines[i + 1..]].concat();
        if parse(&left.join("\n")).is_err() {
            refused.insert(word);
        }
    }
    assert_eq!(refused, std::collections::BTreeSet::from(needed));
}

#[test]
fn gaps_in_entries_are_filled_or_left_out_and_said() {
    let design = parse(include_str!("designs/good/gaps.toml")).unwrap();
    let value = |key: &str| {
        design
            .assumed
            .iter()
            .find(|a| a.key == key)
            .map(|a| &*a.value)
    };
    assert!(design.cables.is_empty());
    assert_eq!(value("cable.size (battery-loads)"), Some("not known"));
    close(design.place.legs[0].1.longitude_deg, 8.7);
    assert_eq!(
        value("place.leg.longitude (from 2026-05-14 00:00)"),
        Some("8.7")
    );
    assert_eq!(value("load.hours (load 1)"), Some("24"));
    assert_eq!(value("load.hours (load 2)"), Some("12"));
    assert_eq!(value("charger.kind (charger 1)"), Some("shore"));
    close(design.controllers[0].efficiency, 1.0);
}

#[test]
fn the_only_controller_may_be_called_anything() {
    let design = parse(&format!(
        "{LEAST}controller.equalise = \"15.5 V\"\narray.controller = \"attic\"\n\
         [[log]]\nfiles = \"a.csv\"\ncontroller = \"attic\"\n"
    ))
    .unwrap();
    assert_eq!(design.arrays[0].controller, 0);
    assert_eq!(design.logs[0].controller, None);
    assert_eq!(design.controllers[0].equalise_v, None);
    let said = design
        .assumed
        .iter()
        .find(|a| a.key == "controller.equalise");
    assert_eq!(said.unwrap().value, "not used");
}

#[test]
fn the_nominal_voltage_may_come_from_the_log() {
    let text =
        format!("{LEAST}controller.compensation = \"-10 mV\"\ncontroller.float = \"27 V\"\n");
    let design = parse(&text).unwrap();
    close(design.controllers[0].absorption_v, 14.2);
    let known = design.with_nominal(24.0);
    close(known.controllers[0].absorption_v, 28.4);
    close(known.controllers[0].compensation_v_per_c, -0.02);
    assert_eq!(known.controllers[0].float_v, Some(27.0));
    assert_eq!(known.battery.cells_in_series, Some(8));
    assert_eq!(known.with_nominal(48.0), known);
    assert_eq!(design.with_nominal(f64::NAN), design);
}

#[test]
fn the_template_is_a_design_and_names_each_required_key() {
    let text = ampledger::design::template::template();
    let design = parse(text).unwrap();
    // What is no more than an example must not become the owner's system.
    assert!(design.loads.is_empty() && design.cables.is_empty() && design.options.is_empty());
    assert_eq!((design.plan.record_low_c, design.logs.len()), (None, 0));
    let all: String = text
        .lines()
        .map(|l| match l.strip_prefix("# ") {
            Some(rest) if rest.starts_with('[') || rest.contains(" = ") => format!("{rest}\n"),
            _ => format!("{l}\n"),
        })
        .collect();
    let all = parse(&all).unwrap();
    assert_eq!(
        (all.loads.len(), all.cables.len(), all.logs.len()),
        (3, 2, 1)
    );
    for line in text
        .lines()
        .filter(|l| l.starts_with("# ") && l.contains(" = "))
    {
        let word = line.trim_start_matches("# ").split(' ').next().unwrap();
        let known = ampledger::design::keys::KEYS
            .iter()
            .any(|k| k.path.rsplit('.').next() == Some(word));
        assert!(known || line.contains("says through"), "{line}");
    }
}

#[test]
fn the_budget_adds_up_at_the_bank() {
    let design = parse(EVERY).unwrap();
    let budget = ampledger::design::budget::budget(&design);
    let saw = 1100.0 * 0.5 / 0.86;
    let radio = 8.0 * 2.0 * 24.0;
    let idle = 12.0 * 5.0;
    close(budget.day_wh, saw + radio / 2.0 + idle / 2.0);
    close(budget.night_wh, 60.0 + radio / 2.0 + idle / 2.0);
    close(budget.total_wh, budget.day_wh + budget.night_wh);
    close(budget.standby_a, 16.0 / 24.0);
}

#[test]
fn a_run_is_its_wire_and_its_joints() {
    use ampledger::design::wiring::run_mohm;
    use ampledger::physics::conductor::resistance_mohm;
    let design = parse(EVERY).unwrap();
    let wire = resistance_mohm(
        1.5,
        WireSize::Metric(25.0),
        Material::CopperCladAluminium,
        30.0,
        false,
    );
    close(
        run_mohm(&design, Run::ControllerBattery, 0).unwrap(),
        wire + 4.0,
    );
    assert_eq!(run_mohm(&design, Run::ArrayController, 1), None);
}

#[test]
fn changes_are_read_anew_and_checked() {
    use ampledger::design::changes::{parse_change, read_changed};
    let changed = |typed: &str| {
        let (key, value) = parse_change(typed)?;
        read_changed(
            LEAST,
            Path::new("home.toml"),
            Path::new(""),
            &[(key, value)].into(),
        )
        .map_err(|e| e.to_string())
    };
    close(
        changed("array.panels_in_series=3").unwrap().array_w(),
        300.0,
    );
    close(
        changed("battery.capacity = 300 Ah")
            .unwrap()
            .battery
            .capacity_ah,
        300.0,
    );
    close(
        changed("battery.capacity=\"300 Ah\"")
            .unwrap()
            .battery
            .capacity_ah,
        300.0,
    );
    let error = parse_change("array.panel_in_series=3").unwrap_err();
    assert!(error.contains("array.panels_in_series"), "{error}");
    assert!(
        parse_change("battery.capacity=300")
            .unwrap_err()
            .contains("\"300 Ah\"")
    );
    assert!(
        parse_change("array.panels_in_series")
            .unwrap_err()
            .contains("KEY=VALUE")
    );
    assert!(
        parse_change("log.files=\"x\"")
            .unwrap_err()
            .contains("cannot be tried")
    );
}

#[test]
fn a_file_that_is_not_there_or_not_text_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let gone = folder.path().join("gone.toml");
    let said = ampledger::design::read(&gone).unwrap_err().to_string();
    assert!(
        said.contains("gone.toml") && said.contains("ampledger new"),
        "{said}"
    );
    let binary = folder.path().join("binary.toml");
    std::fs::write(&binary, b"# fine\nname = \"\xff\"\n").unwrap();
    let said = ampledger::design::read(&binary).unwrap_err().to_string();
    assert!(
        said.contains("binary.toml:2") && said.contains("UTF-8"),
        "{said}"
    );
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "(?s).{0,200}") {
        let _ = parse(&text);
    }

    #[test]
    fn no_damage_makes_it_panic_or_let_a_nan_through(at in 0usize..4000, put in "[ -~\\n]{0,4}", cut in 0usize..30) {
        let at = at.min(EVERY.len());
        let end = (at + cut).min(EVERY.len());
        if let (Some(head), Some(tail)) = (EVERY.get(..at), EVERY.get(end..))
            && let Ok(design) = parse(&format!("{head}{put}{tail}"))
        {
            prop_assert!(design.array_w().is_finite() && design.array_w() > 0.0);
            prop_assert!(design.battery.capacity_ah.is_finite());
            prop_assert!(design.controllers.iter().all(|c| c.absorption_v.is_finite()));
        }
    }

    #[test]
    fn any_value_anywhere_is_taken_or_refused(which in 0usize..200, value in 0usize..12) {
        let values = [
            "0", "-1", "1e308", "-inf", "nan", "\"\"", "\"1e300 W\"", "[]", "{}", "true",
            "2026-02-28", "\"9e9 9e9\"",
        ];
        let keys = ampledger::design::keys::KEYS;
        let key = keys[which % keys.len()].path;
        match parse(&format!("{LEAST}{key} = {}\n", values[value])) {
            Ok(design) => prop_assert!(design.array_w().is_finite()),
            Err(error) => prop_assert!(error.to_string().starts_with("home.toml:")),
        }
    }
}
