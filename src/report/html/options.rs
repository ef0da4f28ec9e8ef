//! What each change would do on the owner's own days: advice, chart and table.

use askama::Template;

use super::{HtmlError, parts};
use crate::report::charts::{Chart, Table};
use crate::report::format;
use crate::report::model::{OptionRow, Report};

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<section id="options" aria-labelledby="options-heading">
<h2 id="options-heading">What would change</h2>
<p>Each row lives through your own days again, with the same sky and the same use. {% if let Some(name) = recommended %}First: <strong>{{ name }}</strong>.{% else %}None stands out.{% endif %}</p>
{%- if !why.is_empty() %}
<p>{{ why }}</p>
{%- endif %}
{{ figure|safe }}
{{ table|safe }}
</section>
"##
)]
struct Options<'a> {
    recommended: Option<&'a str>,
    why: String,
    figure: String,
    table: String,
}

/// The section; nothing where no option was weighed.
pub(super) fn render(report: &Report, charts: &[Chart]) -> Result<String, HtmlError> {
    if report.options.is_empty() {
        return Ok(String::new());
    }
    Options {
        recommended: report.recommended.as_deref(),
        why: format::on_page(report.recommended_why.as_deref().unwrap_or_default()),
        figure: parts::figure(charts, "options")?,
        table: parts::stacked(&options(report))?,
    }
    .render()
}

/// How a row compares with the system as it is.
fn change(option: &OptionRow, place: usize) -> String {
    match (&option.refused, place) {
        (Some(_), _) => "refused".to_string(),
        (None, 0) => "\u{2013}".to_string(),
        _ => option.change.clone(),
    }
}

fn options(report: &Report) -> Table {
    let head = [
        "option",
        "change",
        "unserved, Wh a day",
        "days with a full charge",
        "lowest charge, %",
        "nights below reserve",
        "held back, Wh a day",
        "cost",
        "remark",
    ];
    Table {
        caption: "Options on your days".to_string(),
        head: head.map(String::from).to_vec(),
        rows: report
            .options
            .iter()
            .enumerate()
            .map(|(i, o)| {
                vec![
                    o.name.clone(),
                    change(o, i),
                    o.unserved_wh_per_day
                        .as_ref()
                        .map_or(format::cell(None, 0), |i| format::interval(i, "Wh")),
                    o.full_share.map_or(format::cell(None, 0), format::percent),
                    format::cell(o.lowest_soc_pct, 0),
                    format::cell(o.nights_below_reserve, 1),
                    format::cell(o.held_back_wh_per_day, 0),
                    format::cell(o.cost, 0),
                    o.note.clone(),
                ]
            })
            .collect(),
    }
}
