//! Days, state of charge and wiring, each with its charts.

use askama::Template;

use super::{HtmlError, parts};
use crate::report::charts::Chart;
use crate::report::format;
use crate::report::model::{Day, DayState, Report};
use crate::report::spans;
use crate::report::words;

/// More days than this and their table is folded.
const LONG: usize = 45;
/// Of a log with more days than rows, so many of the worst are told one by one.
const WORST: usize = 12;

struct DayRow {
    date: String,
    state: String,
    short: bool,
    harvest: String,
    offered: String,
    why: String,
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<dl class="states">
{%- for (word, meaning) in states %}
<div><dt>{{ word }}</dt><dd>{{ meaning }}</dd></div>
{%- endfor %}
</dl>"##
)]
struct States {
    states: Vec<(&'static str, &'static str)>,
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"{%- if !days.is_empty() || !rows.is_empty() %}
<section id="days" aria-labelledby="days-heading">
<h2 id="days-heading">Your days</h2>
{{ days|safe }}
{%- if rows.is_empty() %}
<p>{{ caption }}.</p>
{%- else %}
{%- if long %}
<details><summary>{{ caption }}</summary>
{%- endif %}
<div class="scroll" role="region" aria-label="{{ caption }}" tabindex="0">
<table class="reasons">
<caption>{{ caption }}</caption>
<thead><tr><th scope="col">day</th><th scope="col">state</th><th scope="col">harvest, Wh</th><th scope="col">offered, Wh</th><th scope="col">why</th></tr></thead>
<tbody>
{%- for row in rows %}
<tr{% if row.short %} class="short"{% endif %}><th scope="row">{{ row.date }}</th><td>{% if row.short %}<span aria-hidden="true">&#9660;&nbsp;</span>{% endif %}{{ row.state }}</td><td>{{ row.harvest }}</td><td>{{ row.offered }}</td><td>{{ row.why }}</td></tr>
{%- endfor %}
</tbody>
</table>
</div>
{%- if long %}
</details>
{%- endif %}
{%- endif %}
{%- if !noted.is_empty() %}
<p>What you noted:</p>
<ul>
{%- for (date, note) in noted %}
<li>{{ date }}: {{ note }}</li>
{%- endfor %}
</ul>
{%- endif %}
{{ panels|safe }}
<div class="pair">
{{ hours|safe }}
{{ heat|safe }}
</div>
</section>
{%- endif %}
{%- if !charge.is_empty() %}
<section id="charge" aria-labelledby="charge-heading">
<h2 id="charge-heading">State of charge</h2>
{{ charge|safe }}
{{ below|safe }}
</section>
{%- endif %}
{%- if !load.is_empty() || !night.is_empty() %}
<section id="use" aria-labelledby="use-heading">
<h2 id="use-heading">Use</h2>
{{ load|safe }}
{{ night|safe }}
</section>
{%- endif %}
{%- if !drop.is_empty() %}
<section id="wiring" aria-labelledby="wiring-heading">
<h2 id="wiring-heading">Wiring</h2>
{{ drop|safe }}
</section>
{%- endif %}
"##
)]
struct Evidence {
    rows: Vec<DayRow>,
    /// Days and what the owner noted of them.
    noted: Vec<(String, String)>,
    caption: String,
    long: bool,
    days: String,
    panels: String,
    hours: String,
    heat: String,
    charge: String,
    below: String,
    load: String,
    night: String,
    drop: String,
}

pub(super) fn render(report: &Report, charts: &[Chart]) -> Result<String, HtmlError> {
    let (told, caption) = told(report);
    let rows = told
        .into_iter()
        .map(|d| DayRow {
            date: if report.days.len() > spans::MOST_ROWS {
                d.date.clone()
            } else {
                format::day(&d.date)
            },
            state: words::of_day(d),
            short: d.state == DayState::Short,
            harvest: format::cell(d.harvest_wh, 0),
            offered: format::cell(d.offered_wh, 0),
            why: format::on_page(&d.why),
        })
        .collect();
    let states = [
        DayState::Short,
        DayState::Full,
        DayState::Dull,
        DayState::Ok,
        DayState::Unclear,
        DayState::Unmeasured,
    ]
    .into_iter()
    .filter(|s| {
        let said = |d: &Day| d.state == *s && !words::held_unfilled(d);
        report.days.iter().any(said)
    })
    .map(|s| (s.word(), words::state(s)))
    .chain(
        report
            .days
            .iter()
            .any(words::held_unfilled)
            .then_some(words::STARRED),
    )
    .collect();
    let noted = report
        .noted
        .iter()
        .map(|one| (format::day(&one.date), one.note.clone()))
        .collect();
    Evidence {
        rows,
        noted,
        caption,
        long: report.days.len() > LONG,
        days: parts::figure_with(charts, "days", &States { states }.render()?)?,
        panels: parts::figure(charts, "panels")?,
        hours: parts::figure(charts, "hours")?,
        heat: parts::figure(charts, "heat")?,
        charge: parts::figure(charts, "charge")?,
        below: parts::figure(charts, "below")?,
        load: parts::figure(charts, "load")?,
        night: parts::figure(charts, "night")?,
        drop: parts::figure(charts, "drop")?,
    }
    .render()
}

/// The days told one by one, and what they are: all of them, or of a long log those that lost most.
fn told(report: &Report) -> (Vec<&Day>, String) {
    if report.days.len() <= spans::MOST_ROWS {
        let caption = "Each day, what it was and why".to_string();
        return (report.days.iter().collect(), caption);
    }
    let mut worst: Vec<&Day> = report
        .days
        .iter()
        .filter(|d| d.state == DayState::Short)
        .collect();
    let lost = |d: &Day| d.lost_wh.unwrap_or(0.0);
    worst.sort_by(|a, b| lost(b).total_cmp(&lost(a)));
    worst.truncate(WORST);
    worst.sort_by(|a, b| a.date.cmp(&b.date));
    let caption = if worst.is_empty() {
        "No day fell short; every day stands in days.csv".to_string()
    } else {
        format!(
            "The {} that lost most; every day stands in days.csv",
            format::count(worst.len(), "day")
        )
    };
    (worst, caption)
}
