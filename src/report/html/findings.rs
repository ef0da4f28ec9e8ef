//! Findings, and what was checked and is fine.

use askama::Template;
use serde_json::Value;

use super::{HtmlError, parts};
use crate::report::action::{check_lines, comes_from, has_own_check, job, mean_over, root};
use crate::report::charts::{self, Chart};
use crate::report::format;
use crate::report::model::{Checked, Finding, Interval, Report};
use crate::report::text;
use crate::report::{open, words};
use crate::words::lower_first;

struct Item<'a> {
    number: usize,
    severity: &'static str,
    sign: &'static str,
    title: String,
    facts: String,
    summary: String,
    evidence: Vec<(String, String)>,
    why: Vec<String>,
    also_possible: Vec<String>,
    job: String,
    check: Vec<(&'static str, &'a str)>,
    /// Number and title of the finding whose check serves for this one too.
    tested_with: Option<(usize, String)>,
    figure: Option<(String, String)>,
    echo: Option<Echo>,
}

/// A chart shown once more beside its finding: the drawing itself stands in the page once.
struct Echo {
    name: &'static str,
    title: String,
    width: f64,
    height: f64,
}

/// A taller chart than this share of its width would push a finding beyond half a printed page.
const TALLEST: f64 = 1.15;

/// The chart beside a finding, where it is not too tall.
fn echo(chart: &Chart) -> Option<Echo> {
    let view = chart.svg.split_once("viewBox=\"0 0 ")?.1;
    let (width, height) = view.split_once('"')?.0.split_once(' ')?;
    let (width, height): (f64, f64) = (width.parse().ok()?, height.parse().ok()?);
    (height <= TALLEST * width).then(|| Echo {
        name: chart.name,
        title: chart.title.clone(),
        width,
        height,
    })
}

/// The chart that shows a kind of finding best, where the finding names none.
fn chart_of(kind: &str) -> Option<&'static str> {
    Some(match kind {
        "shade-repeating" => charts::HEAT,
        "controller-limiting" | "absorption-short" | "log-gaps" | "cold-charge" => charts::HOURS,
        "never-full" | "soc-unreliable" | "capacity-low" | "bank-drained" => charts::CHARGE,
        "standby-high" => charts::NIGHT,
        "load-over-budget" => charts::LOAD,
        "use-exceeds-harvest" => charts::DAYS,
        _ => return None,
    })
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"{%- if !items.is_empty() %}
<section id="findings" aria-labelledby="findings-heading">
<h2 id="findings-heading">Findings</h2>
{%- for item in items %}
<article id="finding-{{ item.number }}" class="finding {{ item.severity }}" aria-labelledby="finding-{{ item.number }}-heading">
<h3 id="finding-{{ item.number }}-heading"><span class="tag">{{ item.sign|safe }}<span>{{ item.severity }}</span></span> {{ item.title }}</h3>
<p class="claim">{{ item.summary }}</p>
<p class="facts">{{ item.facts }}{% if let Some((id, words)) = item.figure %} Chart: <a href="#{{ id }}">{{ words }}</a>.{% endif %}</p>
<div class="story">
{%- if let Some(echo) = item.echo %}
<svg class="echo" viewBox="0 0 {{ echo.width }} {{ echo.height }}" role="img" aria-label="{{ echo.title }}"><use href="#{{ echo.name }}-chart" width="{{ echo.width }}" height="{{ echo.height }}"/></svg>
{%- endif %}
{%- if !item.evidence.is_empty() %}
<div class="numbers">
<h4>Figures</h4>
<dl class="evidence">
{%- for (key, value) in item.evidence %}
<div><dt>{{ key }}</dt><dd>{{ value }}</dd></div>
{%- endfor %}
</dl>
</div>
{%- endif %}
<div class="reasoning">
{%- if !item.why.is_empty() %}
<h4>Why we think so</h4>
<ul>{% for text in item.why %}<li>{{ text }}</li>{% endfor %}</ul>
{%- endif %}
{%- if !item.also_possible.is_empty() %}
<h4>What else it could be</h4>
<ul>{% for text in item.also_possible %}<li>{{ text }}</li>{% endfor %}</ul>
{%- endif %}
</div>
{%- if let Some((at, title)) = item.tested_with %}
<div class="check">
<h4>How to test it</h4>
<p>As is told at <a href="#finding-{{ at }}">{{ title }}</a>.</p>
</div>
{%- else if !item.check.is_empty() %}
<div class="check">
<h4>How to test it</h4>
<p class="job">{{ crate::report::format::on_page(item.job) }}</p>
<dl>
{%- for (word, text) in item.check %}
<div class="{{ word }}"><dt>{{ word }}</dt><dd>{{ crate::report::format::on_page(text) }}</dd></div>
{%- endfor %}
</dl>
</div>
{%- endif %}
</div>
</article>
{%- endfor %}
</section>
{%- endif %}
{%- if !checked.is_empty() %}
<section id="fine" aria-labelledby="fine-heading">
<h2 id="fine-heading">Checked and fine</h2>
{%- if let Some(groups) = groups %}
<p>Looked for and not found:</p>
<dl class="grouped">
{%- for (group, titles) in groups %}
<div><dt>{{ group }}</dt><dd>{{ titles }}</dd></div>
{%- endfor %}
</dl>
<details>
<summary>The figures that say so</summary>
{%- endif %}
<ul class="ticked">
{%- for item in checked %}
<li>{{ crate::report::format::on_page(item.text.as_str()) }}</li>
{%- endfor %}
</ul>
{%- if groups.is_some() %}
</details>
{%- endif %}
</section>
{%- endif %}
"##
)]
struct Findings<'a> {
    items: Vec<Item<'a>>,
    checked: Vec<&'a Checked>,
    /// Where they are many: each part of the system with what was looked for in it.
    groups: Option<Vec<(&'static str, String)>>,
}

/// More lines than this are told in groups, their figures folded.
const FEW: usize = 8;

pub(super) fn render(report: &Report, charts: &[Chart]) -> Result<String, HtmlError> {
    let items = report
        .findings
        .iter()
        .enumerate()
        .map(|(i, f)| item(report, i + 1, f, charts))
        .collect();
    let fine = open::fine(report);
    Findings {
        items,
        checked: text::by_group(&fine),
        groups: (fine.len() > FEW).then(|| groups(&fine)),
    }
    .render()
}

/// Each part of the system that was looked at, with the titles of what was not found there.
fn groups(checked: &[&Checked]) -> Vec<(&'static str, String)> {
    words::GROUPS
        .into_iter()
        .filter_map(|group| {
            let mut titles: Vec<String> = Vec::new();
            for item in checked.iter().filter(|c| words::group(&c.kind) == group) {
                let title = lower_first(&words::finding(&item.kind));
                if !titles.contains(&title) {
                    titles.push(title);
                }
            }
            (!titles.is_empty()).then(|| (group, titles.join("; ")))
        })
        .collect()
}

fn item<'a>(report: &Report, number: usize, finding: &'a Finding, drawn: &[Chart]) -> Item<'a> {
    let mut facts = format!("Confidence: {}", finding.confidence.word());
    if !finding.r#where.is_empty() {
        facts.push_str(&format!(". Where: {}", finding.r#where));
    }
    if let Some(lost) = &finding.lost_wh_per_day {
        facts.push_str(&format!(
            ". At stake: {} a day, {}",
            format::interval(lost, "Wh"),
            mean_over(report)
        ));
    }
    if !finding.days.is_empty() {
        facts.push_str(&format!(". Days: {}", format::days(&finding.days)));
    }
    facts.push('.');
    if let Some(told) = comes_from(report, finding) {
        facts.push_str(&format!(" {told}"));
    }
    let chart = finding
        .chart
        .as_deref()
        .or_else(|| chart_of(&finding.kind))
        .and_then(|file| drawn.iter().find(|c| c.file == file));
    Item {
        number,
        severity: finding.severity.word(),
        sign: parts::sign(finding.severity),
        title: words::finding(&finding.kind),
        facts,
        summary: format::on_page(&finding.summary),
        evidence: finding
            .evidence
            .iter()
            .map(|(k, v)| evidence(k, v))
            .collect(),
        why: finding.why.iter().map(|t| format::on_page(t)).collect(),
        also_possible: finding
            .also_possible
            .iter()
            .map(|t| format::on_page(t))
            .collect(),
        job: job(finding),
        check: check_lines(&finding.next_check),
        tested_with: root(report, finding)
            .filter(|_| !has_own_check(report, finding))
            .and_then(|root| {
                let same = |other: &Finding| std::ptr::eq(other, root);
                let at = report.findings.iter().position(same)?;
                Some((at + 1, words::finding(&root.kind)))
            }),
        echo: chart.and_then(echo),
        figure: chart.map(|c| (format!("figure-{}", c.name), c.title.clone())),
    }
}

/// A figure of the evidence in words: its key without the unit, its value with it.
fn evidence(key: &str, value: &Value) -> (String, String) {
    let (stem, unit) = format::key_and_unit(key);
    let label = words::evidence(key).map_or(stem, String::from);
    (label, figure(value, unit))
}

fn figure(value: &Value, unit: &str) -> String {
    match value {
        Value::Null => format::NOT_KNOWN.to_string(),
        Value::Number(n) => {
            let v = n.as_f64().unwrap_or(f64::NAN);
            let text = if v.fract() == 0.0 && v.abs() < 1e6 {
                format::decimals(v, 0)
            } else {
                format::significant(v, 3)
            };
            format::with_unit(&text, unit)
        }
        Value::String(text) if chrono::DateTime::parse_from_rfc3339(text).is_ok() => {
            format::instant(text)
        }
        Value::String(text) => format::day(text),
        Value::Bool(yes) => if *yes { "yes" } else { "no" }.to_string(),
        Value::Array(items) if items.is_empty() => "none".to_string(),
        Value::Array(items) => items
            .iter()
            .map(|i| figure(i, unit))
            .collect::<Vec<_>>()
            .join(", "),
        Value::Object(_) => match serde_json::from_value::<Interval>(value.clone()) {
            Ok(range) => format::interval(&range, unit),
            Err(_) => value.to_string(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn evidence_is_printed_with_its_unit() {
        let plain = |key, value| format::plain(&evidence(key, &value).1);
        assert_eq!(plain("drop_v", json!(0.8512)), "0.851 V");
        assert_eq!(plain("lost_wh", json!(null)), "not known");
        let range = json!({"value": 27.3, "low": 25.1, "high": 29.2});
        assert_eq!(plain("resistance_mohm", range), "27 mohm (25 to 29 mohm)");
        assert_eq!(
            plain("last_full", json!("2026-06-16T14:20:00+02:00")),
            "16 Jun 14:20"
        );
        assert_eq!(plain("false_full", json!([])), "none");
    }
}
