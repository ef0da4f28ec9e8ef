//! `new --ask`: the owner tells, the design comes of it. Answers are piped.

use super::*;

/// What is asked, in order, with an answer to each; a test changes some of them.
const ANSWERS: [(&str, &str); 50] = [
    ("Name of the system", "Test barn"),
    ("Latitude", "46.8"),
    ("Longitude", "9.5"),
    ("Height", "600 m"),
    ("Time zone", "Europe/Zurich"),
    ("Power of one panel", "400 W"),
    ("Vmp", "31 V"),
    ("Imp", ""),
    ("Voc", "37 V"),
    ("Isc", "13.6 A"),
    ("Change of Voc", "-0.28 %"),
    ("Largest series fuse", "20 A"),
    ("Panels in series", "2"),
    ("Strings side by side", "1"),
    ("Mounting", "gap"),
    ("Tilt", "30 deg"),
    ("Bearing", "170 deg"),
    ("Kind of charge controller", "mppt"),
    ("Highest array voltage", "100 V"),
    ("Highest array current", ""),
    ("Highest charging current", "30 A"),
    ("Length of the run from the panels", "8 m"),
    ("Size", "6 mm2"),
    ("Material", ""),
    ("Fuse in this run", ""),
    ("What the cable may carry", "50 A"),
    ("Return", ""),
    ("Length of the run from the controller", "2 m"),
    ("Size", "16 mm2"),
    ("Material", ""),
    ("Fuse in this run", "40 A"),
    ("What the cable may carry", "80 A"),
    ("Return", ""),
    ("Length of the run from the bank", ""),
    ("Chemistry", "agm"),
    ("Capacity", "200 Ah"),
    ("Nominal voltage", "24 V"),
    ("State of charge", "50 %"),
    ("Highest charging current of the bank", ""),
    ("cut off", "23 V"),
    ("Absorption voltage", "28.8 V"),
    ("Absorption time", "3 h"),
    ("Float voltage", "27.2 V"),
    ("Name of a load", "fridge"),
    ("Power while it runs", "50 W"),
    ("How many", ""),
    ("Hours it runs", "9"),
    ("When", "always"),
    ("Through", "dc"),
    ("Name of a load", ""),
];
const AFTER: [(&str, &str); 4] = [
    ("Kind (alternator", ""),
    ("Peak sun hours", "1 2 3 4 5 5 5 5 4 3 2 1"),
    ("Lowest temperature", "-20 C"),
    ("Files of the log", "logs/*.csv"),
];

/// The answers as lines, with those of some questions replaced by others.
fn lines(changed: &[(&str, &str)]) -> String {
    let all = ANSWERS.iter().chain(&AFTER);
    all.map(|(question, answer)| {
        let change = changed.iter().find(|c| c.0 == *question);
        format!("{}\n", change.map_or(*answer, |c| c.1))
    })
    .collect()
}

fn ask(at: &Path, arguments: &[&str], answers: &str) -> Ran {
    run_with_input(
        at,
        &[&["new", "--ask"], arguments].concat(),
        answers.as_bytes(),
    )
}

#[test]
fn the_answers_become_the_design() {
    let at = tempfile::tempdir().unwrap();
    let asked = ask(at.path(), &["barn.toml"], &lines(&[]));
    assert_eq!((asked.status, asked.err.as_str()), (0, ""), "{}", asked.out);
    let mut rest = asked.out.as_str();
    for (question, _) in ANSWERS.iter().chain(&AFTER) {
        let found = rest.find(question);
        assert!(
            found.is_some(),
            "{question} is not asked in its turn: {}",
            asked.out
        );
        rest = &rest[found.unwrap() + question.len()..];
    }
    let text = fs::read_to_string(at.path().join("barn.toml")).unwrap();
    let design: toml::Table = text.parse().unwrap();
    assert_eq!(design["array"]["panel"]["isc"].as_str(), Some("13.6 A"));
    assert_eq!(design["array"]["panels_in_series"].as_integer(), Some(2));
    assert_eq!(design["cable"].as_array().unwrap().len(), 2);
    assert_eq!(design["cable"][1]["fuse"].as_str(), Some("40 A"));
    assert_eq!(design["load"][0]["name"].as_str(), Some("fridge"));
    assert_eq!(design["plan"]["sun_hours"].as_array().unwrap().len(), 12);
    assert_eq!(design["log"][0]["files"].as_str(), Some("logs/*.csv"));
    assert!(
        design["array"]["panel"].get("imp").is_none(),
        "an empty answer says nothing"
    );
    assert!(
        text.contains("array.panel.imp = 12.903 A"),
        "but its default is named: {text}"
    );
    let plan = run(at.path(), &["plan", "--design", "barn.toml", "--json"]);
    let plan: Value = serde_json::from_str(&plan.out).unwrap();
    assert_eq!(plan["name"], "Test barn");
    assert_eq!(plan["load_night_wh"], 225.0);
}

#[test]
fn wrong_answers_are_asked_again_and_help_is_near() {
    let at = tempfile::tempdir().unwrap();
    let answers = lines(&[
        ("Latitude", "?\n91\n\n46.8"),
        ("Voc", "30 V\n37 V"),
        ("Nominal voltage", "24\n24 V"),
        ("Chemistry", "lead\nagm"),
        ("Hours it runs", "all day\n9"),
    ]);
    let asked = ask(at.path(), &["barn.toml"], &answers);
    assert_eq!(asked.status, 0, "{}{}", asked.out, asked.err);
    assert!(
        asked.err.contains("piped answers were not taken"),
        "{}",
        asked.err
    );
    for said in [
        "A map on a phone",
        "91 is outside",
        "This one is needed",
        "array.panel.voc: is not above vmp",
        "write \"24 V\"",
        "Lead is of three kinds",
        "That is \"all day\"; a bare number is needed",
    ] {
        assert!(asked.out.contains(said), "no {said:?} in {}", asked.out);
    }
    let text = fs::read_to_string(at.path().join("barn.toml")).unwrap();
    let design: toml::Table = text.parse().unwrap();
    assert_eq!(design["place"]["latitude"].as_float(), Some(46.8));
    assert_eq!(design["system"]["nominal"].as_str(), Some("24 V"));
}

#[test]
fn what_owners_say_is_understood_and_said_again() {
    let at = tempfile::tempdir().unwrap();
    let answers = lines(&[
        ("Time zone", "Zurich"),
        ("Tilt", "30"),
        ("Bearing", "south"),
        ("Kind of charge controller", "MPPT"),
        ("Chemistry", "AGM"),
    ]);
    let asked = ask(at.path(), &["barn.toml"], &answers);
    assert_eq!(asked.status, 0, "{}{}", asked.out, asked.err);
    assert!(
        asked.out.contains("south\n  Taken as 180 deg.\n"),
        "{}",
        asked.out
    );
    let text = fs::read_to_string(at.path().join("barn.toml")).unwrap();
    let design: toml::Table = text.parse().unwrap();
    assert_eq!(design["place"]["timezone"].as_str(), Some("Europe/Zurich"));
    assert_eq!(design["array"]["tilt"].as_str(), Some("30 deg"));
    assert_eq!(design["array"]["facing"].as_str(), Some("180 deg"));
    assert_eq!(design["battery"]["chemistry"].as_str(), Some("agm"));
}

#[test]
fn answers_that_slip_say_where_they_began_to() {
    let at = tempfile::tempdir().unwrap();
    let asked = ask(
        at.path(),
        &["barn.toml"],
        &lines(&[("Nominal voltage", "24")]),
    );
    assert_eq!(asked.status, 1);
    let said = "line 37, \"24\", for \"Nominal voltage of the system\"";
    assert!(asked.err.contains(said), "{}", asked.err);
    assert!(files(at.path()).is_empty());
}

#[test]
fn an_answer_can_be_taken_back() {
    let at = tempfile::tempdir().unwrap();
    let answers = lines(&[("Imp", "14 A"), ("Voc", "<\n12.9 A\n37 V")]);
    let asked = ask(at.path(), &["barn.toml"], &answers);
    assert_eq!(asked.status, 0, "{}{}", asked.out, asked.err);
    let text = fs::read_to_string(at.path().join("barn.toml")).unwrap();
    let design: toml::Table = text.parse().unwrap();
    assert_eq!(design["array"]["panel"]["imp"].as_str(), Some("12.9 A"));
}

#[test]
fn a_bare_minimum_is_enough() {
    let at = tempfile::tempdir().unwrap();
    let needed = [
        "Latitude",
        "Longitude",
        "Power of one panel",
        "Chemistry",
        "Capacity",
        "Nominal voltage",
    ];
    // A flat array faces nowhere, so its bearing is not asked; runs without a length and loads
    // without a name have no further questions.
    let skipped = [
        "Bearing",
        "Size",
        "Material",
        "Fuse in this run",
        "What the cable may carry",
        "Return",
        "Power while it runs",
        "How many",
        "Hours it runs",
        "When",
        "Through",
    ];
    let mut loads = 0;
    let answers: String = ANSWERS
        .iter()
        .chain(&AFTER)
        .filter(|(question, _)| !skipped.contains(question))
        .filter(|(question, _)| {
            loads += usize::from(*question == "Name of a load");
            *question != "Name of a load" || loads == 1
        })
        .map(|(question, answer)| match needed.contains(question) {
            true => format!("{answer}\n"),
            false => "\n".to_owned(),
        })
        .collect();
    let asked = ask(at.path(), &["barn.toml"], &answers);
    assert_eq!(asked.status, 0, "{}{}", asked.out, asked.err);
    assert!(asked.out.contains("Still to be stated"), "{}", asked.out);
    let plan = run(at.path(), &["plan", "--design", "barn.toml"]);
    assert_eq!(plan.status, 0, "{}", plan.err);
}

#[test]
fn the_design_is_written_whole_or_not_at_all() {
    let at = tempfile::tempdir().unwrap();
    let all = lines(&[]);
    let most: String = all.lines().take(40).map(|l| format!("{l}\n")).collect();
    for some in ["", "Test barn\n", &most] {
        let asked = ask(at.path(), &["barn.toml"], some);
        assert_eq!(asked.status, 1);
        assert!(asked.err.contains("nothing was written"), "{}", asked.err);
        assert!(files(at.path()).is_empty());
    }
}

#[test]
fn a_design_that_exists_is_written_over_only_when_asked_for() {
    let at = workshop("mine", "");
    let asked = ask(at.path(), &["design.toml"], "");
    refused(&asked, 1, &["design.toml", "exists already", "--force"]);
    let forced = ask(at.path(), &["design.toml", "--force"], "");
    assert!(
        forced.out.contains("will be written over"),
        "{}",
        forced.out
    );
    let kept = fs::read_to_string(at.path().join("design.toml")).unwrap();
    assert_eq!(kept, "mine", "as long as the answers are not whole");
    let forced = ask(at.path(), &["design.toml", "--force"], &lines(&[]));
    assert_eq!(forced.status, 0, "{}", forced.err);
    let new = fs::read_to_string(at.path().join("design.toml")).unwrap();
    assert!(new.contains("Test barn"));
}

#[test]
fn without_a_name_the_file_is_asked_for() {
    let at = tempfile::tempdir().unwrap();
    let asked = ask(at.path(), &[], &format!("\n{}", lines(&[])));
    assert_eq!(asked.status, 0, "{}", asked.err);
    assert!(at.path().join("my-system.toml").exists());
}

#[test]
fn dangers_show_at_once() {
    let at = tempfile::tempdir().unwrap();
    let asked = ask(
        at.path(),
        &["barn.toml"],
        &lines(&[("Highest array voltage", "75 V")]),
    );
    assert_eq!(asked.status, 0, "{}", asked.err);
    assert!(
        asked
            .out
            .contains("STOP: the array on a cold morning: 83.3 V"),
        "{}",
        asked.out
    );
}
