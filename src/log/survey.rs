//! The first pass: what all rows of a file together say, in bounded memory.

use super::batch::{Batch, Want};
use super::clock::{Clock, ClockPlan};
use super::columns::{self, Facts, Roles};
use super::date_order::Seen;
use super::decode::{self, Coding};
use super::device::Shape;
use super::digest::Digest;
use super::head::Front;
use super::inspection::Question;
use super::layout::{self, Layout};
use super::lines::Lines;
use super::lost::Lost;
use super::pass::{self, Passed};
use super::period::Period;
use super::rows::{self, Choice};
use super::sign::Evidence;
use super::source::{Kin, Source};
use super::stamp::Order;
use super::stats::ColumnStats;
use super::steps::{JUMP, TimeStats};
use super::uses::Use;
use super::watch::Hands;
use super::words::Meaning;
use super::{Request, foreign, later, no_time, questions, timing, unify};
use crate::mapping::{LogEntry, StampZone};
use crate::tally;

/// Sampled rows that are kept of a surveyed file.
const KEPT: usize = 16;

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
    /// How far any row is behind one before it, seconds.
    pub(crate) late: f64,
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
    /// Of the file alone.
    pub(crate) digest: Option<Digest>,
    /// What its dates show, where no cell alone tells the day from the month.
    pub(crate) dates: Option<Seen>,
}

impl Survey {
    /// Seconds between rows above which there is a gap.
    pub(crate) fn gap_limit(&self) -> f64 {
        gap_limit(self.hold, self.step)
    }

    /// What it shares with other files of its device.
    pub(crate) fn kin(&self) -> Kin {
        self.source.kin(&self.layout.titles)
    }

    /// Which rows count.
    pub(crate) fn choice(&self) -> Choice<'_> {
        Choice {
            coding: self.coding,
            layout: &self.layout,
            plan: &self.plan,
            only: self.only.as_ref(),
            least: self.least,
            check_text: false,
        }
    }
}

/// Seconds between rows above which there is a gap, by how long a value stays good and the usual step.
/// No step, however long, makes a line of a jump: two rows of different ages would fill the years between.
pub(crate) fn gap_limit(hold: Option<f64>, step: Option<f64>) -> f64 {
    hold.unwrap_or((5.0 * step.unwrap_or(60.0)).min(JUMP))
}

/// What the head of a file shows of how its rows are to be folded.
pub(crate) struct Head {
    pub(crate) kin: Kin,
    pub(crate) roles: Roles,
    pub(crate) shape: Shape,
}

/// Who takes the rows of a file while it is surveyed.
pub(crate) trait Follower {
    /// Begins with a file, or once more with the same one, read another way.
    fn begin(&mut self, head: Head);

    /// Takes the next rows, made ready for the shape in the file's head. The batch may be taken
    /// away: whatever is left in its place is filled anew.
    ///
    /// # Errors
    /// When nobody wants the file any more.
    fn take(&mut self, batch: &mut Batch) -> std::io::Result<()>;
}

/// Surveys a file. `order` is how files beside it write their dates, where it is not told by this one.
///
/// # Errors
/// A message without the file's name.
pub(crate) fn survey(
    source: Source,
    request: &Request,
    order: Option<Order>,
    hands: Hands,
    follower: &mut dyn Follower,
) -> Result<Survey, String> {
    let mut means = Means {
        order,
        hands,
        follower,
    };
    inner(&source, request, &mut means).map(|draft| draft.finish(source))
}

/// What to read by and with, and who follows.
struct Means<'m> {
    order: Option<Order>,
    hands: Hands<'m>,
    follower: &'m mut dyn Follower,
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
    shared: bool,
    digest: Option<Digest>,
    dates: Option<Seen>,
    /// Lines at which another header took over.
    changes: Vec<u64>,
}

fn why(error: &std::io::Error) -> String {
    super::source::cannot("", error)
        .0
        .trim_start_matches(": ")
        .to_owned()
}

fn inner(source: &Source, request: &Request, means: &mut Means) -> Result<Draft, String> {
    let mut front = Front::of(&source.path, means.hands.spare.block()).map_err(|e| why(&e))?;
    if let Some(what) = foreign::what(front.bytes()) {
        return Err(what.to_owned());
    }
    let entry = source.entry.and_then(|k| request.entries.get(k)).cloned();
    let coding = decode::sniff(
        front.bytes(),
        entry.as_ref().and_then(|e| e.encoding.as_deref()),
    )
    .map_err(|e| why(&e))?;
    let layout = layout::find(&source.path, &mut front, coding, entry.as_ref()).map_err(|why| {
        let stated = entry.as_ref().and_then(|e| e.encoding.as_deref());
        let hint =
            |label| format!(" (read as {label}, as its [[log]] entry says; check `encoding`)");
        why + &stated.map(hint).unwrap_or_default()
    })?;
    means.hands.spare.keep_block(front.into_block());
    let mut layout = layout;
    if let Some(entry) = &entry {
        let wanted = columns::not_titled(entry, &layout);
        later::add_titles(&source.path, coding, &mut layout, &wanted);
    }
    let draft = under(layout, source, coding, request, entry.clone(), means)?;
    let later = later::titles(&source.path, coding, &draft.layout, &draft.changes);
    if later.is_empty() {
        return Ok(draft);
    }
    // Columns only a later header names: read again with them, empty in the rows before.
    let mut layout = draft.layout;
    layout.titles.extend(later);
    under(layout, source, coding, request, entry, means)
}

/// Reads a file under a layout.
fn under(
    layout: Layout,
    source: &Source,
    coding: Coding,
    request: &Request,
    entry: Option<LogEntry>,
    means: &mut Means,
) -> Result<Draft, String> {
    let meanings = columns::meanings(&layout);
    let lines = || Lines::open(&source.path, coding);
    let (said, order) = (entry.as_ref(), means.order);
    let found = timing::find(source, &layout, &meanings, said, request, order, lines)?;
    let sampled = sample_stats(&layout, &found.plan.columns, entry.as_ref());
    let facts = Facts {
        layout: &layout,
        meanings: &meanings,
        stats: &sampled,
        time: &found.plan.columns,
        entry: entry.as_ref(),
        shared: source.shared,
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
        shared: source.shared,
        digest: None,
        dates: found.dates,
        changes: Vec::new(),
        layout,
    };
    draft.pass(source, &early, request, means)?;
    Ok(draft)
}

/// What the sampled rows show of the columns, but for those of the time.
fn sample_stats(layout: &Layout, time: &[usize], entry: Option<&LogEntry>) -> Vec<ColumnStats> {
    let missing = entry.map_or(&[][..], |e| &e.missing);
    let mut stats = vec![ColumnStats::default(); layout.titles.len()];
    for row in layout.sample.iter() {
        let columns = row.iter().zip(&mut stats).enumerate();
        for (_, (cell, stats)) in columns.filter(|(column, _)| !time.contains(column)) {
            stats.take(cell.as_bytes(), layout.decimal, missing);
        }
    }
    stats
}

/// The usual step of the rows at the head of a file, seconds.
fn sample_step(layout: &Layout, plan: &ClockPlan) -> Option<f64> {
    let mut clock = Clock::new(plan.clone());
    let mut time = TimeStats::new();
    for row in layout.sample.iter() {
        let read = clock.read(row.joined(&plan.columns)?.as_bytes(), layout.decimal);
        if let Some((at, _)) = read {
            time.take(at);
        }
    }
    time.median()
}

impl Draft {
    fn pass(
        &mut self,
        source: &Source,
        early: &Roles,
        request: &Request,
        means: &mut Means,
    ) -> Result<(), String> {
        let layout = self.layout.without_sample();
        let (plan, only) = (self.plan.clone(), self.only.clone());
        let entry = self.entry.clone();
        let facts: Vec<usize> = (0..layout.titles.len())
            .filter(|k| !plan.columns.contains(k))
            .collect();
        let uses: Vec<Use> = early
            .uses
            .iter()
            .chain(&early.load_volts)
            .cloned()
            .collect();
        let hold = entry.as_ref().and_then(|e| e.hold_s);
        let limit = gap_limit(hold, sample_step(&self.layout, &plan));
        let shape = Shape::of(early, limit, hold, Period::of(request));
        means.follower.begin(Head {
            kin: source.kin(&layout.titles),
            roles: early.clone(),
            shape: shape.clone(),
        });
        let evidence = self.evidence.fresh();
        let looked_at = evidence
            .looks_at()
            .map(|role| uses.iter().position(|u| Some(u.role) == role));
        let want = Want {
            uses: &uses,
            facts: &facts,
            missing: entry.as_ref().map_or(&[], |e| &e.missing),
            lines: false,
            shape: Some(&shape),
            evidence: Some((&evidence, looked_at)),
            lost: &Lost::of(early),
        };
        let choice = Choice {
            coding: self.coding,
            layout: &layout,
            plan: &plan,
            only: only.as_ref(),
            least: self.least,
            check_text: true,
        };
        let mut last = Vec::new();
        let mut take = |batch: &mut Batch| {
            self.take(batch, &facts);
            if !batch.last.is_empty() {
                last.clone_from(&batch.last);
            }
            means.follower.take(batch)
        };
        let digest = Some(Digest::new());
        let passed = pass::over(source, digest, choice, want, means.hands, &mut take)
            .map_err(|e| why(&e))?;
        self.digest = passed.digest;
        for &column in &plan.columns {
            let shown: Vec<String> = self
                .layout
                .sample
                .column(column)
                .take(3)
                .map(str::to_owned)
                .collect();
            self.stats[column].first = shown.first().cloned();
            self.stats[column].examples = shown;
        }
        self.last_cells = layout::cells(&last, layout.delimiter);
        self.rows.read = passed.rows.count;
        self.foreign = passed.rows.foreign;
        self.zone = self
            .written_zone
            .take()
            .unwrap_or_else(|| passed.rows.clock.zone_name());
        self.remarks(&passed);
        if passed.rows.count == 0 || self.time.count == 0 {
            return Err(no_time::unread(&self.layout, &self.plan, passed.rows.count));
        }
        self.settle()
    }

    /// Takes in the rows of a block.
    fn take(&mut self, batch: &Batch, facts: &[usize]) {
        for (column, found) in facts.iter().zip(&batch.facts) {
            self.stats[*column].follow(found);
        }
        self.time.take_all(&batch.rows.at, &batch.pace);
        self.evidence.follow(&batch.evidence);
    }

    fn remarks(&mut self, passed: &Passed) {
        let rows = &passed.rows;
        if let Some(error) = &passed.broken {
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
        if rows.clock.skipped_hour > 0 {
            self.notes.push(format!(
                "{} stamps fall in an hour the clock skipped; read as if it had not been changed",
                rows.clock.skipped_hour
            ));
        }
        if rows.clock.restarts > 0 {
            self.notes.push(format!(
                "the elapsed clock restarts {}; each time it goes on one step after the row before",
                match rows.clock.restarts {
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
                shared: self.shared,
                daily,
                nominal_v: self.nominal_v,
            },
            &self.evidence,
        )?;
        self.remark_sparse();
        if !questions::are_useful(&self.roles, daily) {
            self.useless = Some(questions::useless(
                &self.layout,
                &self.meanings,
                &self.stats,
            ));
        }
        Ok(())
    }

    /// Says so where a column has readings further apart than rows are joined over.
    fn remark_sparse(&mut self) {
        let hold = self.entry.as_ref().and_then(|e| e.hold_s);
        let Some(step) = self.time.median().filter(|_| hold.is_none()) else {
            return;
        };
        let rows = self.rows.read as f64;
        for found in self.roles.uses.iter().filter(|u| !u.is_worded()) {
            let numbers = self.stats.get(found.parts[0].0).map_or(0, |s| s.numbers);
            let apart_s = step * rows / numbers.max(1) as f64;
            if numbers > 1 && numbers * 2 < self.rows.read && apart_s > gap_limit(None, Some(step))
            {
                self.notes.push(format!(
                    "{}: a reading in one row of {:.0}, further apart than readings are joined over: nothing is reckoned between them; where each stays good until the next, say for instance hold = \"{:.0} min\" in its [[log]] entry",
                    found.role.name(),
                    rows / numbers as f64,
                    (2.0 * apart_s / 60.0).ceil()
                ));
            }
        }
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
        // There may be thousands of files: each keeps a few rows, to show how its numbers are written.
        self.layout.sample = self.layout.sample.head(KEPT);
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
            late: course.late,
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
            digest: self.digest,
            dates: self.dates,
            layout: self.layout,
        }
    }
}
