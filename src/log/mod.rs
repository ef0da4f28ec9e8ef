//! From bytes to bins: reading any log, and saying how it was read.

use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use chrono_tz::Tz;

use crate::calendar::Calendar;
use crate::mapping::{LogEntry, Suggestion};
use crate::timeline::Timeline;

mod abbreviation;
mod assemble;
mod batch;
mod beside;
mod bins;
mod block;
mod clock;
mod clock_parts;
mod columns;
mod counter;
mod date_order;
mod decimal;
mod decode;
mod describe;
mod device;
mod digest;
mod digits;
mod early;
mod engine;
mod fold;
mod foreign;
mod grid;
mod group;
mod head;
mod in_order;
pub mod inspect_text;
pub mod inspection;
mod later;
mod layout;
mod lines;
mod lost;
mod merge;
mod meter;
mod minute;
mod months;
mod naming;
mod no_table;
mod no_time;
mod number;
mod packed;
mod pass;
mod period;
mod plain;
mod questions;
mod readings;
mod rows;
mod scale;
mod scan;
mod shape;
mod sign;
mod sorter;
mod source;
mod spare;
mod stamp;
mod stats;
mod steps;
mod suggest;
mod sun;
mod survey;
mod surveys;
mod table;
mod timing;
mod totals;
mod unify;
mod uses;
mod value;
mod vocabulary;
mod watch;
mod whole_day;
mod whose;
mod wishes;
mod words;
mod zone;
pub use inspection::Inspection;
pub use watch::{Progress, Watch};

/// What is to be read.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    /// Files, folders, glob patterns or `-`, as typed. Empty: the entries' own files.
    pub paths: Vec<PathBuf>,
    /// `[[log]]` entries of the design.
    pub entries: &'a [LogEntry],
    /// Folder of the design file, which the entries' files are relative to and confined to.
    pub folder: Option<&'a Path>,
    /// Local days.
    pub calendar: &'a Calendar,
    /// `--timezone`: the zone of stamps that carry none; wins over the entries.
    pub zone: Option<Tz>,
    /// Nominal voltage from the design, where it says.
    pub nominal_v: Option<f64>,
    /// First and last local date to take, inclusive.
    pub from: Option<NaiveDate>,
    /// Last local date to take.
    pub to: Option<NaiveDate>,
}

/// Totals of a day, from a log of one row a day or a counter that tells no more.
#[derive(Debug, Clone, PartialEq)]
pub struct DayTotal {
    /// Local date.
    pub date: NaiveDate,
    /// Harvest, Wh.
    pub harvest_wh: Option<f64>,
    /// Loads, Wh.
    pub load_wh: Option<f64>,
    /// Lowest state of charge, %.
    pub soc_low_pct: Option<f64>,
    /// Highest bank voltage, V.
    pub volts_high_v: Option<f64>,
}

impl DayTotal {
    /// A day of which nothing is known yet.
    pub fn empty(date: NaiveDate) -> Self {
        Self {
            date,
            harvest_wh: None,
            load_wh: None,
            soc_low_pct: None,
            volts_high_v: None,
        }
    }
}

/// Everything read.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Measurements on one grid.
    pub timeline: Timeline,
    /// How each file was understood.
    pub inspection: Inspection,
    /// Totals from logs of one row a day.
    pub day_totals: Vec<DayTotal>,
    /// For each device, what its `[[log]]` entry could say.
    pub suggestions: Vec<Suggestion>,
    /// Digest of all bytes read, hexadecimal.
    pub digest: String,
}

/// Why reading failed; prints as one message that says what, where and what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct ReadError(pub String);

/// Reads the logs asked for.
///
/// # Errors
/// A named file that cannot be read or yields nothing usable, a pattern without a match, no row in
/// the period, or an open question that changes energies.
pub fn read(request: &Request) -> Result<Reading, ReadError> {
    read_watched(request, &|_| ())
}

/// Reads like [`read`], and tells how far it has come.
///
/// # Errors
/// As [`read`].
pub fn read_watched(request: &Request, watch: Watch) -> Result<Reading, ReadError> {
    let mut reading = assemble::assemble(request, assemble::Use::Reckon, watch)?;
    beside::set_right(&mut reading);
    let open = open_questions(&reading.inspection);
    if open.is_empty() {
        Ok(reading)
    } else {
        Err(ReadError(open.join("\n")))
    }
}

/// A message for each question that must be settled, once for all files that ask it.
fn open_questions(inspection: &Inspection) -> Vec<String> {
    let mut asked: Vec<(&inspection::Question, &str, usize)> = Vec::new();
    for file in &inspection.files {
        for question in file.questions.iter().filter(|q| q.blocking) {
            match asked.iter_mut().find(|a| a.0 == question) {
                Some((_, _, others)) => *others += 1,
                None => asked.push((question, &file.file, 0)),
            }
        }
    }
    let message = |(question, file, others): (&inspection::Question, &str, usize)| {
        let more = match others {
            0 => String::new(),
            1 => " and another file".to_owned(),
            n => format!(" and {n} other files"),
        };
        format!(
            "{file}{more}: {}; settle it in its [[log]] entry: {}",
            question.text, question.settle
        )
    };
    asked.into_iter().map(message).collect()
}

/// Reads like [`read`], but leaves open questions standing in the inspection and takes the more
/// likely answer, and shows a file whose columns say nothing instead of refusing it: for `inspect`.
///
/// # Errors
/// As [`read`], except for open questions.
pub fn look(request: &Request) -> Result<Reading, ReadError> {
    look_watched(request, &|_| ())
}

/// Reads like [`look`], and tells how far it has come.
///
/// # Errors
/// As [`look`].
pub fn look_watched(request: &Request, watch: Watch) -> Result<Reading, ReadError> {
    assemble::assemble(request, assemble::Use::Show, watch)
}
