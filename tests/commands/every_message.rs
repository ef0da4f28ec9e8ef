//! Every message that bad input ends in, on one page: `tests/messages.txt`. `UPDATE_EXPECT=1` writes
//! it anew; read the whole page before committing it, as an owner would: what, where, what to do.

use super::*;

/// Runs of the program whose folder holds `design.toml`, `log.csv`, `report.json` and a trip.
const RUNS: &[(&str, &[&[&str]])] = &[
    (
        "The command line",
        &[
            &[],
            &["recncile"],
            &["reconcile"],
            &["reconcile", "--desing", "design.toml"],
            &[
                "reconcile",
                "--design",
                "design.toml",
                "--from",
                "14.5.2026",
            ],
            &[
                "reconcile",
                "--design",
                "design.toml",
                "--timezone",
                "Europ/Lisbon",
            ],
            &[
                "reconcile",
                "--design",
                "design.toml",
                "--timezone",
                "nowhere",
            ],
            &["reconcile", "--design", "design.toml", "--fail-on", "bad"],
            &["inspect"],
            &[
                "inspect",
                "--design",
                "design.toml",
                "--write",
                "other.toml",
            ],
            &["explain", "never-fall"],
            &["explain", "gremlins"],
            &["compare", "report.json"],
            &["compare", "-", "-"],
            &["shell", "bsh"],
            &["plan", "--quiet", "--verbose", "--design", "design.toml"],
            &["new"],
        ],
    ),
    (
        "Files that are not there, or in the way",
        &[
            &["reconcile", "--design", "desing.toml"],
            &["reconcile", "--design", "trip"],
            &["reconcile", "lgo.csv", "--design", "design.toml"],
            &["reconcile", "none/*.csv", "--design", "design.toml"],
            &["reconcile", "hollow", "--design", "design.toml"],
            &[
                "reconcile",
                "log.csv",
                "--design",
                "design.toml",
                "--out",
                "log.csv",
            ],
            &["inspect", "nothing.csv"],
            &["render", "none.json"],
            &["render", "trip"],
            &["compare", "report.json", "none.json"],
            &[
                "compare",
                "report.json",
                "report.json",
                "--chart",
                "none/x.svg",
            ],
            &["new", "design.toml"],
            &["new", "none/design.toml"],
            &["new", "--ask", "design.toml"],
            &["new", "--ask", "unanswered.toml"],
            &["sample", "trip"],
            &["sample", "design.toml"],
            &["manual", "design.toml"],
        ],
    ),
    (
        "Nothing to judge",
        &[
            &["reconcile", "--design", "design.toml"],
            &[
                "reconcile",
                "log.csv",
                "--design",
                "design.toml",
                "--from",
                "2030-01-01",
            ],
            &[
                "reconcile",
                "log.csv",
                "--design",
                "design.toml",
                "--from",
                "2026-06-03",
                "--to",
                "2026-06-01",
            ],
            &[
                "weigh",
                "log.csv",
                "--design",
                "design.toml",
                "--from",
                "2030-01-01",
            ],
        ],
    ),
    (
        "Reports that are none",
        &[
            &["render", "design.toml"],
            &["render", "other.json"],
            &["render", "cut.json"],
            &["compare", "report.json", "design.toml"],
            &["compare", "report.json", "foreign.json"],
        ],
    ),
    (
        "Changes to try",
        &[
            &[
                "weigh",
                "--design",
                "trip/design.toml",
                "--try",
                "battery.capacity",
            ],
            &[
                "weigh",
                "--design",
                "trip/design.toml",
                "--try",
                "battery.capactiy=100 Ah",
            ],
            &[
                "weigh",
                "--design",
                "trip/design.toml",
                "--try",
                "battery.capacity=100",
            ],
            &[
                "weigh",
                "--design",
                "trip/design.toml",
                "--try",
                "battery=lfp",
            ],
            &[
                "weigh",
                "--design",
                "trip/design.toml",
                "--try",
                "array.panels_in_series=many",
            ],
            &[
                "weigh",
                "--design",
                "trip/design.toml",
                "--try",
                "load.kettle.hours=1",
            ],
            &[
                "weigh",
                "--design",
                "trip/design.toml",
                "--try",
                "log.hold=1 h",
            ],
            &["weigh", "--design", "trip/design.toml", "--month", "13"],
        ],
    ),
    (
        "Samples",
        &[
            &["sample", "s", "--case", "no-such-case"],
            &["sample", "s", "--days", "0"],
            &["sample", "s", "--step", "1 fortnight"],
            &["sample", "s", "--step", "0 s"],
            &["sample", "s", "--step", "7 min"],
            &["sample", "s", "--size", "-1"],
            &["sample", "s", "--seed", "x"],
        ],
    ),
];

fn stage() -> TempDir {
    let at = trip();
    let put = |name: &str, text: &str| fs::write(at.path().join(name), text).unwrap();
    put("design.toml", DESIGN);
    put("log.csv", &log());
    assert_eq!(run(at.path(), &JUDGE_TRIP).status, 0);
    let report = fs::read_to_string(at.path().join("out/report.json")).unwrap();
    put("report.json", &report);
    put(
        "cut.json",
        "{\"schema\": \"ampledger-report-1\", \"version\": \"0.",
    );
    put("other.json", "{\"schema\": \"another\"}");
    let foreign = report.replace("\"nominal_v\": 12", "\"nominal_v\": 48");
    put("foreign.json", &foreign);
    fs::create_dir(at.path().join("hollow")).unwrap();
    at
}

/// What a run printed on standard error; it must have failed, and said so there alone.
fn message(at: &Path, words: &[&str]) -> String {
    let ran = run_with_input(at, words, b"");
    assert!(
        ran.status == 1 || ran.status == 2,
        "{words:?} came to {}: {}",
        ran.status,
        ran.out
    );
    assert!(!ran.err.is_empty(), "{words:?} says nothing");
    assert!(
        ran.out.is_empty() || words.contains(&"--ask"),
        "{words:?} prints: {}",
        ran.out
    );
    format!(
        "$ ampledger {}\n{}exit {}\n\n",
        words.join(" "),
        ran.err,
        ran.status
    )
}

fn copied(from: &str, ending: &[&str]) -> (TempDir, Vec<String>) {
    let at = tempfile::tempdir().unwrap();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(from);
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if ending.iter().any(|e| name.ends_with(e)) && name != "messages.txt" {
            fs::copy(&path, at.path().join(&name)).unwrap();
            names.push(name);
        }
    }
    names.sort();
    (at, names)
}

#[test]
fn every_message_stands_on_one_page() {
    let mut page = String::from(
        "Every message that bad input ends in, made by the test every_message. Read it whole.\n",
    );
    let at = stage();
    for (heading, runs) in RUNS {
        page.push_str(&format!("\n== {heading}\n\n"));
        for words in *runs {
            page.push_str(&message(at.path(), words));
        }
    }
    page.push_str("\n== Designs that do not read\n\n");
    let (at, designs) = copied("tests/designs/bad", &[".toml"]);
    for name in &designs {
        page.push_str(&message(at.path(), &["plan", "--design", name]));
    }
    page.push_str("\n== Logs that do not read\n\n");
    let (at, logs) = copied("tests/logs/bad", &[".csv", ".txt", ".gz"]);
    fs::write(at.path().join("design.toml"), DESIGN).unwrap();
    for name in &logs {
        let words = ["reconcile", name.as_str(), "--design", "design.toml"];
        // Some of these are bad only with a design that says so; `reading` holds their messages.
        if run(at.path(), &words).status != 0 {
            page.push_str(&message(at.path(), &words));
        }
    }
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/messages.txt");
    if std::env::var_os("UPDATE_EXPECT").is_some_and(|v| v == "1") {
        fs::write(&file, &page).unwrap();
    }
    let kept = fs::read_to_string(&file).unwrap_or_default();
    assert!(
        page == kept,
        "tests/messages.txt is not current; run this test with UPDATE_EXPECT=1 and read the difference:\n{}",
        first_difference(&page, &kept)
    );
}

fn first_difference(new: &str, old: &str) -> String {
    let pairs = new.lines().zip(old.lines().chain(std::iter::repeat("")));
    let found = pairs.enumerate().find(|(_, (a, b))| a != b);
    found.map_or_else(String::new, |(i, (a, b))| {
        format!("line {}\nnow:  {a}\nkept: {b}", i + 1)
    })
}
