//! The report in a real browser: what the program writes, measured where owners read it.
//!
//! Needs `chromium` on the path, and `pdftotext` for the printed page; without them the parts that need
//! them are skipped with a line on standard error. The accessibility checker is a package that `.ci/run`
//! fetches; `AXE_CORE` names its script, and without it that test is skipped with a line too. `cargo test --test browser -- --nocapture` shows it.

#![allow(clippy::unwrap_used, clippy::print_stderr)]

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use ampledger::compare::compare;
use ampledger::reconcile::{Request, reconcile};
use ampledger::report::write;
use ampledger::sample::{self, SampleOptions};
use serde::Deserialize;

const WIDTHS: [u32; 3] = [360, 768, 1280];
const HOSTILE: &str = "<script>alert(1)</script>";

/// A report in a folder of its own.
struct Made {
    name: &'static str,
    folder: tempfile::TempDir,
}

impl Made {
    fn page(&self) -> String {
        fs::read_to_string(self.folder.path().join("out/report.html")).unwrap()
    }
}

fn report(name: &'static str, design: &Path, logs: Vec<PathBuf>) -> Made {
    let folder = tempfile::tempdir().unwrap();
    let request = Request {
        logs,
        design: design.to_path_buf(),
        from: None,
        to: None,
        zone: None,
    };
    write::write(&reconcile(&request).unwrap(), &folder.path().join("out")).unwrap();
    Made { name, folder }
}

/// The design of the trip that comes with the program.
fn shipped_design() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/design.toml")
}

/// The trip that comes with the program.
fn shipped() -> Made {
    report("shipped", &shipped_design(), Vec::new())
}

/// The same, its days before one date against those after it.
fn mended() -> Made {
    let design = shipped_design();
    let date = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
    let part = |from: Option<&str>, to: Option<&str>| {
        let request = Request {
            logs: Vec::new(),
            design: design.clone(),
            from: from.map(date),
            to: to.map(date),
            zone: None,
        };
        reconcile(&request).unwrap()
    };
    let whole = part(None, None);
    let half = whole.days[whole.days.len() / 2 - 1..].iter().take(2);
    let [last, first] = half.map(|d| d.date.as_str()).collect::<Vec<_>>()[..] else {
        panic!("the trip has no two halves");
    };
    let compared = compare(&part(None, Some(last)), &part(Some(first), None)).unwrap();
    let mut report = part(None, None);
    report.comparison = Some(compared);
    let folder = tempfile::tempdir().unwrap();
    write::write(&report, &folder.path().join("out")).unwrap();
    Made {
        name: "mended",
        folder,
    }
}

fn trip(case: &str) -> tempfile::TempDir {
    trip_of(case, None)
}

fn trip_of(case: &str, days: Option<u32>) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let options = SampleOptions {
        case: Some(case.to_owned()),
        days,
        step_s: days.map(|_| 900),
        place: None,
        size: None,
        seed: 1,
        force: true,
    };
    sample::write(folder.path(), &options).unwrap();
    folder
}

/// The trip that comes with the program, healthy ones with lithium and lead, one of ten weeks, whose days are
/// too many for a row each, and a log of four hours.
fn reports() -> Vec<Made> {
    let healthy = trip("healthy-summer");
    let design = healthy.path().join("design.toml");
    let log = fs::read_to_string(healthy.path().join("bank-week-1.csv")).unwrap();
    let short = healthy.path().join("short.csv");
    fs::write(&short, first_lines(&log, 240)).unwrap();
    let lead = trip("healthy-pwm");
    let weeks = trip_of("healthy-summer", Some(70));
    vec![
        shipped(),
        mended(),
        report("healthy", &design, Vec::new()),
        report("too short", &design, vec![short]),
        // A lead bank in May, the month whose name is widest.
        report("lead", &lead.path().join("design.toml"), Vec::new()),
        report("weeks", &weeks.path().join("design.toml"), Vec::new()),
    ]
}

fn first_lines(text: &str, count: usize) -> String {
    text.lines().take(count).map(|l| format!("{l}\n")).collect()
}

/// A healthy trip whose name and log titles try to be markup.
fn hostile() -> Made {
    let folder = trip("healthy-summer");
    let design = folder.path().join("design.toml");
    let text = fs::read_to_string(&design).unwrap();
    let name = text.lines().find(|l| l.starts_with("name = ")).unwrap();
    let text = text.replace(name, &format!("name = \"{HOSTILE}\""));
    fs::write(&design, text).unwrap();
    for entry in fs::read_dir(folder.path()).unwrap() {
        let file = entry.unwrap().path();
        if file.extension().is_some_and(|e| e == "csv") {
            let log = fs::read_to_string(&file).unwrap();
            let (titles, rows) = log.split_once('\n').unwrap();
            let titles = ["battery temperature", "stage"]
                .iter()
                .fold(titles.to_owned(), |all, title| {
                    all.replace(title, &format!("{title} {HOSTILE}"))
                });
            assert!(titles.contains(HOSTILE), "{titles}");
            fs::write(&file, format!("{titles}\n{rows}")).unwrap();
        }
    }
    report("hostile", &design, Vec::new())
}

/// The browser, where it runs here.
fn chromium() -> Option<&'static str> {
    let found = Command::new("chromium").arg("--version").output().is_ok();
    if !found {
        eprintln!("SKIPPED: no chromium on the path, so the report was not looked at in a browser");
    }
    found.then_some("chromium")
}

/// Runs the browser in a profile of its own; standard output and error.
fn browse(browser: &str, arguments: &[&str], page: &Path) -> (String, String) {
    let folder = tempfile::tempdir().unwrap();
    let (out, err) = (folder.path().join("out"), folder.path().join("err"));
    let mut child = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu"])
        .args(["--enable-logging=stderr", "--allow-file-access-from-files"])
        .arg(format!(
            "--user-data-dir={}",
            folder.path().join("profile").display()
        ))
        .args(arguments)
        .arg(format!("file://{}", page.display()))
        .stdin(Stdio::null())
        .stdout(File::create(&out).unwrap())
        .stderr(File::create(&err).unwrap())
        .spawn()
        .unwrap();
    let started = Instant::now();
    while child.try_wait().unwrap().is_none() {
        if started.elapsed() > Duration::from_secs(180) {
            child.kill().unwrap();
            panic!("the browser did not come to an end: {arguments:?}");
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let read = |file: &Path| String::from_utf8_lossy(&fs::read(file).unwrap()).into_owned();
    (read(&out), read(&err))
}

/// What the measuring script found in one page at one width.
#[derive(Debug, Deserialize)]
struct Measured {
    page: String,
    width: u32,
    trouble: Vec<String>,
    charts: usize,
    texts: usize,
    smallest: f64,
    fetched: Vec<String>,
    scripts: usize,
    hostile: usize,
}

/// Each page at each width, in frames: a window of its own can't be as narrow as a phone.
fn measure(browser: &str, pages: &[Made]) -> Vec<Measured> {
    let folder = tempfile::tempdir().unwrap();
    let mut host = include_str!("browser/host.html").to_owned();
    for (at, made) in pages.iter().enumerate() {
        let script = format!("<script>{}</script>", include_str!("browser/measure.js"));
        let copy = made
            .page()
            .replacen("<html ", &format!("<html data-page=\"{}\" ", made.name), 1)
            .replacen("<head>", &format!("<head>{script}"), 1);
        fs::write(folder.path().join(format!("{at}.html")), copy).unwrap();
        for width in WIDTHS {
            host += &format!("<iframe src=\"{at}.html\" style=\"width:{width}px\"></iframe>\n");
        }
    }
    let file = folder.path().join("host.html");
    fs::write(&file, host).unwrap();
    let (page, _) = browse(browser, &["--dump-dom", "--window-size=1400,900"], &file);
    let (_, rest) = page.split_once("<pre id=\"results\">").unwrap();
    let (results, _) = rest.split_once("</pre>").unwrap();
    let measured: Vec<Measured> = serde_json::from_str(results).unwrap();
    assert_eq!(measured.len(), pages.len() * WIDTHS.len());
    measured
}

#[test]
fn pages_fit_their_screens_and_stay_silent() {
    let Some(browser) = chromium() else { return };
    let mut pages = reports();
    pages.push(hostile());
    for m in measure(browser, &pages) {
        let at = format!("{} at {} px", m.page, m.width);
        assert!(WIDTHS.contains(&m.width), "{at}");
        assert!(m.trouble.is_empty(), "{at}: {:#?}", m.trouble);
        assert!(m.smallest >= 11.0, "{at}: type of {} px", m.smallest);
        assert!(m.fetched.is_empty(), "{at}: {:?}", m.fetched);
        assert_eq!(
            m.scripts, 2,
            "{at}: a script beside the page's and the measuring one"
        );
        let least = if m.page == "too short" { 1 } else { 6 };
        assert!(m.charts >= least && m.texts > m.charts, "{at}: {m:?}");
        if m.page == "hostile" {
            assert!(
                m.hostile >= 3,
                "{at}: name and titles {} times as text",
                m.hostile
            );
        }
    }
}

#[test]
fn the_page_as_written_says_nothing_to_the_console() {
    let Some(browser) = chromium() else { return };
    for made in [shipped(), hostile()] {
        let file = made.folder.path().join("out/report.html");
        let (page, said) = browse(browser, &["--dump-dom"], &file);
        assert!(page.contains("verdict-heading"), "{}: no page", made.name);
        let console: Vec<&str> = said.lines().filter(|l| l.contains("CONSOLE")).collect();
        assert!(console.is_empty(), "{}: {console:?}", made.name);
    }
}

#[test]
fn nothing_leaves_the_file() {
    let mut pages = reports();
    pages.push(hostile());
    for made in pages {
        let page = made.page().replace("http://www.w3.org/2000/svg", "");
        for (at, _) in page.match_indices("://") {
            let around: String = page[..at].chars().rev().take(30).collect();
            let before: String = around.chars().rev().collect();
            for opener in ["src=", "href=", "url(", "@import", "srcset=", "action="] {
                assert!(!before.contains(opener), "{}: {before}", made.name);
            }
        }
        for (at, _) in page.match_indices("href=\"") {
            assert!(
                page[at + 6..].starts_with('#'),
                "{}: a link that leaves the page",
                made.name
            );
        }
        for (at, _) in page.match_indices("url(") {
            assert!(page[at + 4..].starts_with('#'), "{}: a url", made.name);
        }
        assert_eq!(page.matches("<script").count(), 1, "{}", made.name);
        for mark in ["<link", "<img", "<iframe", "@import", " src="] {
            assert!(!page.contains(mark), "{}: {mark}", made.name);
        }
    }
}

/// What the page's own script did when it was used.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
struct Comfort {
    copied: String,
    told: String,
    days: usize,
    by_choice: String,
    pointed: String,
    by_pointing: String,
    reason: String,
    refused: Vec<String>,
    foreign: bool,
}

#[test]
fn the_pages_script_gives_comfort_and_no_other_script_runs() {
    let Some(browser) = chromium() else { return };
    let made = shipped();
    let folder = tempfile::tempdir().unwrap();
    let driver = format!(
        "<head><script>{}</script>",
        include_str!("browser/comfort.js")
    );
    let foreign = "<script>window.foreign = true;</script></main>";
    let copy = made
        .page()
        .replacen("<head>", &driver, 1)
        .replacen("</main>", foreign, 1);
    let file = folder.path().join("page.html");
    fs::write(&file, copy).unwrap();
    let (page, said) = browse(
        browser,
        &["--dump-dom", "--virtual-time-budget=5000"],
        &file,
    );
    let Some((_, rest)) = page.split_once("<pre id=\"comfort\">") else {
        panic!("the script offered nothing to use: {said}");
    };
    let did: Comfort = serde_json::from_str(rest.split_once("</pre>").unwrap().0).unwrap();
    for words in ["Next:", "where: ", "caution: "] {
        assert!(did.copied.contains(words), "no {words} in: {}", did.copied);
    }
    assert_eq!(did.told, "Copied.");
    assert!(did.days >= 7, "{did:?}");
    assert!(did.by_choice.contains("; harvest "), "{did:?}");
    let day = format!("{}: ", did.pointed);
    assert!(did.by_pointing.starts_with(&day), "{did:?}");
    assert_ne!(did.by_choice, did.by_pointing);
    assert!(did.reason.starts_with(&did.pointed), "{did:?}");
    assert!(!did.foreign, "a script that is not the page's own ran");
    assert_eq!(did.refused.len(), 1, "{did:?}");
}

/// What the accessibility checker said of a page.
#[derive(Debug, Deserialize)]
struct Accessible {
    dark: bool,
    passes: usize,
    violations: Vec<String>,
}

/// The accessibility checker's script, where the environment has fetched it.
fn checker() -> Option<String> {
    let file = std::env::var_os("AXE_CORE")?;
    Some(fs::read_to_string(&file).unwrap_or_else(|e| panic!("AXE_CORE={}: {e}", file.display())))
}

#[test]
fn the_accessibility_checker_finds_nothing_in_light_and_dark() {
    let Some(browser) = chromium() else { return };
    let Some(checker) = checker() else {
        eprintln!(
            "SKIPPED: AXE_CORE does not name axe-core's axe.min.js, so the accessibility checker did not run"
        );
        return;
    };
    for made in reports() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("checker.js"), &checker).unwrap();
        let scripts = format!(
            "<head><script src=\"checker.js\"></script><script>{}</script>",
            include_str!("browser/accessible.js")
        );
        let copy = folder.path().join("page.html");
        fs::write(&copy, made.page().replacen("<head>", &scripts, 1)).unwrap();
        for dark in [false, true] {
            let mut arguments = vec!["--dump-dom", "--virtual-time-budget=60000"];
            if dark {
                arguments.push("--force-dark-mode");
            }
            let (page, said) = browse(browser, &arguments, &copy);
            let at = format!("{}, dark {dark}", made.name);
            let Some((_, rest)) = page.split_once("<pre id=\"accessible\">") else {
                panic!("{at}: the checker did not come to an end: {said}");
            };
            let told: Accessible =
                serde_json::from_str(rest.split_once("</pre>").unwrap().0).unwrap();
            assert_eq!(told.dark, dark, "{at}");
            assert!(
                told.passes >= 20,
                "{at}: only {} rules applied",
                told.passes
            );
            assert!(told.violations.is_empty(), "{at}: {:#?}", told.violations);
        }
    }
}

/// Words of a printed page with single spaces.
fn printed(browser: &str, made: &Made, paper: &str) -> Vec<String> {
    let sheet = format!("<style>@page{{size:{paper}}}</style></head>");
    let copy = made.folder.path().join("print.html");
    fs::write(&copy, made.page().replacen("</head>", &sheet, 1)).unwrap();
    let pdf = made.folder.path().join("print.pdf");
    let print = format!("--print-to-pdf={}", pdf.display());
    browse(browser, &["--no-pdf-header-footer", &print], &copy);
    let text = Command::new("pdftotext")
        .args(["-layout", "-enc", "UTF-8"])
        .args([pdf.as_os_str(), "-".as_ref()])
        .output()
        .unwrap();
    String::from_utf8_lossy(&text.stdout)
        .split('\u{c}')
        .map(|page| page.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect()
}

#[test]
fn page_one_prints_on_one_sheet() {
    let Some(browser) = chromium() else { return };
    if Command::new("pdftotext").arg("-v").output().is_err() {
        eprintln!("SKIPPED: no pdftotext on the path, so the printed page was not read");
        return;
    }
    for made in reports() {
        for paper in ["A4", "letter"] {
            let pages = printed(browser, &made, paper);
            let at = format!("{} on {paper}", made.name);
            let mut wanted = vec![
                "Confidence:",
                "Where the harvest went",
                "Four figures",
                "What this log cannot tell",
                "A loss is worth a job from",
            ];
            let page = made.page();
            let (front, _) = page.split_once("</header>").unwrap();
            if front.contains("<dt>caution</dt>") {
                wanted.extend(["Next:", "caution"]);
            }
            for words in wanted {
                assert!(
                    pages[0].contains(words),
                    "{at}: no \"{words}\" in: {}",
                    pages[0]
                );
            }
            let second = ["Your days", "Before and after"];
            assert!(
                second.iter().any(|s| pages[1].starts_with(s)),
                "{at}: {}",
                pages[1]
            );
            // Claim and test of a finding stand on one sheet.
            for sheet in &pages[1..] {
                let count = |words: &str| sheet.matches(words).count();
                assert_eq!(
                    count("Confidence:"),
                    count("How to test it"),
                    "{at}: a finding is split: {sheet}"
                );
            }
        }
    }
}
