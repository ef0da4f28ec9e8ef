//! `inspect` as plain text an owner can read, 80 columns wide.

use std::fmt::Write;

use super::inspection::{FileInspection, Inspection};
use crate::tally::Measured;

/// Width of a line.
const WIDTH: usize = 80;

/// The whole inspection as text; ends with a line end.
pub fn text(inspection: &Inspection) -> String {
    let mut out = String::new();
    for file in &inspection.files {
        one_file(file, &mut out);
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

fn one_file(file: &FileInspection, out: &mut String) {
    line(out, format_args!("{}", file.file));
    let rows = &file.rows;
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
    paragraph(&parts, 2, out);
    if let (Some(first), Some(last)) = (&file.first, &file.last) {
        let step = file
            .step_s
            .map(|s| format!(", a row every {s} s"))
            .unwrap_or_default();
        paragraph(&format!("{first} to {last}{step}"), 2, out);
    }
    let header = file
        .header_line
        .map_or("no header".to_owned(), |l| format!("header in line {l}"));
    let delimiter = match file.delimiter.as_str() {
        "\t" => "tab",
        "," => "comma",
        ";" => "semicolon",
        other => other,
    };
    paragraph(
        &format!(
            "{header}, {}, cells parted by {delimiter}, decimal mark {}; time {} in {}",
            file.encoding, file.decimal, file.time_format, file.timezone
        ),
        2,
        out,
    );
    for column in file.columns.iter().filter(|c| c.role.is_some()) {
        let role = column.role.as_deref().unwrap_or("");
        let range = match (column.min, column.max) {
            (Some(low), Some(high)) => format!("{low} to {high} {}", column.unit),
            _ => column.examples.first().cloned().unwrap_or_default(),
        };
        paragraph(
            &format!("{role:<20} '{}' ({}): {range}", column.name, column.how),
            4,
            out,
        );
    }
    let unused: Vec<String> = file
        .columns
        .iter()
        .filter(|c| c.role.is_none())
        .map(|c| format!("'{}'", c.name))
        .collect();
    if !unused.is_empty() {
        paragraph(&format!("not used: {}", unused.join(", ")), 4, out);
    }
    troubles(file, out);
}

fn troubles(file: &FileInspection, out: &mut String) {
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
                "refused, {why}: {count} (line {}{})",
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
    for note in &file.notes {
        paragraph(&format!("note: {note}"), 2, out);
    }
    for question in &file.questions {
        paragraph(&format!("question: {}", question.text), 2, out);
        paragraph(
            &format!("settle it in its [[log]] entry: {}", question.settle),
            4,
            out,
        );
    }
}

fn energies(totals: &[&Measured], out: &mut String) {
    for total in totals {
        let (plus, minus, unit) = match (total.wh_in, total.wh_out) {
            (Some(plus), Some(minus)) => (plus, minus, "Wh"),
            _ => (
                total.ah_in.unwrap_or(0.0),
                total.ah_out.unwrap_or(0.0),
                "Ah",
            ),
        };
        let out_part = if minus > 0.0 {
            format!(", {minus:.2} {unit} out")
        } else {
            String::new()
        };
        paragraph(
            &format!(
                "{:<20} {plus:.2} {unit} in{out_part}, over {:.2} h",
                total.role, total.covered_h
            ),
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
