//! The report as plain text, at most 80 columns, and the shorter summary for a terminal.

use super::format::{self, plain, tie};
use super::model::{Checked, Day, DayState, Entry, Finding, Limiting, NextCheck, Report, Severity};
use super::{held_back, open, spans, words};

/// Widest line.
pub const COLUMNS: usize = 80;

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
    days(&mut page, &report.days);
    findings(&mut page, report);
    options(&mut page, report);
    checked(&mut page, report);
    unknown(&mut page, report);
    page.heading("HOW THE FILES WERE READ");
    for input in &report.inputs {
        let r = input.rows;
        page.paragraph(
            &format!(
                "{}: {} rows read = {} used + {} repaired + {} merged + {} refused",
                input.file, r.read, r.used, r.repaired, r.merged, r.refused
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

/// A page under way.
#[derive(Default)]
pub(super) struct Page {
    pub(super) text: String,
}

impl Page {
    pub(super) fn line(&mut self, line: &str) {
        self.text.push_str(plain(line).trim_end());
        self.text.push('\n');
    }

    pub(super) fn blank(&mut self) {
        self.text.push('\n');
    }

    pub(super) fn heading(&mut self, words: &str) {
        self.blank();
        self.line(words);
    }

    /// Words wrapped to the width, continued lines indented like the first's text.
    pub(super) fn paragraph(&mut self, words: &str, lead: &str) {
        let indent = " ".repeat(lead.chars().count());
        let mut line = lead.to_string();
        let mut empty = true;
        // Tied figures are measured as they will stand: a terminal's unit is longer than its sign.
        let tied = tie(&plain(words)).replace("m\u{3a9}", "mohm");
        for word in tied.split_ascii_whitespace().flat_map(pieces) {
            let longer = line.chars().count() + usize::from(!empty) + word.chars().count();
            if !empty && longer > COLUMNS {
                self.line(&line);
                line.clone_from(&indent);
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(&word);
            empty = false;
        }
        if !empty {
            self.line(&line);
        }
    }
}

/// A word longer than a line is cut, so that no line is ever too wide.
fn pieces(word: &str) -> Vec<String> {
    let letters: Vec<char> = word.chars().filter(|c| !c.is_control()).collect();
    letters
        .chunks(COLUMNS - 20)
        .map(|c| c.iter().collect())
        .collect()
}

/// Owner's text on one line, without control characters and not too long.
pub(super) fn one_line(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
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

/// The finding whose check comes first.
pub(super) fn first_action(report: &Report) -> Option<&Finding> {
    let kind = report.verdict.first_action.as_ref()?;
    report.findings.iter().find(|f| &f.kind == kind)
}

/// The findings to act on after the first, with their place in the report's list.
pub(super) fn next_actions(report: &Report) -> Vec<(usize, &Finding)> {
    report
        .verdict
        .actions
        .iter()
        .skip(1)
        .filter_map(|kind| {
            let at = report.findings.iter().position(|f| &f.kind == kind)?;
            Some((at, &report.findings[at]))
        })
        .collect()
}

/// What there is to do where no finding asks for anything: nothing, or to log more.
pub(super) fn without_check(report: &Report) -> Option<(&'static str, &'static str)> {
    if first_action(report).is_some() {
        return None;
    }
    match report.verdict.limiting {
        Limiting::Nothing => Some((
            "nothing to do",
            "Nothing needs mending. Keep the log running, and look again in another season or after a change.",
        )),
        Limiting::Log => Some((
            "log more",
            "Nothing can be said of the system yet, so mend nothing and buy nothing on this report.",
        )),
        Limiting::Sun => Some((
            "nothing to mend",
            "No fault was found. More charge takes less use, another source or more panels.",
        )),
        _ => None,
    }
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

/// What to do, and with what: the sentence a check begins with.
pub(super) fn job(finding: &Finding) -> String {
    let tool = finding.next_check.tool.trim().trim_end_matches('.');
    let job = words::job(&finding.kind);
    if tool.is_empty() {
        format!("{job}.")
    } else {
        format!("{job}, with {tool}.")
    }
}

/// The lines of a check after its first sentence, those that say nothing left out.
pub(super) fn check_lines(check: &NextCheck) -> Vec<(&'static str, &str)> {
    [
        ("where", check.r#where.as_str()),
        ("healthy", &check.healthy),
        ("faulty", &check.faulty),
        ("then", &check.then),
        ("caution", &check.caution),
    ]
    .into_iter()
    .filter(|(_, text)| !text.trim().is_empty())
    .collect()
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
    if let Some(told) = held_back::told(report).filter(|_| !report.account.harvest.is_empty()) {
        page.paragraph(&told, "  Held back: ");
    }
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

fn days(page: &mut Page, days: &[Day]) {
    if days.is_empty() {
        return;
    }
    page.heading("DAYS");
    let spans = spans::of_days(days);
    if !spans.are_days() {
        page.paragraph(
            &format!("Means a day.{} Every day stands in days.csv.", spans.remark),
            "  ",
        );
    }
    page.line("  date        state       harvest  offered   held back    lost, all in Wh");
    for span in &spans.rows {
        row(page, &span.label, &days[span.days.clone()]);
    }
    if spans.are_days() {
        starred(page, days);
    }
}

/// Why charge was held back on days on which the bank was not full: each reason once.
fn starred(page: &mut Page, days: &[Day]) {
    let mut reasons: Vec<&str> = Vec::new();
    for day in days.iter().filter(|d| words::held_unfilled(d)) {
        let reason = day.why.split(':').next().unwrap_or_default();
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
    if !reasons.is_empty() {
        page.paragraph(&format!("{}.", reasons.join("; or ")), "  full*: ");
    }
}

/// A day, or the mean of several.
fn row(page: &mut Page, label: &str, days: &[Day]) {
    let cell = |of: fn(&Day) -> Option<f64>| plain(&format::cell(spans::mean(days, of), 0));
    let short = days.iter().filter(|d| d.state == DayState::Short).count();
    let (name, state) = match days {
        [one] => (one.date.as_str(), words::of_day(one)),
        _ if short > 0 => (label, format!("{short} short")),
        _ => (label, String::new()),
    };
    page.line(&format!(
        "{} {:<11} {:<11}{:>8} {:>8} {:>11} {:>7}",
        if short > 0 { '!' } else { ' ' },
        one_line(&plain(name)),
        state,
        cell(|d| d.harvest_wh),
        cell(|d| d.offered_wh),
        cell(|d| d.held_back_wh),
        cell(|d| d.lost_wh),
    ));
    if let [one] = days
        && matches!(one.state, DayState::Short | DayState::Unmeasured)
    {
        page.paragraph(&one.why, "              ");
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
        for why in &finding.why {
            page.paragraph(why, "  why: ");
        }
        for other in &finding.also_possible {
            page.paragraph(other, "  or: ");
        }
        check(page, finding);
    }
}

/// Of which days a finding's loss a day is the mean.
pub(super) fn mean_over(report: &Report) -> String {
    let judged = report.days.iter().filter(|d| d.judged).count();
    format!("the mean of all {}", format::count(judged, "judged day"))
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
