//! Every figure of page one once more, in a table: by what rule it came about and from which days.

use super::front;
use crate::report::action::{first_action, job};
use crate::report::charts::{Table, lines};
use crate::report::format;
use crate::report::model::{Finding, How, Report};
use crate::report::{held_back, open, words};

/// The table, in the order of page one.
pub(super) fn table(report: &Report) -> Table {
    let judged = judged(report);
    let mut rows = masthead(report);
    rows.extend(verdict(report, &judged));
    rows.extend(action(report));
    rows.extend(account(report));
    rows.extend(
        lines::all(report)
            .into_iter()
            .map(|l| row([l.part, &l.words, l.rule, &l.days])),
    );
    rows.extend(yardsticks(report, &judged));
    rows.extend(
        open::questions(report)
            .into_iter()
            .take(front::unknown_shown(report))
            .map(|u| {
                row([
                    "cannot be told",
                    &u.text,
                    &format!("would be settled by: {}", u.needs),
                    &whole(report),
                ])
            }),
    );
    Table {
        caption: "Every figure of page one, by what rule and from which days".to_string(),
        head: ["figure", "as printed", "rule", "days"]
            .map(String::from)
            .to_vec(),
        rows,
    }
}

fn row(cells: [&str; 4]) -> Vec<String> {
    cells.map(String::from).to_vec()
}

/// The whole period in words.
fn whole(report: &Report) -> String {
    format!("all {}", format::count(report.period.days, "day"))
}

/// The days that could be judged.
fn judged(report: &Report) -> String {
    let dates: Vec<String> = report
        .days
        .iter()
        .filter(|d| d.judged)
        .map(|d| d.date.clone())
        .collect();
    if dates.is_empty() {
        "no day could be judged".to_string()
    } else {
        format!("judged: {}", format::days(&dates))
    }
}

fn masthead(report: &Report) -> Vec<Vec<String>> {
    let mut rows = vec![row([
        "system",
        &front::system(report),
        "given by the design; energy is charge times nominal voltage",
        &whole(report),
    ])];
    rows.extend(report.system.stops.iter().map(|stop| {
        let days = super::span(&stop.from, &stop.to);
        row(["place", &stop.place, "given by the design", &days])
    }));
    rows.push(row([
        "time logged",
        &format!(
            "{}, {}",
            front::coverage(report),
            super::span(&report.period.from, &report.period.to)
        ),
        "hours with readings over the hours of the period",
        &whole(report),
    ]));
    rows
}

fn verdict(report: &Report, judged: &str) -> Vec<Vec<String>> {
    let verdict = &report.verdict;
    let acted: Vec<&Finding> = report
        .findings
        .iter()
        .filter(|f| verdict.actions.contains(&f.kind))
        .collect();
    let named: Vec<String> = acted.iter().map(|f| words::finding(&f.kind)).collect();
    let from = if named.is_empty() {
        "what was looked for and is fine, and the harvest account".to_string()
    } else {
        format!("told from the findings: {}", named.join("; "))
    };
    let mut rows = vec![row(["verdict", &verdict.text, &from, judged])];
    rows.extend(
        verdict
            .story
            .iter()
            .map(|s| row(["and so", s, &from, judged])),
    );
    rows.extend(acted.into_iter().map(|f| {
        row([
            &words::finding(&f.kind),
            &f.summary,
            &f.why.join(" "),
            &days(report, f),
        ])
    }));
    rows
}

/// Days that show a finding; of one from the design alone there are none.
fn days(report: &Report, finding: &Finding) -> String {
    if finding.days.is_empty() {
        whole(report)
    } else {
        format::days(&finding.days)
    }
}

fn action(report: &Report) -> Vec<Vec<String>> {
    let Some(finding) = first_action(report) else {
        return Vec::new();
    };
    let check = &finding.next_check;
    let job = job(finding);
    let parts = [
        ("job", &job),
        ("where", &check.r#where),
        ("healthy", &check.healthy),
        ("faulty", &check.faulty),
        ("then", &check.then),
        ("caution", &check.caution),
    ];
    parts
        .into_iter()
        .filter(|(_, text)| text.chars().any(|c| c.is_ascii_digit()))
        .map(|(word, text)| {
            let rule = format!(
                "from the figures of: {}; general practice where it is no figure of this system",
                words::finding(&finding.kind)
            );
            row([word, text, &rule, &days(report, finding)])
        })
        .collect()
}

fn account(report: &Report) -> Vec<Vec<String>> {
    report
        .account
        .harvest
        .iter()
        .map(|e| {
            let (word, gloss) = words::step(&e.name);
            let how = match e.how {
                How::Measured => "measured",
                How::Modelled => "modelled",
                How::Inferred => "inferred",
                How::Assumed => "assumed",
            };
            row([
                word,
                &format!(
                    "{} ({} to {})",
                    format::energy(e.wh),
                    format::energy(e.low),
                    format::energy(e.high)
                ),
                &format!("{gloss}; {how}"),
                &whole(report),
            ])
        })
        .chain(held_back::told(report).map(|told| {
            row([
                "held back or lost",
                &told,
                "parted by whether a full charge was seen that day",
                &whole(report),
            ])
        }))
        .collect()
}

fn yardsticks(report: &Report, judged: &str) -> Vec<Vec<String>> {
    vec![row([
        "worth a job",
        &front::yardstick(report),
        "worth a job: the larger of 5 % of the daily need and 50 Wh; smallest to be seen: what a steady loss must be to stand out from the scatter of the clear days",
        judged,
    ])]
}
