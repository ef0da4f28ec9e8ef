//! The first pass: what all rows of a file together say, in bounded memory.

use super::clock::ClockPlan;
use super::columns::{self, Facts, Roles};
use super::decode::{self, Coding, Lines};
use super::inspection::Question;
use super::layout::{self, Layout};
use super::rows::{self, Outcome, Rows};
use super::sign::Evidence;
use super::source::Source;
use super::stats::ColumnStats;
use super::steps::TimeStats;
use super::words::Meaning;
use super::{Request, foreign, later, no_time, questions, timing, unify, value};
use crate::mapping::{LogEntry, StampZone};
use crate::tally;

/// A file after the first pass.
pub(crate) struct Survey {
    pub(crate) source: Source,
    pub(crate) coding: Coding,
    pub(crate) layout: Layout,
    pub(crate) plan: ClockPlan,
    pub(crate) zone: String,
    /// The zone a design would name for stamps that carry none; `None` where it need not.
    pub(crate) stamp_zone: Option<StampZone>,
    pub(crate) stats: Vec<ColumnStats>,
    pub(crate) roles: Roles,
    pub(crate) notes: Vec<String>,
    pub(crate) questions: Vec<Question>,
    pub(crate) rows: tally::Rows,
    pub(crate) first: f64,
    pub(crate) last: f64,
    pub(crate) step: Option<f64>,
    pub(crate) sorted: bool,
    pub(crate) duplicates: u64,
    pub(crate) out_of_order: u64,
    pub(crate) clock_off: Vec<(u64, u64)>,
    /// Rows sharing a stamp are spread over this many seconds.
    pub(crate) spread: Option<f64>,
    pub(crate) only: Option<(usize, String)>,
    pub(crate) least: usize,
    pub(crate) encoding: String,
    pub(crate) daily: bool,
    pub(crate) missing: Vec<String>,
    pub(crate) hold: Option<f64>,
    pub(crate) last_cells: Vec<String>,
    pub(crate) meanings: Vec<Meaning>,
    pub(crate) entry: Option<LogEntry>,
    pub(crate) evidence: Evidence,
    /// Why nothing can be reckoned from the file, where no column has a role that counts.
    pub(crate) useless: Option<String>,
    /// The bank's nominal voltage, where the design says.
    pub(crate) nominal_v: Option<f64>,
}

impl Survey {
    /// Seconds between rows above which there is a gap.
    pub(crate) fn gap_limit(&self) -> f64 {
        self.hold.unwrap_or(5.0 * self.step.unwrap_or(60.0))
    }

    pub(crate) fn open(&self) -> std::io::Result<Rows<'_>> {
        Rows::open(
            &self.source.path,
            self.coding,
            &self.layout,
            self.plan.clone(),
            self.only.clone(),
            self.least,
            false,
        )
    }
}

/// Surveys a file.
///
/// # Errors
/// A message without the file's name.
pub(crate) fn survey(source: Source, request: &Request) -> Result<Survey, String> {
    inner(&source, request).map(|draft| draft.finish(source))
}

struct Draft {
    coding: Coding,
    layout: Layout,
    plan: ClockPlan,
    zone: String,
    written_zone: Option<String>,
    stamp_zone: Option<StampZone>,
    meanings: Vec<Meaning>,
    stats: Vec<ColumnStats>,
    roles: Roles,
    notes: Vec<String>,
    questions: Vec<Question>,
    rows: tally::Rows,
    time: TimeStats,
    only: Option<(usize, String)>,
    least: usize,
    foreign: bool,
    entry: Option<LogEntry>,
    last_cells: Vec<String>,
    evidence: Evidence,
    useless: Option<String>,
    nominal_v: Option<f64>,
    /// Lines at which another header took over.
    changes: Vec<u64>,
}

fn why(error: &std::io::Error) -> String {
    super::source::cannot("", error)
        .0
        .trim_start_matches(": ")
        .to_owned()
}

fn inner(source: &Source, request: &Request) -> Result<Draft, String> {
    if let Some(what) = foreign::what(&source.path) {
        return Err(what.to_owned());
    }
    let entry = source.entry.and_then(|k| request.entries.get(k)).cloned();
    let coding = decode::sniff(
        &source.path,
        entry.as_ref().and_then(|e| e.encoding.as_deref()),
    )
    .map_err(|e| why(&e))?;
    let layout = layout::find(&source.path, coding, entry.as_ref()).map_err(|why| {
        let stated = entry.as_ref().and_then(|e| e.encoding.as_deref());
        let hint =
            |label| format!(" (read as {label}, as its [[log]] entry says; check `encoding`)");
        why + &stated.map(hint).unwrap_or_default()
    })?;
    let mut layout = layout;
    if let Some(entry) = &entry {
        let wanted = columns::not_titled(entry, &layout);
        later::add_titles(&source.path, coding, &mut layout, &wanted);
    }
    let draft = under(layout, source, coding, request, entry.clone())?;
    let later = later::titles(&source.path, coding, &draft.layout, &draft.changes);
    if later.is_empty() {
        return Ok(draft);
    }
    // Columns only a later header names: read again with them, empty in the rows before.
    let mut layout = draft.layout;
    layout.titles.extend(later);
    under(layout, source, coding, request, entry)
}

/// Reads a file under a layout.
fn under(
    layout: Layout,
    source: &Source,
    coding: Coding,
    request: &Request,
    entry: Option<LogEntry>,
) -> Result<Draft, String> {
    let meanings = columns::meanings(&layout);
    let found = timing::find(source, &layout, &meanings, entry.as_ref(), request, || {
        Lines::open(&source.path, coding)
    })?;
    let sampled = sample_stats(&layout, entry.as_ref());
    let facts = Facts {
        layout: &layout,
        meanings: &meanings,
        stats: &sampled,
        time: &found.plan.columns,
        entry: entry.as_ref(),
        daily: false,
        nominal_v: request.nominal_v,
    };
    let early = columns::assign(&facts)?;
    let only = rows::only(entry.as_ref(), &layout)?;
    let used = early
        .uses
        .iter()
        .flat_map(|u| u.parts.iter().map(|p| p.0))
        .chain(found.plan.columns.iter().copied());
    let least = used.filter(|k| *k < layout.own).max().map_or(1, |k| k + 1);
    let mut draft = Draft {
        coding,
        plan: found.plan,
        zone: String::new(),
        written_zone: found.written_zone,
        stamp_zone: found.stamp_zone,
        meanings,
        stats: vec![ColumnStats::default(); layout.titles.len()],
        roles: Roles::default(),
        notes: found.notes,
        questions: found.question.into_iter().collect(),
        rows: tally::Rows::default(),
        time: TimeStats::new(),
        only,
        least,
        foreign: false,
        entry,
        last_cells: Vec::new(),
        evidence: Evidence::new(&early, f64::from(request.calendar.offset_s(0))),
        useless: None,
        nominal_v: request.nominal_v,
        changes: Vec::new(),
        layout,
    };
    draft.pass(source)?;
    Ok(draft)
}

fn sample_stats(layout: &Layout, entry: Option<&LogEntry>) -> Vec<ColumnStats> {
    let missing = entry.map_or(&[][..], |e| &e.missing);
    let mut stats = vec![ColumnStats::default(); layout.titles.len()];
    for row in &layout.sample {
        for (cell, stats) in row.iter().zip(&mut stats) {
            stats.take(cell.as_bytes(), layout.decimal, missing);
        }
    }
    stats
}

impl Draft {
    fn pass(&mut self, source: &Source) -> Result<(), String> {
        let layout = self.layout.clone();
        let missing: Vec<String> = self
            .entry
            .as_ref()
            .map(|e| e.missing.clone())
            .unwrap_or_default();
        let mut rows = Rows::open(
            &source.path,
            self.coding,
            &layout,
            self.plan.clone(),
            self.only.clone(),
            self.least,
            true,
        )
        .map_err(|e| why(&e))?;
        let mut evidence = std::mem::take(&mut self.evidence);
        let mut last = Vec::new();
        let plain: Vec<usize> = (0..layout.titles.len())
            .filter(|k| !self.plan.columns.contains(k))
            .collect();
        while let Some(outcome) = rows.advance() {
            let Outcome::At(at, _) = outcome else {
                continue;
            };
            self.time.take(at);
            for &column in &plain {
                self.stats[column].take(rows.cell(column), layout.decimal, &missing);
            }
            evidence.take(at, |found| {
                value::of(found, &rows, layout.decimal, &missing)
            });
            last.clear();
            last.extend_from_slice(rows.line());
        }
        for &column in &self.plan.columns {
            let shown: Vec<String> = layout
                .sample
                .iter()
                .filter_map(|r| r.get(column))
                .take(3)
                .cloned()
                .collect();
            self.stats[column].first = shown.first().cloned();
            self.stats[column].examples = shown;
        }
        self.last_cells = layout::cells(&last, layout.delimiter);
        self.rows.read = rows.count;
        self.foreign = rows.foreign;
        self.zone = self
            .written_zone
            .take()
            .unwrap_or_else(|| rows.clock().zone_name());
        self.remarks(&rows);
        if rows.count == 0 || self.time.count == 0 {
            return Err(no_time::unread(&self.layout, &self.plan, rows.count));
        }
        self.evidence = evidence;
        self.settle()
    }

    fn remarks(&mut self, rows: &Rows) {
        if let Some(error) = &rows.broken {
            self.notes.push(format!(
                "the file breaks off after line {} ({error}); what stands before was read",
                rows.line_number()
            ));
        }
        if let Some(line) = rows.changes.first() {
            let new: Vec<String> = self.layout.titles[self.layout.own..]
                .iter()
                .map(|t| format!("'{t}'"))
                .collect();
            let new = match new.is_empty() {
                true => String::new(),
                false => format!("; new there: {}", new.join(", ")),
            };
            self.notes.push(format!(
                "another header takes over in line {line}; columns were followed by their titles{new}"
            ));
        }
        self.changes.clone_from(&rows.changes);
        if rows.clock().skipped_hour > 0 {
            self.notes.push(format!(
                "{} stamps fall in an hour the clock skipped; read as if it had not been changed",
                rows.clock().skipped_hour
            ));
        }
        if rows.clock().restarts > 0 {
            self.notes.push(format!(
                "the elapsed clock restarts {}; each time it goes on one step after the row before",
                match rows.clock().restarts {
                    1 => "once".to_owned(),
                    n => format!("{n} times"),
                }
            ));
        }
        if rows.others > 0 {
            self.notes.push(format!(
                "{} rows of other devices passed over by `only`",
                rows.others
            ));
        }
        if self.plan.shift_s != 0.0 {
            self.notes.push(format!(
                "{} s added to every stamp, as the design says",
                self.plan.shift_s
            ));
        }
    }

    /// Roles with all rows known.
    fn settle(&mut self) -> Result<(), String> {
        let daily = self.time.median().is_some_and(|s| s >= 72_000.0);
        self.roles = unify::roles(
            &Facts {
                layout: &self.layout,
                meanings: &self.meanings,
                stats: &self.stats,
                time: &self.plan.columns,
                entry: self.entry.as_ref(),
                daily,
                nominal_v: self.nominal_v,
            },
            &self.evidence,
        )?;
        if !questions::are_useful(&self.roles, daily) {
            self.useless = Some(questions::useless(
                &self.layout,
                &self.meanings,
                &self.stats,
            ));
        }
        Ok(())
    }

    fn finish(mut self, source: Source) -> Survey {
        let course = self.time.course();
        if let Some(over) = course.spread {
            self.notes.push(format!(
                "several rows share a stamp: spread evenly over its {over} s"
            ));
        } else {
            let time = &self.plan.columns;
            let asked = questions::devices(&self.layout, &self.roles, time, course.shared);
            self.questions.extend(asked.filter(|_| self.only.is_none()));
        }
        if course.backward > 0 {
            self.notes.push(format!(
                "{} rows stand out of order and were sorted by time",
                course.backward
            ));
        }
        let encoding = match self.coding.name() {
            Some(name) => name,
            None if self.foreign => "windows-1252".to_owned(),
            None => "utf-8".to_owned(),
        };
        Survey {
            source,
            coding: self.coding,
            plan: self.plan,
            zone: self.zone,
            stamp_zone: self.stamp_zone,
            stats: self.stats,
            roles: self.roles,
            notes: self.notes,
            questions: self.questions,
            rows: self.rows,
            first: course.first,
            last: course.last,
            step: course.step,
            sorted: course.sorted,
            duplicates: self.time.same,
            out_of_order: course.backward,
            clock_off: course.clock_off,
            spread: course.spread,
            only: self.only,
            least: self.least,
            encoding,
            daily: course.step.is_some_and(|s| s >= 72_000.0),
            missing: self
                .entry
                .as_ref()
                .map(|e| e.missing.clone())
                .unwrap_or_default(),
            hold: self.entry.as_ref().and_then(|e| e.hold_s),
            last_cells: self.last_cells,
            meanings: self.meanings,
            entry: self.entry,
            evidence: self.evidence,
            useless: self.useless,
            nominal_v: self.nominal_v,
            layout: self.layout,
        }
    }
}
