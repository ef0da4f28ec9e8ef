//! How each file was understood.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

/// What `inspect` shows.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Inspection {
    /// The files, in the order they were asked for.
    pub files: Vec<FileInspection>,
    /// Energy and charge per file, role and day, then totals.
    pub measured: Vec<MeasuredRow>,
    /// Files of a folder or a pattern that could not be read.
    pub skipped: Vec<Skipped>,
    /// What concerns several files together: choices between them, repeats.
    pub notes: Vec<String>,
}

/// A file passed over, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Skipped {
    /// Path as typed.
    pub file: String,
    /// Reason, in words.
    pub why: String,
}

/// Rows of a file; `read = used + repaired + merged + refused`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct RowCounts {
    /// Data rows seen.
    pub read: u64,
    /// Taken as they stand.
    pub used: u64,
    /// Taken after a repair that is named in the notes.
    pub repaired: u64,
    /// Repeats of the same reading across overlapping files.
    pub merged: u64,
    /// Not usable; each has a line and a reason.
    pub refused: u64,
}

/// A row that could not be used.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Refused {
    /// Line, from 1.
    pub line: u64,
    /// Reason.
    pub why: String,
}

/// A stretch without rows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Gap {
    /// Last row before it, RFC 3339.
    pub from: String,
    /// First row after it, RFC 3339.
    pub to: String,
}

/// How a column was understood. Values are as the cells are written, in the column's unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ColumnInspection {
    /// Title, or number where there is no header.
    pub name: String,
    /// Role; `None` where the column is not used.
    pub role: Option<String>,
    /// Unit of the cells; empty where there is none.
    pub unit: String,
    /// `header`, `units row`, `cell`, `range`, `data` or `design`.
    pub how: String,
    /// Up to three cells.
    pub examples: Vec<String>,
    /// Lowest number.
    pub min: Option<f64>,
    /// Highest number.
    pub max: Option<f64>,
    /// First cell with something in it.
    pub first_value: Value,
    /// Last cell with something in it.
    pub last_value: Value,
    /// Cells without a value.
    pub empty: u64,
}

/// Something the owner must say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Question {
    /// What cannot be told.
    pub text: String,
    /// Lines for the design file that would settle it.
    pub settle: String,
    /// Whether energies depend on the answer, so that nothing is reckoned without it.
    pub blocking: bool,
}

/// One file.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct FileInspection {
    /// Path as typed.
    pub file: String,
    /// Encoding.
    pub encoding: String,
    /// Delimiter.
    pub delimiter: String,
    /// Decimal mark.
    pub decimal: String,
    /// Line of the header, from 1; `None` where there is none.
    pub header_line: Option<u64>,
    /// Rows.
    pub rows: RowCounts,
    /// The first 100 rows refused.
    pub refused: Vec<Refused>,
    /// Number of rows refused by reason.
    pub refused_by_why: BTreeMap<String, u64>,
    /// First instant, RFC 3339.
    pub first: Option<String>,
    /// Last instant, RFC 3339.
    pub last: Option<String>,
    /// Median step.
    pub step_s: Option<f64>,
    /// Stretches longer than five steps (or `hold`) without a row; the first 1000.
    pub gaps: Vec<Gap>,
    /// Rows with the stamp of the row before.
    pub duplicates: u64,
    /// Rows earlier than a row before them.
    pub out_of_order: u64,
    /// How stamps are written.
    pub time_format: String,
    /// Zone of the stamps.
    pub timezone: String,
    /// The columns.
    pub columns: Vec<ColumnInspection>,
    /// What the owner must say.
    pub questions: Vec<Question>,
    /// Repairs, shifts, choices.
    pub notes: Vec<String>,
}

/// Energy and charge as logged, as in the report.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasuredRow {
    /// Path as typed.
    pub file: String,
    /// Role.
    pub role: String,
    /// Local date; `None` for the total.
    pub date: Option<String>,
    /// Positive part.
    pub wh_in: Option<f64>,
    /// Negative part, as a positive number.
    pub wh_out: Option<f64>,
    /// Positive part.
    pub ah_in: Option<f64>,
    /// Negative part, as a positive number.
    pub ah_out: Option<f64>,
    /// Hours covered.
    pub covered_h: f64,
}
