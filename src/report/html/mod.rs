//! The page: one file, no network, and no script needed to read it. A section a file: its strings ready to print, and its template.
//!
//! Templates stand in the source beside what fills them, so that the words and the figures of a section are
//! read together and the crate needs no folder of templates. Whatever a template prints is escaped, except
//! drawings and sections that were themselves made here.

mod appendix;
mod evidence;
mod figures;
mod findings;
mod front;
mod mended;
mod options;
mod parts;

use askama::Template;

use super::charts::Chart;
use super::format;
use super::model::Report;

/// Why the page could not be put together.
pub type HtmlError = askama::Error;

const STYLE: &str = include_str!("style.css");

/// Copies the action card and tells a day's figures; the page is whole without it.
const SCRIPT: &str = include_str!("comfort.js");
/// The only script the page lets run, by the SHA-256 of its text: `openssl dgst -sha256 -binary comfort.js |
/// base64`. The browser's tests fail where it is not the script's.
const SCRIPT_DIGEST: &str = "EHEou/7ES0DPjboinFeO6oTHHYZTl4+M09QK2bg/b14=";

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{{ digest }}'; base-uri 'none'; form-action 'none'">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="ampledger {{ version }}">
<title>{{ name }}: {{ period }}</title>
<style>
{{ style|safe }}</style>
</head>
<body>
<a class="skip" href="#verdict">To the verdict</a>
{{ front|safe }}
<main>
<nav aria-label="Contents">
<ul>
{%- for (id, words) in contents %}
<li><a href="#{{ id }}">{{ words }}</a></li>
{%- endfor %}
</ul>
</nav>
{{ mended|safe }}
{{ evidence|safe }}
{{ findings|safe }}
{{ options|safe }}
{{ appendix|safe }}
</main>
<footer>
<p>ampledger {{ version }}, run <code>{{ run }}</code>. The same inputs give the same report. Times are those of the place of the log.</p>
</footer>
<script>{{ script|safe }}</script>
</body>
</html>
"##
)]
struct Page<'a> {
    name: &'a str,
    period: String,
    version: &'a str,
    run: &'a str,
    style: &'a str,
    script: &'a str,
    digest: &'a str,
    mended: String,
    contents: Vec<(&'static str, &'static str)>,
    front: String,
    evidence: String,
    findings: String,
    options: String,
    appendix: String,
}

/// The page with the charts in it.
pub fn render(report: &Report, charts: &[Chart]) -> Result<String, HtmlError> {
    let evidence = evidence::render(report, charts)?;
    let findings = findings::render(report, charts)?;
    let options = options::render(report, charts)?;
    let mended = mended::render(report, charts)?;
    let mut contents = Vec::new();
    for (id, words) in [
        ("mended", "Before and after"),
        ("days", "Your days"),
        ("charge", "State of charge"),
        ("use", "Use"),
        ("wiring", "Wiring"),
        ("findings", "Findings"),
        ("fine", "Checked and fine"),
        ("options", "What would change"),
        ("data", "Data and assumptions"),
        ("words", "Words"),
        ("tables", "Tables"),
    ] {
        let mark = format!("<section id=\"{id}\"");
        if evidence.contains(&mark)
            || findings.contains(&mark)
            || options.contains(&mark)
            || mended.contains(&mark)
            || matches!(id, "data" | "words" | "tables")
        {
            contents.push((id, words));
        }
    }
    let page = Page {
        name: &report.system.name,
        period: format!("{} to {}", report.period.from, report.period.to),
        version: &report.version,
        run: &report.run,
        style: STYLE,
        script: SCRIPT,
        digest: SCRIPT_DIGEST,
        mended,
        contents,
        front: front::render(report, charts)?,
        evidence,
        findings,
        options,
        appendix: appendix::render(report, charts)?,
    };
    page.render()
}

/// A period in words: `7 Jun to 30 Jun 2026`.
fn span(from: &str, to: &str) -> String {
    let year = to.get(0..4).unwrap_or_default();
    if from == to {
        return format!("{} {year}", format::day(to));
    }
    let first = format::day_within(from, from, to);
    format!("{first} to {} {year}", format::day(to))
}

#[cfg(test)]
mod tests;
