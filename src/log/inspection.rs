//! How each file was understood.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use crate::tally::{Measured, Rows};

/// What `inspect` shows.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Inspection {
    /// The files, in the order they were asked for.
    pub files: Vec<FileInspection>,
    /// Energy and charge per file, role and day, then totals.
    pub measured: Vec<Measured>,
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
    /// `header`, `units row`, `cell`, `range`, `data` or `design`; for a column without a role that
    /// another is reckoned with, that.
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
    pub rows: Rows,
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
