//! The report as a short post for a forum, in Markdown: what was found and what to measure next.
//!
//! A post is read by strangers, so it carries no place, no name the owner gave and no name of a file. It
//! holds what somebody needs to judge with: the system's sizes, the verdict, the account and the check.

use super::action::{check_lines, comes_from, first_action, job, without_check};
use super::compare_text::figure;
use super::format::{self, on_page, plain};
use super::model::{Entry, Finding, Report, Severity, SystemSummary};
use super::{held_back, open, words};
use crate::words::upper_first;

/// Findings told at most: the dangers and faults; a post is no report.
const MOST_FINDINGS: usize = 5;
/// Open questions told at most.
const MOST_UNKNOWN: usize = 3;
/// What stands where a name stood.
const LEFT_OUT: &str = "[name]";

/// The post.
pub fn render(report: &Report) -> String {
    let mut parts = vec![
        format!(
            "**Off-grid solar: where the harvest of {} went**",
            months(report)
        ),
        system(report),
        verdict(report),
    ];
    parts.extend(account(report));
    parts.extend(mended(report));
    parts.extend(findings(report));
    parts.extend(next(report));
    parts.extend(unknown(report));
    parts.push(format!(
        "*Figures in brackets are 90 % ranges. Worked out by ampledger {} from the logs and the design, run {}.*",
        plain_text(&report.version),
        plain_text(&report.run)
    ));
    let text = parts.join("\n\n") + "\n";
    without_names(&text, &names(report))
}

/// `24 days in September 2026`.
fn months(report: &Report) -> String {
    let month = |date: &str| {
        chrono::NaiveDate::parse_from_str(date, "%Y-%m-%d")
            .map_or_else(|_| String::new(), |d| d.format("%B %Y").to_string())
    };
    let (from, to) = (month(&report.period.from), month(&report.period.to));
    let span = if from == to {
        format!("in {to}")
    } else {
        format!("from {from} to {to}")
    };
    plain(&format!(
        "{} {span}",
        format::count(report.period.days, "day")
    ))
}

fn system(report: &Report) -> String {
    let s = &report.system;
    let unit = |v: f64, unit| format::with_unit(&format::decimals(v, 0), unit);
    plain_text(&format!(
        "{} of panels, {} ({}) of {} at {}; {} of the time was logged.",
        unit(s.array_w, "W"),
        unit(s.capacity_ah, "Ah"),
        format::energy_about(s.capacity_ah * s.nominal_v),
        words::chemistry(&s.chemistry),
        unit(s.nominal_v, "V"),
        format::percent(report.period.coverage)
    ))
}

fn verdict(report: &Report) -> String {
    let verdict = &report.verdict;
    let mut text = format!(
        "**{}:** {}",
        upper_first(verdict.severity.word()),
        plain_text(&verdict.text)
    );
    for sentence in &verdict.story {
        text.push_str(&format!(" {}", plain_text(sentence)));
    }
    text.push_str(&format!(
        " Confidence {}: {}.",
        verdict.confidence.word(),
        words::sure(verdict)
    ));
    text
}

/// The steps that moved something, as a table.
fn account(report: &Report) -> Option<String> {
    let entries = &report.account.harvest;
    let moved = |e: &&Entry| [e.wh, e.low, e.high].iter().any(|v| v.abs() >= 0.5);
    let rows: Vec<String> = entries
        .iter()
        .filter(moved)
        .map(|e| {
            let range = if e.high - e.low < 0.5 {
                String::new()
            } else {
                format!("{} to {}", format::whole(e.low), format::whole(e.high))
            };
            let row = format!(
                "| {} | {} | {range} |",
                words::step(&e.name).0,
                format::whole(e.wh)
            );
            plain(&row)
        })
        .collect();
    (!rows.is_empty()).then(|| {
        let held = held_back::told(report)
            .map(|told| format!("\n\nHeld back: {}", plain_text(&told)))
            .unwrap_or_default();
        format!(
            "| where the harvest went, {} together | Wh | 90 % range |\n| :-- | --: | --: |\n{}{held}",
            plain(&format::count(report.period.days, "day")),
            rows.join("\n")
        )
    })
}

/// What a mend changed, a line a figure.
fn mended(report: &Report) -> Option<String> {
    let comparison = report.comparison.as_ref()?;
    let lines: Vec<String> = comparison
        .rows
        .iter()
        .map(|row| {
            let side = |of| plain_text(&figure(of, row));
            format!(
                "- {}: {}; {} before, {} after",
                plain_text(&row.title),
                plain_text(&row.change),
                side(row.before.as_ref()),
                side(row.after.as_ref())
            )
        })
        .collect();
    (!lines.is_empty()).then(|| format!("**Before and after mending**\n\n{}", lines.join("\n")))
}

fn findings(report: &Report) -> Option<String> {
    let told: Vec<String> = report
        .findings
        .iter()
        .filter(|f| f.severity <= Severity::Watch)
        .take(MOST_FINDINGS)
        .map(|f| finding(report, f))
        .collect();
    (!told.is_empty()).then(|| format!("**Found**\n\n{}", told.join("\n")))
}

fn finding(report: &Report, finding: &Finding) -> String {
    let from = comes_from(report, finding).map(|told| format!(" {}", plain_text(&told)));
    format!(
        "- {}, confidence {}: {}{}",
        finding.severity.word(),
        finding.confidence.word(),
        plain_text(&finding.summary),
        from.unwrap_or_default()
    )
}

fn next(report: &Report) -> Option<String> {
    if let Some((what, words)) = without_check(report) {
        return Some(format!("**Next: {what}**\n\n{words}"));
    }
    let finding = first_action(report)?;
    let lines: Vec<String> = check_lines(&finding.next_check)
        .into_iter()
        .map(|(word, text)| format!("- {word}: {}", plain_text(text)))
        .collect();
    (!lines.is_empty()).then(|| {
        format!(
            "**To be measured next**\n\n{}\n\n{}",
            plain_text(&job(finding)),
            lines.join("\n")
        )
    })
}

fn unknown(report: &Report) -> Option<String> {
    let lines: Vec<String> = open::questions(report)
        .into_iter()
        .take(MOST_UNKNOWN)
        .map(|u| format!("- {}", plain_text(u.text.trim_end_matches('.'))))
        .collect();
    (!lines.is_empty()).then(|| format!("**The log cannot tell**\n\n{}", lines.join("\n")))
}

/// Words that mean nothing to Markdown: one line, its marks escaped.
fn plain_text(text: &str) -> String {
    let mut out = String::new();
    for c in plain(&on_page(text)).chars() {
        match c {
            '\\' | '`' | '*' | '_' | '<' | '>' | '[' | ']' | '|' | '#' | '~' | '&' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_whitespace() => out.push(' '),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// Coordinates, zones and the owner's words of every place.
fn places(system: &SystemSummary) -> impl Iterator<Item = String> {
    let stops = system.stops.iter();
    let notes = stops.clone().filter_map(|stop| stop.note.clone());
    std::iter::once(&system.place)
        .chain(stops.map(|stop| &stop.place))
        .flat_map(|place| place.split(", "))
        .map(str::to_owned)
        .chain(notes)
}

/// What must not be told, the longest first: the owner's names, the place, the files.
fn names(report: &Report) -> Vec<String> {
    let system = &report.system;
    let files = report.inputs.iter().flat_map(|input| {
        let file = std::path::Path::new(&input.file);
        let part = |p: Option<&std::ffi::OsStr>| p.map(|s| s.to_string_lossy().into_owned());
        let short = part(file.file_stem()).map(|stem| {
            // A log may be called by any word, as "bank" is: such a name stands in quotes.
            if stem.chars().all(char::is_alphabetic) {
                format!("\"{stem}\"")
            } else {
                stem
            }
        });
        [Some(input.file.clone()), part(file.file_name()), short]
            .into_iter()
            .flatten()
    });
    let mut names: Vec<String> = std::iter::once(system.name.clone())
        .chain(system.names.iter().cloned())
        .chain(places(system))
        .chain(files)
        .map(|name| plain_text(name.trim()))
        .filter(|name| name.chars().any(char::is_alphanumeric))
        .collect();
    names.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
    names.dedup();
    names
}

/// The text with every name left out where it stands as a word of its own.
fn without_names(text: &str, names: &[String]) -> String {
    names
        .iter()
        .fold(text.to_owned(), |text, name| without(&text, name))
}

fn without(text: &str, name: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(name) {
        let (before, after) = (&rest[..at], &rest[at + name.len()..]);
        let joined = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
        let previous = before.chars().next_back().or(out.chars().next_back());
        let whole = !joined(previous) && !joined(after.chars().next());
        out.push_str(before);
        out.push_str(if whole { LEFT_OUT } else { name });
        rest = after;
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::demo;
    use crate::report::model::Stop;

    #[test]
    fn a_post_is_short_and_tells_verdict_account_and_check() {
        for report in demo::all() {
            let post = render(&report);
            assert!(post.len() < 6_000, "{} bytes", post.len());
            assert!(!post.contains("NaN") && !post.contains('\u{a0}'), "{post}");
        }
        let post = render(&demo::faulty());
        for words in [
            "**Fix:** ",
            "| planned |",
            "| harvested |",
            "- where: ",
            ", with ",
            "430 W",
        ] {
            assert!(post.contains(words), "no {words} in {post}");
        }
        assert!(!render(&demo::healthy()).contains("measured next"));
    }

    #[test]
    fn place_names_and_files_are_left_out_wherever_they_stand() {
        let mut report = demo::faulty();
        report.system.names = vec!["port roof".into()];
        report.system.stops = vec![Stop {
            from: "2026-06-07".into(),
            to: "2026-06-09".into(),
            place: "55.3 N, 21.0 E, Europe/Vilnius".into(),
            note: Some("Curonian spit".into()),
        }];
        report.verdict.text =
            "At Heron cabin (57.1 N, Europe/Copenhagen) the array port roof is weak, in Europe/Vilnius on the Curonian spit; see logs/bank-june.csv.".into();
        report.findings[0].summary = "bank-june.csv and bank-june disagree".into();
        let post = render(&report);
        for name in [
            "Heron",
            "57.1",
            "9.9 E",
            "Copenhagen",
            "port roof",
            "Vilnius",
            "Curonian",
            "bank-june",
            "logs/",
        ] {
            assert!(!post.contains(name), "{name} in {post}");
        }
        assert!(post.contains("the array [name] is weak"), "{post}");
    }

    #[test]
    fn a_name_inside_a_word_is_no_name() {
        assert_eq!(without("an urban van, Van", "van"), "an urban [name], Van");
        assert_eq!(without("vanvan", "van"), "vanvan");
    }

    #[test]
    fn marks_of_markdown_stay_letters() {
        let mut report = demo::faulty();
        report.verdict.text = "<script> *loud* _low_ | `code` [a](b)\n# head".into();
        let post = render(&report);
        assert!(
            post.contains(r"\<script\> \*loud\* \_low\_ \| \`code\` \[a\](b) \# head"),
            "{post}"
        );
    }
}
