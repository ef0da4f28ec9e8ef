//! The days as plain text: a row a day, or a mean of several, and why charge was held back.

use super::format::{self, plain};
use super::model::{Day, DayState, Noted};
use super::page::{Page, one_line};
use super::{spans, words};

/// The days of a report.
pub(super) fn rows(page: &mut Page, days: &[Day], noted: &[Noted]) {
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
    for one in noted {
        page.paragraph(&one.note, &format!("  noted {}: ", one_line(&one.date)));
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
        page.paragraph(&format!("{}.", reasons.join("; or ")), "  held*: ");
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
