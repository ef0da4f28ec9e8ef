//! The report as plain text, at most 80 columns, and the shorter summary for a terminal.

use super::action::{
    check_lines, comes_from, first_action, has_own_check, job, mean_over, next_actions,
    without_check,
};
use super::format::{self, plain};
use super::model::{Checked, Day, DayState, Entry, Finding, Limiting, Report, Severity};
use super::page::{Page, one_line};
use super::{cancelled, days_text, held_back, inputs, open, words};

/// Open questions told in full at most.
const OPEN: usize = 6;

/// Short days listed after a run at most.
const FLAGGED: usize = 31;

/// The whole report: verdict, action, account, days, findings, what cannot be told.
pub fn render(report: &Report) -> String {
    let mut page = Page::default();
    page.line(&format!(
        "{}, {} to {} ({} days)",
        one_line(&report.system.name),
        report.period.from,
        report.period.to,
        report.period.days
    ));
    verdict(&mut page, report);
    for sentence in &report.verdict.story {
        page.paragraph(sentence, "");
    }
    action(&mut page, report);
    harvest(&mut page, report);
    account(
        &mut page,
        "THE BANK'S ACCOUNT",
        &report.account.bank,
        report.period.days,
    );
    mended(&mut page, report);
    places(&mut page, report);
    days_text::rows(&mut page, &report.days, &report.noted);
    findings(&mut page, report);
    options(&mut page, report);
    checked(&mut page, report);
    unknown(&mut page, report);
    page.heading("HOW THE FILES WERE READ");
    let listed = inputs::listed(&report.inputs).iter();
    let listed = listed.map(|input| (input.file.clone(), input.rows));
    for (file, rows) in listed.chain(inputs::others(&report.inputs)) {
        page.paragraph(
            &format!(
                "{file}: {} rows read = {} used + {} repaired + {} merged + {} refused",
                rows.read, rows.used, rows.repaired, rows.merged, rows.refused
            ),
            "",
        );
    }
    page.line(&format!("ampledger {}, run {}", report.version, report.run));
    page.text
}

/// What a terminal shows after a run: verdict, first action, account, flagged days.
pub fn summary(report: &Report) -> String {
    let mut page = Page::default();
    verdict(&mut page, report);
    if report.verdict.limiting == Limiting::Log {
        for sentence in &report.verdict.story {
            page.paragraph(sentence, "");
        }
    }
    action(&mut page, report);
    also_found(&mut page, report);
    harvest(&mut page, report);
    flagged(&mut page, &report.days);
    zone(&mut page, report);
    page.text
}

/// Findings to mend that neither the verdict's first action nor those after it name.
fn also_found(page: &mut Page, report: &Report) {
    let told: Vec<usize> = next_actions(report).into_iter().map(|(i, _)| i).collect();
    let first = first_action(report).map(|f| &f.kind);
    let others: Vec<String> = report
        .findings
        .iter()
        .enumerate()
        .filter(|(i, f)| {
            f.severity <= Severity::Fix
                && f.part_of.is_none()
                && !told.contains(i)
                && Some(&f.kind) != first
        })
        .map(|(_, f)| words::finding(&f.kind))
        .collect();
    if !others.is_empty() {
        page.paragraph(&format!("Also in the report: {}.", others.join("; ")), "  ");
    }
}

/// Which zone was taken where the design says none: the days and their hours hang on it.
fn zone(page: &mut Page, report: &Report) {
    let taken = report.assumed.iter().find(|a| a.key == "place.timezone");
    if let Some(taken) = taken {
        page.blank();
        page.paragraph(
            &format!(
                "Time zone assumed: {}; write place.timezone in the design.",
                taken.value
            ),
            "",
        );
    }
}

/// One line a day that fell short.
fn flagged(page: &mut Page, days: &[Day]) {
    let short: Vec<&Day> = days.iter().filter(|d| d.state == DayState::Short).collect();
    if short.is_empty() {
        return;
    }
    page.heading("DAYS THAT FELL SHORT");
    for day in short.iter().take(FLAGGED) {
        let energy = |v: Option<f64>| v.map_or(format::NOT_KNOWN.to_string(), format::energy_about);
        page.line(&format!(
            "! {:<11} about {} lost of {} offered",
            one_line(&day.date),
            energy(day.lost_wh),
            energy(day.offered_wh)
        ));
    }
    if short.len() > FLAGGED {
        page.line(&format!(
            "! and {} more; see days.csv",
            format::count(short.len() - FLAGGED, "day")
        ));
    }
}

/// The places of a journey with their days.
fn places(page: &mut Page, report: &Report) {
    if report.system.stops.is_empty() {
        return;
    }
    page.heading("WHERE IT STOOD");
    for stop in &report.system.stops {
        let days = format!("{} to {}", one_line(&stop.from), one_line(&stop.to));
        let note = stop.note.as_ref().map(|n| format!("; {n}"));
        page.paragraph(
            &format!("{}{}", stop.place, note.unwrap_or_default()),
            &format!("  {days}  "),
        );
    }
}

/// What a mend changed, where a run was asked for it.
fn mended(page: &mut Page, report: &Report) {
    let Some(comparison) = &report.comparison else {
        return;
    };
    let (before, after) = (&comparison.before, &comparison.after);
    page.heading("BEFORE AND AFTER");
    page.line(&format!(
        "  before: {} to {}; after: {} to {}",
        one_line(&before.from),
        one_line(&before.to),
        one_line(&after.from),
        one_line(&after.to)
    ));
    super::compare_text::rows(page, comparison);
}

/// What each option would change, where the design names any.
fn options(page: &mut Page, report: &Report) {
    if report.options.is_empty() {
        return;
    }
    page.heading("WHAT WOULD CHANGE");
    super::weigh_text::rows(page, &report.options, report.recommended.as_deref());
    page.paragraph(report.recommended_why.as_deref().unwrap_or_default(), "");
}

fn verdict(page: &mut Page, report: &Report) {
    let verdict = &report.verdict;
    page.paragraph(
        &verdict.text,
        &format!("{}: ", verdict.severity.word().to_uppercase()),
    );
    page.paragraph(
        &format!(
            "{}; confidence {}: {}",
            words::limiting(verdict.limiting),
            verdict.confidence.word(),
            words::sure(verdict)
        ),
        "",
    );
}

fn action(page: &mut Page, report: &Report) {
    if let Some((what, words)) = without_check(report) {
        page.heading(&format!("NEXT: {}", what.to_uppercase()));
        page.paragraph(words, "  ");
    }
    if let Some(finding) = first_action(report) {
        page.heading("NEXT");
        check(page, finding);
        let after: Vec<String> = next_actions(report)
            .into_iter()
            .map(|(_, f)| format!("{}, with {}", words::finding(&f.kind), f.next_check.tool))
            .collect();
        if !after.is_empty() {
            page.paragraph(&format!("After that: {}.", after.join("; ")), "  ");
        }
    }
}

fn check(page: &mut Page, finding: &Finding) {
    if check_lines(&finding.next_check).is_empty() {
        return;
    }
    page.paragraph(&job(finding), "  ");
    for (word, text) in check_lines(&finding.next_check) {
        page.paragraph(text, &format!("  {word:<8} "));
    }
}

/// Where the harvest went, and whether what was held back is a loss.
fn harvest(page: &mut Page, report: &Report) {
    let days = report.period.days;
    account(
        page,
        "WHERE THE HARVEST WENT",
        &report.account.harvest,
        days,
    );
    if report.account.harvest.is_empty() {
        return;
    }
    if let Some(told) = held_back::told(report) {
        page.paragraph(&told, "  Held back: ");
    }
    page.paragraph(words::BEYOND, "  ");
    page.paragraph(&cancelled::told(report).unwrap_or_default(), "  ");
}

fn account(page: &mut Page, heading: &str, entries: &[Entry], days: usize) {
    if entries.is_empty() {
        return;
    }
    let together = match days {
        1 => ", ONE DAY".to_string(),
        n => format!(", ALL {n} DAYS TOGETHER"),
    };
    page.heading(&format!("{heading}{together}"));
    page.line(&format!(
        "  {:<18}{:>12}   {:<24}{:<10}{:>9}",
        "step", "Wh", "90 % range", "how", "Wh a day"
    ));
    for entry in entries {
        let (word, _) = words::step(&entry.name);
        let wh = plain(&format::whole(entry.wh));
        let range = if entry.low == entry.high {
            String::new()
        } else {
            plain(&format!(
                "{} to {}",
                format::whole(entry.low),
                format::whole(entry.high)
            ))
        };
        let how = format!("{:?}", entry.how).to_lowercase();
        if entry.name == "harvested" && heading.contains("HARVEST") {
            page.line(&format!("  {:<18}{:>12}", "", "-".repeat(10)));
        }
        let a_day = plain(&format::whole(entry.wh / days.max(1) as f64));
        page.line(&format!(
            "  {:<18}{wh:>12}   {range:<24}{how:<10}{a_day:>9}",
            one_line(word)
        ));
    }
}

fn findings(page: &mut Page, report: &Report) {
    for finding in &report.findings {
        page.heading(&words::finding(&finding.kind).to_uppercase());
        let lead = format!("{}: ", finding.severity.word());
        page.paragraph(&finding.summary, &lead);
        let mut facts = format!("confidence {}", finding.confidence.word());
        if !finding.r#where.is_empty() {
            facts.push_str(&format!("; {}", finding.r#where));
        }
        if let Some(lost) = &finding.lost_wh_per_day {
            facts.push_str(&format!(
                "; at stake: {} a day, {}",
                format::interval(lost, "Wh"),
                mean_over(report)
            ));
        }
        page.paragraph(&facts, "  ");
        if let Some(told) = comes_from(report, finding) {
            page.paragraph(&told, "  ");
        }
        for why in &finding.why {
            page.paragraph(why, "  why: ");
        }
        for other in &finding.also_possible {
            page.paragraph(other, "  or: ");
        }
        if has_own_check(report, finding) {
            check(page, finding);
        }
    }
}

fn checked(page: &mut Page, report: &Report) {
    let fine = open::fine(report);
    if fine.is_empty() {
        return;
    }
    page.heading("CHECKED AND FINE");
    let mut group = "";
    for item in by_group(&fine) {
        let here = words::group(&item.kind);
        if here != group {
            page.line(&format!("  {here}"));
            group = here;
        }
        page.paragraph(&item.text, "  - ");
    }
}

/// What was checked, in the order of the parts of a system.
pub(super) fn by_group<'a>(checked: &[&'a Checked]) -> Vec<&'a Checked> {
    let mut list = checked.to_vec();
    list.sort_by_key(|c| {
        let group = words::group(&c.kind);
        words::GROUPS.iter().position(|g| *g == group)
    });
    list
}

fn unknown(page: &mut Page, report: &Report) {
    let open = open::questions(report);
    if open.is_empty() {
        return;
    }
    page.heading("WHAT THIS LOG CANNOT TELL");
    for item in open.iter().take(OPEN) {
        let words = if item.needs.is_empty() {
            item.text.clone()
        } else {
            format!(
                "{}. To settle it: {}",
                item.text.trim_end_matches('.'),
                item.needs
            )
        };
        page.paragraph(&words, "  - ");
    }
    if let Some(rest) = open.get(OPEN..).filter(|r| !r.is_empty()) {
        let subjects: Vec<&str> = rest.iter().map(|u| first_clause(&u.text)).collect();
        page.paragraph(
            &format!(
                "{} more, each with what would settle it in report.html: {}.",
                rest.len(),
                subjects.join("; ")
            ),
            "  - ",
        );
    }
}

/// What a sentence is about: its words up to the first stop.
fn first_clause(text: &str) -> &str {
    text.split([':', ';', ',', '.']).next().unwrap_or(text)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::report::demo;
    use crate::report::page::COLUMNS;

    #[test]
    fn no_line_is_wider_than_a_terminal() {
        for mut report in demo::all() {
            report.system.name = "\u{1b}[31m".to_string() + &"wide ".repeat(60);
            report.verdict.story.push("x".repeat(300));
            for text in [render(&report), summary(&report)] {
                for line in text.lines() {
                    assert!(line.chars().count() <= COLUMNS, "{line}");
                }
                assert!(!text.contains("NaN") && !text.contains('\u{1b}'));
            }
        }
    }

    #[test]
    fn the_verdict_comes_first_then_the_action_then_the_account() {
        let text = summary(&demo::faulty());
        assert!(text.starts_with("FIX: Your panels are fine;"), "{text}");
        let next = text.find("NEXT").unwrap();
        let account = text.find("WHERE THE HARVEST WENT").unwrap();
        let days = text.find("DAYS THAT FELL SHORT").unwrap();
        assert!(next < account && account < days);
    }

    #[test]
    fn a_healthy_summary_is_short_and_calm() {
        let text = summary(&demo::healthy());
        assert!(text.starts_with("FINE: Nothing to fix"));
        assert!(text.contains("NEXT: NOTHING TO DO"), "{text}");
        assert!(text.contains("Nothing needs mending.") && !text.contains("FELL SHORT"));
        assert!(summary(&demo::useless()).lines().count() < 14);
    }

    #[test]
    fn a_zone_nobody_gave_is_told_in_one_line() {
        let mut report = demo::healthy();
        report.assumed.retain(|a| a.key != "place.timezone");
        assert!(!summary(&report).contains("zone"));
        report.assumed.push(crate::design::Assumed {
            key: "place.timezone".into(),
            value: "Etc/GMT-1 (UTC+1)".into(),
            why: String::new(),
        });
        let text = summary(&report);
        assert!(
            text.ends_with(
                "\nTime zone assumed: Etc/GMT-1 (UTC+1); write place.timezone in the design.\n"
            ),
            "{text}"
        );
    }

    #[test]
    fn a_consequence_says_what_it_comes_from_and_leaves_the_check_to_it() {
        let mut report = demo::faulty();
        let mut root = report.findings[0].clone();
        root.kind = "shade-repeating".into();
        let mut consequence = root.clone();
        consequence.kind = "harvest-short".into();
        consequence.severity = Severity::Fix;
        consequence.part_of = Some("shade-repeating".into());
        report.findings = vec![root, consequence];
        let text = render(&report);
        let told = text.split("HARVEST FALLS SHORT OF THE SKY").nth(1).unwrap();
        let told = told.split("\n\n").next().unwrap();
        assert!(
            told.contains("Comes from: shade at the same hour. Mend that first."),
            "{told}"
        );
        assert!(!told.contains("  where "), "{told}");
    }

    #[test]
    fn the_account_as_printed_adds_up() {
        let report = demo::faulty();
        let text = render(&report);
        let printed: Vec<f64> = text
            .lines()
            .skip_while(|l| !l.starts_with("WHERE THE HARVEST"))
            .skip(2)
            .take_while(|l| !l.is_empty())
            .filter_map(|l| l.get(20..32).and_then(|n| n.replace(' ', "").parse().ok()))
            .collect();
        let (sum, steps) = printed.split_last().unwrap();
        assert_eq!(steps.len(), 12);
        assert!(
            (steps.iter().sum::<f64>() - sum).abs() <= 6.5,
            "{printed:?}"
        );
    }
}
