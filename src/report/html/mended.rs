//! Before and after a mend, where a run was asked to tell them apart.

use askama::Template;

use super::{HtmlError, parts, span};
use crate::report::charts::Chart;
use crate::report::compare_text::findings;
use crate::report::model::Report;

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<section id="mended" aria-labelledby="mended-heading">
<h2 id="mended-heading">Before and after</h2>
<p>Before: {{ before }}. After: {{ after }}. Better or worse is said only where the whole 90&nbsp;% range of the difference lies on one side and the difference is worth a job.</p>
{{ figure|safe }}
{%- if !findings.is_empty() %}
<h3>Findings before and after</h3>
<ul>
{%- for told in findings %}
<li>{{ told }}.</li>
{%- endfor %}
</ul>
{%- endif %}
</section>
"##
)]
struct Mended {
    before: String,
    after: String,
    figure: String,
    findings: Vec<String>,
}

/// The section; nothing where no mend was asked about or no figure can be compared.
pub(super) fn render(report: &Report, charts: &[Chart]) -> Result<String, HtmlError> {
    let figure = parts::figure(charts, "comparison")?;
    let Some(comparison) = report.comparison.as_ref().filter(|_| !figure.is_empty()) else {
        return Ok(String::new());
    };
    let (before, after) = (&comparison.before, &comparison.after);
    Mended {
        before: span(&before.from, &before.to),
        after: span(&after.from, &after.to),
        figure,
        findings: findings(comparison),
    }
    .render()
}
