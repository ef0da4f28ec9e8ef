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
use super::{Request, questions, timing, unify, value};
use crate::mapping::{LogEntry, Role, StampZone};
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
}

fn why(error: &std::io::Error) -> String {
    super::source::cannot("", error)
        .0
        .trim_start_matches(": ")
        .to_owned()
}

fn inner(source: &Source, request: &Request) -> Result<Draft, String> {
    let entry = source.entry.and_then(|k| request.entries.get(k)).cloned();
    let coding = decode::sniff(
        &source.path,
        entry.as_ref().and_then(|e| e.encoding.as_deref()),
    )
    .map_err(|e| why(&e))?;
    let layout = layout::find(&source.path, coding, entry.as_ref())?;
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
    let least = used.max().map_or(1, |k| k + 1);
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
            return Err(self.nothing(rows.count));
        }
        self.evidence = evidence;
        self.settle()
    }

    fn nothing(&self, read: u64) -> String {
        let column = self
            .plan
            .columns
            .first()
            .and_then(|k| self.layout.titles.get(*k))
            .map_or("", String::as_str);
        if read == 0 {
            return "no data row to take; check `only` and `header` in its [[log]] entry"
                .to_owned();
        }
        format!(
            "line {}, column '{column}': none of its {read} rows has a time that can be read; say how it is written with `time_format` in its [[log]] entry",
            self.layout.first_row
        )
    }

    fn remarks(&mut self, rows: &Rows) {
        if let Some(error) = &rows.broken {
            self.notes.push(format!(
                "the file breaks off after line {} ({error}); what stands before was read",
                rows.line_number()
            ));
        }
        if let Some(line) = rows.changes.first() {
            self.notes.push(format!(
                "another header takes over in line {line}; columns were followed by their titles, new ones left out"
            ));
        }
        if rows.clock().skipped_hour > 0 {
            self.notes.push(format!(
                "{} stamps fall in an hour the clock skipped; read as if it had not been changed",
                rows.clock().skipped_hour
            ));
        }
        if rows.clock().restarts > 0 {
            self.notes.push(format!(
                "the elapsed clock restarts {} times; each goes on one step after the row before",
                rows.clock().restarts
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
        if !self.useful(daily) {
            self.useless = Some(format!(
                "only a time was found, no battery voltage, current, power or energy among {}; name them in [log.columns]",
                columns::listed(&self.layout)
            ));
        }
        Ok(())
    }

    fn useful(&self, daily: bool) -> bool {
        use Role::*;
        let electrical = [
            BatteryVoltage,
            BatteryCurrent,
            BatteryPower,
            ArrayCurrent,
            ArrayPower,
            ChargeVoltage,
            ChargeCurrent,
            ChargePower,
            LoadCurrent,
            LoadPower,
            OtherCurrent,
            HarvestTotal,
        ];
        let totals = [DayHarvest, DayLoad, DaySocLow, DayVoltsHigh];
        electrical.iter().any(|r| self.roles.has(*r))
            || (daily && totals.iter().any(|r| self.roles.has(*r)))
    }

    fn finish(mut self, source: Source) -> Survey {
        let course = self.time.course();
        if let Some(over) = course.spread {
            self.notes.push(format!(
                "several rows share a stamp: spread evenly over its {over} s"
            ));
        } else if course.shared {
            let asked = questions::devices(&self.layout, &self.roles, &self.plan.columns);
            self.questions.extend(asked);
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
