//! Pieces that several sections use: a table, a figure, the sign of a severity.

use askama::Template;

use super::HtmlError;
use crate::report::charts::{Chart, Table};
use crate::report::format;
use crate::report::model::{Severity, Unknown};

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<div class="scroll" role="region" aria-label="{{ caption }}" tabindex="0">
<table{% if stacked %} class="stack"{% endif %}>
<caption>{{ caption }}</caption>
<thead><tr>{% for cell in head %}<th scope="col">{{ cell }}</th>{% endfor %}</tr></thead>
<tbody>
{%- for row in rows %}
<tr>{% for cell in row %}{% if loop.first %}<th scope="row">{{ crate::report::format::on_page(cell) }}</th>{% else %}<td{% if stacked %} data-l="{{ head[loop.index0] }}"{% endif %}>{{ crate::report::format::on_page(cell) }}</td>{% endif %}{% endfor %}</tr>
{%- endfor %}
</tbody>
</table>
</div>
"##
)]
struct TablePart<'a> {
    caption: &'a str,
    head: &'a [String],
    rows: &'a [Vec<String>],
    /// Whether a narrow screen shows each row as a list, its cells under each other with their heads.
    stacked: bool,
}

/// A table in a box of its own that scrolls where the screen is narrow.
pub(super) fn table(table: &Table) -> Result<String, HtmlError> {
    made(table, false)
}

/// One of few rows and many words, whose rows a narrow screen shows as lists.
pub(super) fn stacked(table: &Table) -> Result<String, HtmlError> {
    made(table, true)
}

fn made(table: &Table, stacked: bool) -> Result<String, HtmlError> {
    TablePart {
        caption: &table.caption,
        head: &table.head,
        rows: &table.rows,
        stacked,
    }
    .render()
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<figure class="with-note" id="figure-{{ name }}">
{{ svg|safe }}
<figcaption><strong>{{ title }}.</strong> {{ description }}{% if has_table %} <a href="#table-{{ name }}">Figures</a>{% endif %}{{ more|safe }}</figcaption>
</figure>
"##
)]
struct FigurePart<'a> {
    name: &'a str,
    svg: &'a str,
    title: &'a str,
    description: &'a str,
    has_table: bool,
    more: &'a str,
}

/// A chart with its words beside or below it; nothing where there is no such chart.
pub(super) fn figure(charts: &[Chart], name: &str) -> Result<String, HtmlError> {
    figure_with(charts, name, "")
}

/// The same with more markup, made here, under its words.
pub(super) fn figure_with(charts: &[Chart], name: &str, more: &str) -> Result<String, HtmlError> {
    match charts.iter().find(|c| c.name == name) {
        Some(chart) => FigurePart {
            name,
            svg: &chart.svg,
            title: &chart.title,
            description: &chart.description,
            has_table: chart.table.is_some(),
            more,
        }
        .render(),
        None => Ok(String::new()),
    }
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"{% for (text, needs) in items %}<li>{{ text }}{% if !needs.is_empty() %} <em><b>To settle it:</b> {{ needs }}.</em>{% endif %}</li>
{% endfor %}"##
)]
struct UnknownPart {
    items: Vec<(String, String)>,
}

/// List items of open questions, each with the measurement that would settle it.
pub(super) fn unknown(open: &[&Unknown]) -> Result<String, HtmlError> {
    let plain = |text: &str| format::on_page(text.trim_end_matches('.'));
    UnknownPart {
        items: open
            .iter()
            .map(|u| (plain(&u.text) + ".", plain(&u.needs)))
            .collect(),
    }
    .render()
}

/// The sign of a severity: a shape of its own, so that colour is never needed to tell.
pub(super) fn sign(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => {
            r#"<svg class="sign" viewBox="0 0 20 20" aria-hidden="true"><path d="M6 1h8l5 5v8l-5 5H6l-5-5V6z"/><path class="cut" d="M5 10h10"/></svg>"#
        }
        Severity::Fix => {
            r#"<svg class="sign" viewBox="0 0 20 20" aria-hidden="true"><path d="M10 1l9.5 17.5H.5z"/><path class="cut" d="M10 7v6M10 15v1.6"/></svg>"#
        }
        Severity::Watch => {
            r#"<svg class="sign" viewBox="0 0 20 20" aria-hidden="true"><circle cx="10" cy="10" r="9"/><path class="cut" d="M10 4.5V10l4 2.5"/></svg>"#
        }
        Severity::Fine => {
            r#"<svg class="sign" viewBox="0 0 20 20" aria-hidden="true"><rect x="1" y="1" width="18" height="18" rx="5"/><path class="cut" d="M5 10.5l3.5 3.5L15 6.5"/></svg>"#
        }
    }
}
