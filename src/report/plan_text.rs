//! A plan as plain text, at most 80 columns.

use super::format::{self, plain};
use super::model::Severity;
use super::page::{Page, one_line};
use super::planning::{Check, Covers, Month, Planning, Source};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// The whole plan: harvest, loads, autonomy, checks, what is asked for, what was assumed.
pub fn render(plan: &Planning) -> String {
    let mut page = Page::default();
    page.paragraph(&format!("{}: {}.", one_line(&plan.name), plan.summary), "");
    page.line("Reckoned from the design alone; nothing here is measured.");
    alarms(&mut page, &plan.checks);
    page.heading("HARVEST TO EXPECT, Wh a day at the controller's output (modelled)");
    for month in &plan.months {
        page.line(&month_line(month));
    }
    page.paragraph(&plan.harvest_why, "  ");
    loads(&mut page, plan);
    page.heading("WITHOUT ANY SUN");
    let lasts = plan.autonomy_h.map_or(String::new(), |hours| {
        format!("{} from full to the reserve: ", hours_words(hours))
    });
    page.paragraph(&format!("{lasts}{}", plan.autonomy_why), "  ");
    checks(&mut page, &plan.checks);
    asked(&mut page, plan);
    if !plan.assumed.is_empty() {
        page.heading("ASSUMED, because the design does not say");
        for one in &plan.assumed {
            page.paragraph(&format!("{} = {}: {}", one.key, one.value, one.why), "  ");
        }
    }
    page.heading("BEFORE YOU RELY ON IT");
    page.paragraph(&plan.caution, "  ");
    page.text
}

/// What is past a limit, first.
fn alarms(page: &mut Page, checks: &[Check]) {
    for check in checks {
        if let Some(word @ (Severity::Stop | Severity::Fix)) = check.severity {
            page.paragraph(
                &format!("{}.", figures(check)),
                &format!("{}: ", word.word().to_uppercase()),
            );
        }
    }
}

/// What is past a limit, and how much the design should still state.
pub fn remarks(plan: &Planning) -> String {
    let mut page = Page::default();
    alarms(&mut page, &plan.checks);
    if !plan.asked.is_empty() {
        let needs: Vec<&str> = plan.asked.iter().map(|a| a.needs.as_str()).collect();
        page.paragraph(&format!("{}.", needs.join("; ")), "Still to be stated: ");
    }
    page.text
}

fn month_line(month: &Month) -> String {
    let figure = |wh: f64| plain(&format::significant(wh, 2)).replace(' ', "");
    let name = MONTHS
        .get(month.month.saturating_sub(1) as usize)
        .unwrap_or(&"");
    let covers = match month.covers {
        Some(Covers::Yes) => "covers the loads",
        Some(Covers::Perhaps) => "may cover the loads",
        Some(Covers::No) => "does not cover the loads",
        None => "",
    };
    let from = match month.from {
        Source::Plan => "by plan",
        Source::ClearSky => "by clear sky",
    };
    let range = format!("({} to {})", figure(month.low), figure(month.high));
    format!(
        "  {name:<10} {:>7}  {range:<18} {from:<13} {covers}",
        figure(month.harvest_wh)
    )
}

fn loads(page: &mut Page, plan: &Planning) {
    page.heading("LOADS, Wh a day at the bank");
    if !plan.loads.is_empty() {
        page.line(&format!("  {:<26} {:>7} {:>7}", "", "by day", "at night"));
    }
    for load in &plan.loads {
        page.line(&format!(
            "  {:<26} {:>7.0} {:>7.0}  {}",
            cut(&load.name, 26),
            load.day_wh,
            load.night_wh,
            cut(&load.arithmetic, 34)
        ));
    }
    if !plan.loads.is_empty() {
        page.line(&format!(
            "  {:<26} {:>7.0} {:>7.0}",
            "together", plan.load_day_wh, plan.load_night_wh
        ));
    }
    page.paragraph(&plan.need_why, "  ");
}

fn checks(page: &mut Page, checks: &[Check]) {
    page.heading("CHECKS (arithmetic only, never an approval)");
    for check in checks {
        let word = check.severity.map_or("?", Severity::word);
        page.paragraph(&figures(check), &format!("  {word:<6}"));
        page.paragraph(&check.arithmetic, "        ");
    }
}

/// What is checked, its figure and its limit.
fn figures(check: &Check) -> String {
    let figures = match (check.value, check.limit) {
        (Some(value), Some(limit)) => format!(
            "{} {}, limit {} {}",
            figure(value),
            check.unit,
            figure(limit),
            check.unit
        ),
        (Some(value), None) => format!("{} {}, limit not known", figure(value), check.unit),
        (None, Some(limit)) => format!("not known, limit {} {}", figure(limit), check.unit),
        (None, None) => "not known".to_owned(),
    };
    format!("{}: {figures}", check.r#where)
}

fn asked(page: &mut Page, plan: &Planning) {
    if plan.asked.is_empty() {
        return;
    }
    page.heading("PLEASE STATE, because safety or judgement hangs on it");
    for one in &plan.asked {
        page.paragraph(&one.needs, "  - ");
        page.paragraph(&format!("would tell {}", one.text), "    ");
    }
}

/// Three significant digits: what stands close to its limit should show on which side.
fn figure(value: f64) -> String {
    plain(&format::significant(value, 3)).replace(' ', "")
}

fn hours_words(hours: f64) -> String {
    if hours < 48.0 {
        format!("about {hours:.0} h")
    } else {
        format!("about {hours:.0} h ({:.1} days)", hours / 24.0)
    }
}

fn cut(text: &str, width: usize) -> String {
    let text = one_line(text);
    if text.chars().count() <= width {
        return text;
    }
    let kept: String = text.chars().take(width - 2).collect();
    format!("{}..", kept.trim_end())
}
