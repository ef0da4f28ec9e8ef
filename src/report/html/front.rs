//! Page one: verdict, next job, where the harvest went, four number lines, what cannot be told.

use askama::Template;

use super::{HtmlError, parts, span};
use crate::report::action::{check_lines, first_action, job, next_actions, without_check};
use crate::report::charts::{Chart, lines};
use crate::report::format;
use crate::report::model::{Limiting, Report, SystemSummary};
use crate::report::{cancelled, held_back, open, words};

/// Open questions on page one at most.
const UNKNOWN_SHOWN: usize = 3;

/// Letters of verdict, story and open questions that page one has room for on the smaller of A4 and Letter.
const ROOM: usize = 1350;

/// A verdict longer than this, in bytes, is set in smaller type.
const LONG: usize = 170;

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<header class="front">
<div class="masthead">
<h1>{{ name }}</h1>
<p>{{ period }}, {{ coverage }}<br>{{ system }}{% if journey %}; <a href="#places">each with its days</a>{% endif %}</p>
</div>
<section id="verdict" class="verdict {{ severity }}" aria-labelledby="verdict-heading">
<h2 id="verdict-heading" class="tag">{{ sign|safe }}<span>{{ severity }}</span><small>{{ limiting }}; {{ deed }}</small></h2>
<p class="sentence{% if text.len() > LONG %} long{% endif %}">{{ text }}</p>
{%- for sentence in story %}
<p>{{ sentence }}</p>
{%- endfor %}
<p class="sure">Confidence: <strong>{{ confidence }}</strong>, {{ confidence_words }}.{% if brackets %} Figures in brackets are 90&nbsp;% ranges.{% endif %} <a href="#table-front">Every figure with its rule and days</a>.</p>
</section>
{%- if let Some((what, words)) = idle %}
<section class="action" id="action" aria-labelledby="action-heading">
<h2 id="action-heading">Next: {{ what }}</h2>
<p class="job">{{ words }}</p>
</section>
{%- endif %}
{%- if !action.is_empty() %}
<section class="action" id="action" aria-labelledby="action-heading">
<h2 id="action-heading">Next: <a href="#finding-{{ action_at }}">{{ action_for }}</a></h2>
<p class="job">{{ crate::report::format::on_page(action_job) }}</p>
<dl>
{%- for (word, text) in action %}
<div class="{{ word }}"><dt>{{ word }}</dt><dd>{{ crate::report::format::on_page(text) }}</dd></div>
{%- endfor %}
</dl>
{%- if !after.is_empty() %}
<p class="after">After that:{% for (at, title, tool) in after %} <a href="#finding-{{ at }}">{{ title }}</a>, with {{ tool }}{% if !loop.last %};{% endif %}{% endfor %}.</p>
{%- endif %}
</section>
{%- endif %}
<div class="ledger">
<section aria-labelledby="account-heading">
<h2 id="account-heading">Where the harvest went{{ together }}</h2>
{%- if let Some(account) = account %}
<figure id="figure-account">
{{ account.svg|safe }}
<figcaption><strong>{{ account.title }}.</strong> Season: a clear sky at that time of year against the plan. Thin lines: 90&nbsp;% ranges.{% if let Some(told) = held_back %} Held back, hatched: {{ told }}{% endif %}{% if beyond %} {{ words::BEYOND }}{% endif %}{% if let Some(told) = cancelled %} {{ told }}{% endif %} <a href="#table-account">Figures</a></figcaption>
</figure>
{%- else %}
<p>Too little was logged to account for the harvest.</p>
{%- endif %}
</section>
<section aria-labelledby="lines-heading">
<h2 id="lines-heading">Four figures</h2>
{%- for line in lines %}
<div class="line">
<h3>{{ line.part }}</h3>
{%- if let Some(svg) = line.svg %}
{{ svg|safe }}
{%- endif %}
<p>{{ line.words }}.</p>
</div>
{%- endfor %}
</section>
</div>
<section class="unknown" aria-labelledby="unknown-heading">
<h2 id="unknown-heading">What this log cannot tell</h2>
{%- if unknown.is_empty() %}
<p>Nothing that was looked for stayed open.</p>
{%- else %}
<ul>
{{ unknown|safe }}
</ul>
{%- if more > 0 %}
<p><a href="#unknown-more">{{ more }} more</a>, further back.</p>
{%- endif %}
{%- endif %}
<p class="yardstick">{{ yardstick }}</p>
</section>
</header>
"##
)]
struct Front<'a> {
    name: &'a str,
    period: String,
    coverage: String,
    system: String,
    /// Whether the places are listed further back.
    journey: bool,
    severity: &'static str,
    sign: &'static str,
    limiting: &'static str,
    deed: &'static str,
    text: String,
    story: Vec<String>,
    confidence: &'static str,
    confidence_words: &'static str,
    /// Whether verdict or story hold a range.
    brackets: bool,
    /// Whether what was held back is a loss.
    held_back: Option<String>,
    /// What is left of season and weather, where they cancel each other.
    cancelled: Option<String>,
    /// Whether the account's chart has a step that leaves the design's own loss out.
    beyond: bool,
    /// Over how many days the account runs, where there are several.
    together: String,
    /// What there is to do where no finding asks for anything.
    idle: Option<(&'static str, &'static str)>,
    action_job: String,
    action: Vec<(&'static str, &'a str)>,
    action_for: String,
    action_at: usize,
    /// Number, title and tool of the findings to act on next.
    after: Vec<(usize, String, &'a str)>,
    account: Option<&'a Chart>,
    lines: Vec<lines::NumberLine>,
    unknown: String,
    more: usize,
    yardstick: String,
}

pub(super) fn render(report: &Report, charts: &[Chart]) -> Result<String, HtmlError> {
    let verdict = &report.verdict;
    let first = first_action(report);
    let account = charts.iter().find(|c| c.name == "account");
    let questions = open::questions(report);
    let shown = unknown_shown(report);
    let at = first.and_then(|f| {
        report
            .findings
            .iter()
            .position(|other| std::ptr::eq(other, f))
    });
    Front {
        name: &report.system.name,
        period: span(&report.period.from, &report.period.to),
        coverage: coverage(report),
        system: system(report),
        journey: !report.system.stops.is_empty(),
        severity: verdict.severity.word(),
        sign: parts::sign(verdict.severity),
        limiting: words::limiting(verdict.limiting),
        deed: match verdict.limiting {
            Limiting::Log => "log more to know",
            _ => words::deed(verdict.severity),
        },
        text: format::on_page(&verdict.text),
        story: verdict.story.iter().map(|s| format::on_page(s)).collect(),
        confidence: verdict.confidence.word(),
        confidence_words: words::sure(verdict),
        brackets: std::iter::once(&verdict.text)
            .chain(&verdict.story)
            .any(|text| text.contains('(')),
        held_back: held_back::told(report),
        cancelled: cancelled::told(report),
        beyond: account.is_some_and(|chart| chart.description.contains(words::BEYOND)),
        together: match report.period.days {
            0 | 1 => String::new(),
            n => format!(", all {} together", format::count(n, "day")),
        },
        idle: without_check(report),
        action_job: first.map(job).unwrap_or_default(),
        action: first
            .map(|f| check_lines(&f.next_check))
            .unwrap_or_default(),
        action_for: first.map(|f| words::finding(&f.kind)).unwrap_or_default(),
        action_at: at.map_or(0, |i| i + 1),
        after: next_actions(report)
            .into_iter()
            .map(|(i, f)| (i + 1, words::finding(&f.kind), f.next_check.tool.as_str()))
            .collect(),
        account,
        lines: lines::all(report),
        unknown: parts::unknown(&questions[..shown])?,
        more: questions.len() - shown,
        yardstick: yardstick(report),
    }
    .render()
}

/// How many open questions stand on page one: one, and more while they fit; the rest stand with the
/// data, so that page one stays one printed page.
pub(super) fn unknown_shown(report: &Report) -> usize {
    let verdict = &report.verdict;
    let told = verdict.text.len() + verdict.story.iter().map(String::len).sum::<usize>();
    open::questions(report)
        .into_iter()
        .take(UNKNOWN_SHOWN)
        .scan(told, |used, unknown| {
            *used += unknown.text.len() + unknown.needs.len();
            Some(*used)
        })
        .enumerate()
        .take_while(|(at, used)| *at == 0 || *used <= ROOM)
        .count()
}

/// The system in a line, charge and energy of the bank both.
pub(super) fn system(report: &Report) -> String {
    let s = &report.system;
    let unit = |v: f64, unit| format::with_unit(&format::decimals(v, 0), unit);
    format!(
        "{} of panels, {} ({}) of {} at {}; {}",
        unit(s.array_w, "W"),
        unit(s.capacity_ah, "Ah"),
        format::energy_about(s.capacity_ah * s.nominal_v),
        words::chemistry(&s.chemistry),
        unit(s.nominal_v, "V"),
        place(s)
    )
}

/// Where it stood; of a journey its first and last place, and how many there were.
fn place(system: &SystemSummary) -> String {
    match system.stops.as_slice() {
        [first, .., last] => format!(
            "{} places, first {}, last {}",
            system.stops.len(),
            first.place,
            last.place
        ),
        _ => system.place.clone(),
    }
}

/// How much of the time was logged.
pub(super) fn coverage(report: &Report) -> String {
    let totals =
        report.period.covered_h < 0.5 && report.days.iter().any(|d| d.harvest_wh.is_some());
    if totals {
        "totals of days alone".to_string()
    } else {
        format!(
            "{} of the time logged",
            format::percent(report.period.coverage)
        )
    }
}

/// What is worth a job and what this log can show.
pub(super) fn yardstick(report: &Report) -> String {
    let yard = &report.yardsticks;
    let seen = match yard.smallest_visible_wh {
        Some(wh) => format!(
            "a steady loss of the whole array shows in this log from {} a day on, shade or a shut-off that comes and goes from less",
            format::energy_about(wh)
        ),
        None => "this log cannot show a steady loss of any size".to_string(),
    };
    format!(
        "A loss is worth a job from {} a day on; {seen}.",
        format::energy_about(yard.worth_a_job_wh)
    )
}
