//! Data quality, assumptions, words, and the tables behind the charts.

use askama::Template;

use super::{HtmlError, figures, front, parts};
use crate::report::charts::{self, Chart, Table};
use crate::report::model::{Input, Report, RoleUse, Rows};
use crate::report::{format, inputs};
use crate::report::{open, words};

/// Columns listed.
const MOST_ROLES: usize = 120;
/// Remarks on files listed.
const MOST_NOTES: usize = 40;

struct Fold {
    id: String,
    caption: String,
    table: String,
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r##"<section id="data" aria-labelledby="data-heading">
<h2 id="data-heading">Data and assumptions</h2>
<p>{{ cover }}</p>
{%- if let Some(places) = places %}
<h3 id="places">Where it stood</h3>
{{ places|safe }}
{%- endif %}
{{ inputs|safe }}
{{ roles|safe }}
{%- if !unknown.is_empty() %}
<div class="unknown-more" id="unknown-more">
<h3>More that this log cannot tell</h3>
<ul>
{{ unknown|safe }}
</ul>
</div>
{%- endif %}
{%- if !notes.is_empty() %}
<h3>How the files were read</h3>
<ul>
{%- for (file, note) in notes %}
<li><code>{{ file }}</code>: {{ crate::report::format::on_page(note) }}</li>
{%- endfor %}
</ul>
{%- endif %}
{%- if let Some(assumed) = assumed %}
<h3>Assumed, because the design does not say</h3>
{{ assumed|safe }}
{%- endif %}
{%- if let Some(performance) = performance %}
<h3>Yields</h3>
{{ performance|safe }}
{%- endif %}
</section>
<section id="words" aria-labelledby="words-heading">
<h2 id="words-heading">Words</h2>
<dl class="glossary">
{%- for (word, meaning) in glossary %}
<div><dt>{{ crate::report::format::on_page(word) }}</dt><dd>{{ crate::report::format::on_page(meaning) }}</dd></div>
{%- endfor %}
</dl>
</section>
<section id="tables" aria-labelledby="tables-heading">
<h2 id="tables-heading">Tables</h2>
{%- for fold in folds %}
<details id="{{ fold.id }}">
<summary>{{ fold.caption }}</summary>
{{ fold.table|safe }}
</details>
{%- endfor %}
</section>
"##
)]
struct Appendix {
    cover: String,
    places: Option<String>,
    inputs: String,
    roles: String,
    unknown: String,
    notes: Vec<(String, String)>,
    assumed: Option<String>,
    performance: Option<String>,
    glossary: &'static [(&'static str, &'static str)],
    folds: Vec<Fold>,
}

pub(super) fn render(report: &Report, charts: &[Chart]) -> Result<String, HtmlError> {
    let folds = folds(report, charts)?;
    Appendix {
        cover: format!(
            "{} of readings in {}: {} of the period. Whatever a gap hides is never filled in.",
            format::with_unit(&format::decimals(report.period.covered_h, 0), "h"),
            format::count(report.period.days, "day"),
            format::percent(report.period.coverage)
        ),
        places: some_table(places(report))?,
        inputs: parts::stacked(&files(&report.inputs))?,
        roles: parts::table(&roles(&report.inputs))?,
        unknown: match open::questions(report).get(front::unknown_shown(report)..) {
            Some(rest) => parts::unknown(rest)?,
            None => String::new(),
        },
        notes: notes(&report.inputs),
        assumed: some_table(assumed(report))?,
        performance: some_table(performance(report))?,
        glossary: &words::GLOSSARY,
        folds,
    }
    .render()
}

/// The table, or nothing where it has no rows.
fn some_table(table: Table) -> Result<Option<String>, HtmlError> {
    if table.rows.is_empty() {
        Ok(None)
    } else {
        parts::stacked(&table).map(Some)
    }
}

fn folds(report: &Report, charts: &[Chart]) -> Result<Vec<Fold>, HtmlError> {
    let mut tables: Vec<(String, Table)> =
        vec![("table-front".to_string(), figures::table(report))];
    tables.extend(
        charts
            .iter()
            .filter_map(|c| Some((format!("table-{}", c.name), c.table.clone()?))),
    );
    let account = &report.account;
    if !account.bank.is_empty() {
        let bank = charts::account_table("Bank account, whole period", &account.bank);
        tables.push(("table-bank".to_string(), bank));
    }
    if !report.measured.is_empty() {
        tables.push(("table-measured".to_string(), measured(report)));
    }
    tables
        .into_iter()
        .map(|(id, t)| {
            Ok(Fold {
                id,
                table: parts::table(&t)?,
                caption: t.caption,
            })
        })
        .collect()
}

fn head<const N: usize>(words: [&str; N]) -> Vec<String> {
    words.map(String::from).to_vec()
}

/// The places of a journey; no row where it was one place all along.
fn places(report: &Report) -> Table {
    Table {
        caption: "Places by the design; each day is reckoned with the sun and the clock of its own"
            .to_string(),
        head: head(["from", "to", "place", "note"]),
        rows: report
            .system
            .stops
            .iter()
            .map(|stop| {
                vec![
                    format::day(&stop.from),
                    format::day(&stop.to),
                    stop.place.clone(),
                    stop.note.clone().unwrap_or_default(),
                ]
            })
            .collect(),
    }
}

fn files(inputs: &[Input]) -> Table {
    let mut rows: Vec<Vec<String>> = inputs::listed(inputs).iter().map(file_row).collect();
    if let Some((name, counts)) = inputs::others(inputs) {
        let mut row = vec![name];
        row.extend(vec![format::cell(None, 0); 3]);
        row.extend(counted(counts));
        rows.push(row);
    }
    Table {
        caption: "Files; read = used + repaired + merged + refused".to_string(),
        head: head([
            "file", "from", "to", "step, s", "read", "used", "repaired", "merged", "refused",
        ]),
        rows,
    }
}

fn file_row(input: &Input) -> Vec<String> {
    let time = |t: &Option<String>| t.as_deref().map_or(format::cell(None, 0), format::instant);
    let mut row = vec![
        input.file.clone(),
        time(&input.first),
        time(&input.last),
        format::cell(input.step_s, 0),
    ];
    row.extend(counted(input.rows));
    row
}

fn counted(rows: Rows) -> [String; 5] {
    let Rows {
        read,
        used,
        repaired,
        merged,
        refused,
    } = rows;
    [read, used, repaired, merged, refused].map(|n| n.to_string())
}

/// A column understood alike in several files has one row.
fn roles(inputs: &[Input]) -> Table {
    let mut alike: Vec<(&String, &RoleUse, Vec<&str>)> = Vec::new();
    for input in inputs {
        for (role, used) in &input.roles {
            match alike.iter_mut().find(|(r, u, _)| *r == role && *u == used) {
                Some((_, _, files)) => files.push(&input.file),
                None => alike.push((role, used, vec![&input.file])),
            }
        }
    }
    Table {
        caption: "Columns as they were understood".to_string(),
        head: head(["role", "column", "unit", "known from", "file"]),
        rows: alike
            .into_iter()
            .take(MOST_ROLES)
            .map(|(role, used, files)| {
                vec![
                    role.replace('_', " "),
                    used.column.clone(),
                    used.unit.clone(),
                    used.how.clone(),
                    named(&files),
                ]
            })
            .collect(),
    }
}

/// Files by name, or the first and how many more.
fn named(files: &[&str]) -> String {
    match files {
        [] => String::new(),
        [one] => (*one).to_string(),
        [first, rest @ ..] => format!("{first} and {} more", rest.len()),
    }
}

/// Remarks on files; one that several files share is made once.
fn notes(inputs: &[Input]) -> Vec<(String, String)> {
    let mut alike: Vec<(&str, Vec<&str>)> = Vec::new();
    for input in inputs {
        for note in &input.notes {
            match alike.iter_mut().find(|(n, _)| n == note) {
                Some((_, files)) => files.push(&input.file),
                None => alike.push((note, vec![&input.file])),
            }
        }
    }
    let more = alike.len().saturating_sub(MOST_NOTES);
    let mut list: Vec<(String, String)> = alike
        .into_iter()
        .take(MOST_NOTES)
        .map(|(note, files)| (named(&files), note.to_string()))
        .collect();
    if more > 0 {
        list.push((
            format!("{more} more"),
            "remarks; `ampledger inspect` shows them all".to_string(),
        ));
    }
    list
}

fn assumed(report: &Report) -> Table {
    Table {
        caption: "Defaults taken".to_string(),
        head: head(["design key", "value", "why"]),
        rows: report
            .assumed
            .iter()
            .map(|a| vec![a.key.clone(), a.value.clone(), a.why.clone()])
            .collect(),
    }
}

fn performance(report: &Report) -> Table {
    let p = &report.performance;
    let rows = [
        (
            "reference yield",
            p.reference_yield_h,
            "h a day",
            "sun in the array's plane",
        ),
        (
            "array yield",
            p.array_yield_h,
            "h a day",
            "at the array's terminals over label power",
        ),
        (
            "final yield",
            p.final_yield_h,
            "h a day",
            "used or stored over label power",
        ),
        (
            "performance ratio",
            p.performance_ratio,
            "",
            "final over reference yield; low where the bank was full",
        ),
        (
            "usage factor",
            p.usage_factor,
            "",
            "harvest over what an always accepting bank would have got",
        ),
        (
            "autonomy",
            p.autonomy_h,
            "h",
            "usable bank at mean load without sun",
        ),
        (
            "recovery",
            p.recovery_days,
            "days",
            "from the lowest charge to the next full one",
        ),
    ];
    Table {
        caption: "Yields in the terms of IEC 61724-1".to_string(),
        head: head(["figure", "value", "meaning"]),
        rows: rows
            .into_iter()
            .filter_map(|(name, value, unit, meaning)| {
                let value = format::with_unit(&format::significant(value?, 2), unit);
                Some(vec![name.to_string(), value, meaning.to_string()])
            })
            .collect(),
    }
}

fn measured(report: &Report) -> Table {
    Table {
        caption: "Energy and charge as logged, whole period".to_string(),
        head: head([
            "role",
            "in, Wh",
            "out, Wh",
            "in, Ah",
            "out, Ah",
            "covered, h",
            "file",
        ]),
        rows: report
            .measured
            .iter()
            .filter(|m| m.date.is_none())
            .take(MOST_ROLES)
            .map(|m| {
                vec![
                    m.role.replace('_', " "),
                    format::cell(m.wh_in, 0),
                    format::cell(m.wh_out, 0),
                    format::cell(m.ah_in, 1),
                    format::cell(m.ah_out, 1),
                    format::decimals(m.covered_h, 1),
                    m.file.clone(),
                ]
            })
            .collect(),
    }
}
