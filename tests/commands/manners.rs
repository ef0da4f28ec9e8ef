//! What people expect of any command: completions, manual, quiet and verbose, pipes, colours, hints.

use super::*;

const COMMANDS: [&str; 11] = [
    "reconcile",
    "plan",
    "weigh",
    "compare",
    "inspect",
    "render",
    "explain",
    "sample",
    "new",
    "shell",
    "manual",
];

#[test]
fn every_command_has_help_with_examples() {
    let at = tempfile::tempdir().unwrap();
    let main = run(at.path(), &["--help"]);
    for command in COMMANDS {
        assert!(main.out.contains(&format!("\n  {command} ")), "{command}");
        let help = run(at.path(), &[command, "--help"]);
        assert_eq!(help.status, 0);
        assert!(help.out.contains("Examples:\n"), "{command}");
        assert!(
            help.out.contains(&format!("\n  ampledger {command}"))
                || help.out.contains(&format!("| ampledger {command}")),
            "{command}"
        );
    }
    let listed = main.out.lines().skip_while(|l| *l != "Commands:").skip(1);
    let listed = listed
        .take_while(|l| !l.is_empty())
        .filter(|l| !l.starts_with("    "))
        .count();
    assert_eq!(listed, COMMANDS.len() + 1, "with help itself: {}", main.out);
    assert!(main.out.contains("Exit status"), "{}", main.out);
}

#[test]
fn the_examples_in_help_are_right_usage() {
    let at = tempfile::tempdir().unwrap();
    let mut tried = 0;
    for command in COMMANDS {
        let help = run(at.path(), &[command, "--help"]);
        let (_, examples) = help.out.split_once("Examples:\n").unwrap();
        for line in examples.lines().take_while(|l| !l.is_empty()) {
            let own = line.rsplit("| ").next().unwrap().trim();
            let own = own.split([';', '>', '<', '&']).next().unwrap();
            // Quotes as a shell would take them.
            let words: Vec<String> = own
                .split('\'')
                .enumerate()
                .flat_map(|(i, part)| match i % 2 {
                    1 => vec![format!("\u{1}{part}\u{1}")],
                    _ => part.split(' ').map(str::to_owned).collect(),
                })
                .filter(|w| !w.is_empty())
                .map(|w| w.replace('\u{1}', ""))
                .collect();
            let words: Vec<&str> = words.iter().map(String::as_str).skip(1).collect();
            let ran = run_with_input(at.path(), &words, b"");
            assert_ne!(ran.status, 2, "{line}: {}", ran.err);
            tried += 1;
        }
    }
    assert!(tried > 25, "{tried}");
}

#[test]
fn completions_come_for_every_shell() {
    let at = tempfile::tempdir().unwrap();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let ran = run(at.path(), &["shell", shell]);
        assert_eq!((ran.status, ran.err.as_str()), (0, ""), "{shell}");
        for word in ["reconcile", "fail-on", "quiet"] {
            assert!(ran.out.contains(word), "{shell} {word}");
        }
        // What `explain` knows is offered by the shells that complete what has no option before it.
        let kinds = ran.out.contains("charge-voltage-low") && ran.out.contains("logging-well");
        assert_eq!(kinds, matches!(shell, "bash" | "zsh"), "{shell}");
    }
    refused(&run(at.path(), &["shell", "bsh"]), 2, &["bsh", "bash"]);
}

#[test]
fn the_manual_has_a_page_for_each_command() {
    let at = tempfile::tempdir().unwrap();
    let ran = run(at.path(), &["manual", "man/man1"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let pages = files(&at.path().join("man/man1"));
    assert_eq!(pages.len(), COMMANDS.len() + 1);
    for command in COMMANDS {
        let page = &pages[Path::new(&format!("ampledger-{command}.1"))];
        let text = String::from_utf8_lossy(page);
        assert!(
            text.contains(".SH SYNOPSIS") && text.contains("Examples:"),
            "{command}"
        );
    }
    let main = String::from_utf8_lossy(&pages[Path::new("ampledger.1")]).into_owned();
    assert!(main.contains("Exit status"), "{main}");
}

#[test]
fn quiet_says_nothing_but_what_was_asked_for() {
    let at = trip();
    for words in [
        &[
            "reconcile",
            "--design",
            "trip/design.toml",
            "--out",
            "out",
            "--quiet",
        ][..],
        &["-q", "render", "out/report.json"],
        &["sample", "another", "--days", "2", "-q"],
        &["new", "new.toml", "-q"],
        &["manual", "pages", "-q"],
    ] {
        let ran = run(at.path(), words);
        assert_eq!(
            (ran.status, ran.out.as_str(), ran.err.as_str()),
            (0, "", ""),
            "{words:?}"
        );
    }
    let json = run(at.path(), &[&JUDGE_TRIP[..], &["-q", "--json"]].concat());
    assert!(json.out.starts_with('{'), "{}", json.out);
    let wrong = run(at.path(), &["-q", "plan", "--design", "none.toml"]);
    refused(&wrong, 1, &["none.toml"]);
    refused(&run(at.path(), &["-q", "-v", "explain"]), 2, &["--verbose"]);
}

#[test]
fn verbose_says_how_inputs_were_understood_beside_the_results() {
    let at = trip();
    let plain = run(at.path(), &JUDGE_TRIP);
    let verbose = run(at.path(), &[&JUDGE_TRIP[..], &["--verbose"]].concat());
    assert_eq!(verbose.out, plain.out);
    assert_eq!(plain.err, "");
    for said in ["assumed ", "rows read", "battery_voltage from"] {
        assert!(verbose.err.contains(said), "no {said:?} in {}", verbose.err);
    }
    let plan = run(at.path(), &["plan", "--design", "trip/design.toml", "-v"]);
    assert!(
        plan.err.contains("trip/design.toml: assumed"),
        "{}",
        plan.err
    );
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    let at = trip();
    for words in [
        &["explain"][..],
        &["explain", "schema-report"],
        &["--help"],
        &["shell", "bash"],
        &["plan", "--design", "trip/design.toml"],
        &["reconcile", "--design", "trip/design.toml", "--json"],
        &["inspect", "--design", "trip/design.toml", "--json"],
    ] {
        let mut child = program(at.path(), words)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let done = ran(child.wait_with_output().unwrap());
        assert_eq!((done.status, done.err.as_str()), (0, ""), "{words:?}");
    }
}

#[test]
fn nothing_is_coloured_where_nobody_sees_it() {
    let at = tempfile::tempdir().unwrap();
    for (name, value) in [("NO_COLOR", "1"), ("TERM", "xterm-256color")] {
        for words in [
            &["--help"][..],
            &["reconcile", "--desing"],
            &["explain", "x"],
        ] {
            let mut command = program(at.path(), words);
            let ran = ran(command.env(name, value).output().unwrap());
            assert!(
                !ran.out.contains('\u{1b}') && !ran.err.contains('\u{1b}'),
                "{words:?}"
            );
        }
    }
}

#[test]
fn slips_are_answered_with_the_nearest_name() {
    let at = workshop(&format!("{DESIGN}capactiy = \"1 Ah\"\n"), &log());
    for (words, status, near) in [
        (&["recncile"][..], 2, "reconcile"),
        (&["plan", "--desing", "x"], 2, "--design"),
        (
            &["reconcile", "--design", "x", "--fail-on", "fux"],
            2,
            "fix",
        ),
        (
            &["reconcile", "--design", "x", "--timezone", "Europ/Lisbon"],
            2,
            "Europe/Lisbon",
        ),
        (&["explain", "never-fall"], 2, "never-full"),
        (&["explain", "read-the-report"], 2, "reading-the-report"),
        (&["plan", "--design", "design.toml"], 1, "battery.capacity"),
        (&["inspect", "logg.csv"], 1, "log.csv"),
    ] {
        refused(&run(at.path(), words), status, &[near]);
    }
    let columns =
        "[[log]]\nfiles = \"log.csv\"\n[log.columns]\nbattery_voltage = \"battery voltag (V)\"\n";
    fs::write(at.path().join("design.toml"), format!("{DESIGN}{columns}")).unwrap();
    let ran = run(at.path(), &["inspect", "--design", "design.toml"]);
    let said = format!("{}{}", ran.out, ran.err);
    assert!(said.contains("battery voltage (V)"), "{said}");
}

#[test]
fn reports_can_be_piped_in() {
    let at = trip();
    assert_eq!(run(at.path(), &JUDGE_TRIP).status, 0);
    let report = fs::read(at.path().join("out/report.json")).unwrap();
    let rendered = run_with_input(at.path(), &["render", "-", "--out", "again"], &report);
    assert_eq!(rendered.status, 0, "{}", rendered.err);
    assert_eq!(
        files(&at.path().join("again")),
        files(&at.path().join("out"))
    );
    let compared = run_with_input(at.path(), &["compare", "-", "out/report.json"], &report);
    assert_eq!(compared.status, 0, "{}", compared.err);
    let both = run_with_input(at.path(), &["compare", "-", "-"], &report);
    refused(&both, 2, &["standard input"]);
}
