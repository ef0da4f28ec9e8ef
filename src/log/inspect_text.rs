//! `inspect` as plain text an owner can read, 80 columns wide.

use std::fmt::Write;

use super::inspection::{ColumnInspection, FileInspection, Inspection};
use crate::tally::{Measured, Rows};

/// Files told of in full that the next may be like.
const LATELY: usize = 8;

/// Width of a line.
const WIDTH: usize = 80;

/// The whole inspection as text; ends with a line end. Of files that were read alike, only the first
/// says how.
pub fn text(inspection: &Inspection) -> String {
    let mut out = String::new();
    let mut told: Vec<&FileInspection> = Vec::new();
    for file in &inspection.files {
        extent(file, &mut out);
        let lately = told.iter().rev().take(LATELY);
        match lately
            .into_iter()
            .find(|before| are_read_alike(before, file))
        {
            Some(before) => {
                paragraph(&format!("read like {}", before.file), 2, &mut out);
                losses(file, &mut out);
            }
            None => {
                told.push(file);
                manner(file, &mut out);
                losses(file, &mut out);
                remarks(file, &mut out);
            }
        }
        let totals: Vec<&Measured> = inspection
            .measured
            .iter()
            .filter(|m| m.file == file.file && m.date.is_none())
            .collect();
        energies(&totals, &mut out);
        out.push('\n');
    }
    for skipped in &inspection.skipped {
        paragraph(
            &format!("skipped {}: {}", skipped.file, skipped.why),
            0,
            &mut out,
        );
    }
    for note in &inspection.notes {
        paragraph(&format!("note: {note}"), 0, &mut out);
    }
    out
}

/// Appends a line; writing to a string cannot fail.
fn line(out: &mut String, text: std::fmt::Arguments) {
    let _ = out.write_fmt(text);
    out.push('\n');
}

/// Whether all that is said of how one file was read holds for another as well.
fn are_read_alike(one: &FileInspection, other: &FileInspection) -> bool {
    let table = |f: &FileInspection| {
        let written = format!("{} {} {}", f.encoding, f.delimiter, f.decimal);
        let times = format!("{} {}", f.time_format, f.timezone);
        (f.header_line, written, times, f.columns.len())
    };
    let mut columns = one.columns.iter().zip(&other.columns);
    table(one) == table(other)
        && one.notes == other.notes
        && one.questions == other.questions
        && columns.all(|(a, b)| {
            (&a.name, &a.role, &a.unit, &a.how) == (&b.name, &b.role, &b.unit, &b.how)
        })
}

/// The file and how much it holds.
fn extent(file: &FileInspection, out: &mut String) {
    line(out, format_args!("{}", file.file));
    paragraph(&counted(&file.rows), 2, out);
    if let (Some(first), Some(last)) = (&file.first, &file.last) {
        let step = file
            .step_s
            .map(|s| match duration(s).as_str() {
                "1 days" => ", a row a day".to_owned(),
                step => format!(", a row every {step}"),
            })
            .unwrap_or_default();
        paragraph(&format!("{first} to {last}{step}"), 2, out);
    }
}

/// How the file was read.
fn manner(file: &FileInspection, out: &mut String) {
    let header = file
        .header_line
        .map_or("no header".to_owned(), |l| format!("header in line {l}"));
    let delimiter = match file.delimiter.as_str() {
        "\t" => "tab",
        "," => "comma",
        ";" => "semicolon",
        "|" => "upright bar",
        other => other,
    };
    let decimal = if file.decimal == "," {
        "comma"
    } else {
        "point"
    };
    paragraph(
        &format!(
            "{header}, {}, cells parted by {delimiter}, decimal {decimal}",
            file.encoding
        ),
        2,
        out,
    );
    paragraph(
        &format!("time {} in {}", form(&file.time_format), file.timezone),
        2,
        out,
    );
    let known = file
        .columns
        .iter()
        .any(|c| !matches!(c.role.as_deref(), None | Some("time")));
    for (k, column) in file.columns.iter().enumerate() {
        match &column.role {
            Some(role) => one_column(role, column, out),
            None if !known => unnamed(k, column, out),
            None if !column.how.is_empty() => one_column("", column, out),
            None => {}
        }
    }
    if known {
        unused(file, out);
    }
}

fn counted(rows: &Rows) -> String {
    let mut parts = format!("{} rows: {} used", rows.read, rows.used);
    for (count, word) in [
        (rows.repaired, "repaired"),
        (rows.merged, "merged"),
        (rows.refused, "refused"),
    ] {
        if count > 0 {
            let _ = write!(parts, ", {count} {word}");
        }
    }
    parts
}

fn one_column(role: &str, column: &ColumnInspection, out: &mut String) {
    let example = column.examples.first().cloned().unwrap_or_default();
    let unit = match column.unit.as_str() {
        "0-1" => "as a share of 1".to_owned(),
        unit if unit.starts_with('0') => format!("times {unit}"),
        unit => unit.to_owned(),
    };
    let shown = match (column.min, column.max) {
        _ if role == "time" || role == "stage" => example,
        (Some(low), Some(high)) => format!("{} to {} {unit}", figure(low), figure(high)),
        _ => example,
    };
    let title = titled(&column.name);
    paragraph(
        &format!("{role:<20} {title} ({}): {shown}", column.how),
        4,
        out,
    );
}

/// A column nothing is known of, by its number, with what stands in it.
fn unnamed(position: usize, column: &ColumnInspection, out: &mut String) {
    let title = if column.name == (position + 1).to_string() {
        String::new()
    } else {
        format!(" {}", titled(&column.name))
    };
    let range = match (column.min, column.max) {
        (Some(low), Some(high)) => format!("; {} to {}", figure(low), figure(high)),
        _ => String::new(),
    };
    paragraph(
        &format!(
            "column {}{title}: {}{range}",
            position + 1,
            column.examples.join(", ")
        ),
        4,
        out,
    );
}

fn unused(file: &FileInspection, out: &mut String) {
    let names: Vec<String> = file
        .columns
        .iter()
        .filter(|c| c.role.is_none() && c.how.is_empty())
        .map(|c| titled(&c.name))
        .collect();
    if !names.is_empty() {
        paragraph(&format!("not used: {}", names.join(", ")), 4, out);
    }
}

fn titled(name: &str) -> String {
    if name.is_empty() {
        return "(no title)".to_owned();
    }
    format!("'{name}'")
}

/// How stamps are written, in words where the name of the form is a pattern.
fn form(name: &str) -> &str {
    match name {
        "%Y-%m-%d %H:%M:%S" => "as year, month, day",
        "%d/%m/%Y %H:%M:%S" => "as day, month, year",
        "%m/%d/%Y %H:%M:%S" => "as month, day, year",
        "%H:%M:%S" => "of day",
        "epoch-s" => "as seconds since 1970",
        "epoch-ms" => "as milliseconds since 1970",
        "epoch-us" => "as microseconds since 1970",
        "spreadsheet days" => "as days of a spreadsheet",
        "elapsed-s" | "elapsed-hms" => "elapsed since a start",
        pattern => pattern,
    }
}

/// Seconds in the unit people would use.
fn duration(seconds: f64) -> String {
    match seconds {
        s if s >= 86_400.0 && s % 86_400.0 == 0.0 => format!("{} days", figure(s / 86_400.0)),
        s if s >= 7_200.0 && s % 3_600.0 == 0.0 => format!("{} h", figure(s / 3_600.0)),
        s if s >= 120.0 && s % 60.0 == 0.0 => format!("{} min", figure(s / 60.0)),
        s => format!("{} s", figure(s)),
    }
}

/// A number with six significant digits at most, in powers of ten where it is huge or tiny.
fn figure(value: f64) -> String {
    let size = value.abs();
    if size != 0.0 && !(1e-4..1e12).contains(&size) {
        return format!("{value:.3e}");
    }
    let whole = if size >= 1.0 {
        size.log10() as usize + 1
    } else {
        1
    };
    let text = format!("{value:.*}", 6_usize.saturating_sub(whole));
    if !text.contains('.') {
        return text;
    }
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" { "0" } else { short }.to_owned()
}

/// A reason for refusing a row, in words.
fn reason(why: &str) -> &str {
    match why {
        "clock" => "clock far off",
        "no time" => "no time that can be read",
        "torn: too few cells" => "torn, too few cells",
        other => other,
    }
}

/// Rows refused, and gaps.
fn losses(file: &FileInspection, out: &mut String) {
    for (why, count) in &file.refused_by_why {
        let lines: Vec<String> = file
            .refused
            .iter()
            .filter(|r| r.why == *why)
            .take(5)
            .map(|r| r.line.to_string())
            .collect();
        paragraph(
            &format!(
                "refused, {}: {count} (line {}{})",
                reason(why),
                lines.join(", "),
                if *count > 5 { ", ..." } else { "" }
            ),
            2,
            out,
        );
    }
    for gap in file.gaps.iter().take(10) {
        paragraph(&format!("gap: {} to {}", gap.from, gap.to), 2, out);
    }
    if file.gaps.len() > 10 {
        paragraph(&format!("and {} more gaps", file.gaps.len() - 10), 2, out);
    }
}

/// Notes and questions.
fn remarks(file: &FileInspection, out: &mut String) {
    for note in &file.notes {
        paragraph(&format!("note: {note}"), 2, out);
    }
    for question in &file.questions {
        paragraph(&format!("question: {}", question.text), 2, out);
        paragraph("in the design file this settles it:", 4, out);
        // Lines for a file are not wrapped: they are to be copied.
        for settling in question.settle.lines() {
            line(out, format_args!("      {settling}"));
        }
    }
}

fn energies(totals: &[&Measured], out: &mut String) {
    if !totals.is_empty() {
        paragraph("measured", 2, out);
    }
    for total in totals {
        let (plus, minus, unit) = match (total.wh_in, total.wh_out) {
            (Some(plus), Some(minus)) => (plus, minus, "Wh"),
            _ => (
                total.ah_in.unwrap_or(0.0),
                total.ah_out.unwrap_or(0.0),
                "Ah",
            ),
        };
        let both = total.role.starts_with("battery") || minus >= 0.005;
        let sums = match both {
            true => format!("{plus:.2} {unit} in, {minus:.2} {unit} out"),
            false => format!("{plus:.2} {unit}"),
        };
        paragraph(
            &format!("{:<20} {sums}, over {:.2} h", total.role, total.covered_h),
            4,
            out,
        );
    }
}

/// Wraps words to the width, the first line indented less than those after it.
fn paragraph(text: &str, indent: usize, out: &mut String) {
    let mut row = " ".repeat(indent);
    let mut filled = false;
    for word in text.split(' ') {
        if filled && row.chars().count() + 1 + word.chars().count() > WIDTH {
            line(out, format_args!("{}", row.trim_end()));
            row = " ".repeat(indent + 2);
            filled = false;
        }
        if filled {
            row.push(' ');
        }
        row.push_str(word);
        filled = true;
    }
    line(out, format_args!("{}", row.trim_end()));
}
