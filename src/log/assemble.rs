//! All files together: devices, one grid, one timeline.

use std::collections::BTreeMap;
use std::path::PathBuf;

use chrono::NaiveDate;

use super::bins::DaySums;
use super::device::{Device, Shape};
use super::early::Earlies;
use super::grid::Grid;
use super::inspection::{Inspection, Question};
use super::merge;
use super::period::Period;
use super::readings::Tally;
use super::spare::Spare;
use super::steps::LIFETIME;
use super::survey::Survey;
use super::surveys::{self, Job, Surveys};
use super::totals::Totals;
use super::watch::{Hands, Teller, Watch};
use super::{
    DayTotal, ReadError, Reading, Request, counter, describe, group, meter, source, suggest, sun,
};
use crate::mapping::Role;
use crate::tally::Measured;
use crate::timeline::{Channel, Series, Sign, Timeline};

/// What is read for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    /// To reckon with: a file without a useful column is refused.
    Reckon,
    /// To be shown: such a file is shown with the question what its columns are.
    Show,
}

/// Reads everything asked for.
pub(super) fn assemble(request: &Request, how: Use, watch: Watch) -> Result<Reading, ReadError> {
    let teller = Teller::new(watch);
    let tell = |bytes| teller.tell(bytes);
    let spare = Spare::default();
    let hands = Hands {
        threads: std::thread::available_parallelism().map_or(1, usize::from),
        tell: &tell,
        spare: &spare,
    };
    let sources = source::expand(request)?;
    teller.begin(bytes_of(sources.iter().map(|s| &s.path)), false);
    let job = Job {
        request,
        how,
        hands,
    };
    let mut earlies = Earlies::new(request.calendar);
    let Surveys {
        found: mut surveys,
        skipped,
        digest,
    } = surveys::all(sources, job, &mut earlies)?;
    let groups = group::group(&mut surveys)?;
    let mut notes = group::sides(&mut surveys, &groups);
    let mut state = State::default();
    state.inspection.skipped = skipped;
    let grid = grid_over(&surveys, request)?;
    for members in &groups {
        let files: Vec<&Survey> = members.iter().map(|k| &surveys[*k]).collect();
        let early = earlies.finish(&files, hands);
        if early.is_none() {
            teller.begin(bytes_of(files.iter().map(|f| &f.source.path)), true);
        }
        fold(
            members,
            &files,
            early,
            grid.as_ref(),
            request,
            hands,
            &mut state,
        )?;
    }
    count(&mut state);
    let suggestions = groups
        .iter()
        .map(|members| suggest::entry(&members.iter().map(|k| &surveys[*k]).collect::<Vec<_>>()))
        .collect();
    let timeline = timeline(grid.as_ref(), &mut state.channels, &mut notes);
    state.inspection.notes = notes;
    let mut inspection = state.inspection;
    for (k, survey) in surveys.iter().enumerate() {
        let (tally, gaps) = (
            state.tallies.remove(&k).unwrap_or_default(),
            state.gaps.remove(&k).unwrap_or_default(),
        );
        let mut file = describe::file(survey, tally, gaps, request.calendar);
        file.questions.extend(state.questions.remove(&k));
        file.notes.extend(state.remarks.remove(&k));
        inspection.files.push(file);
    }
    inspection.measured = state.metered;
    Ok(Reading {
        timeline,
        inspection,
        day_totals: state.totals,
        suggestions,
        digest: digest.hex(),
    })
}

/// Bytes of files, where they can be told.
fn bytes_of<'p>(paths: impl Iterator<Item = &'p PathBuf>) -> u64 {
    let sizes = paths.filter_map(|path| std::fs::metadata(path).ok());
    sizes.map(|found| found.len()).sum()
}

/// What grows while devices are folded.
#[derive(Default)]
struct State {
    inspection: Inspection,
    /// Channels, and whether each is put together from others rather than logged.
    channels: Vec<(Channel, bool)>,
    metered: Vec<Measured>,
    totals: Vec<DayTotal>,
    /// Harvest by day, where counters tell no more, by controller.
    counted: BTreeMap<Option<String>, BTreeMap<NaiveDate, f64>>,
    tallies: BTreeMap<usize, Tally>,
    gaps: BTreeMap<usize, Vec<super::inspection::Gap>>,
    questions: BTreeMap<usize, Question>,
    /// What only the folded rows show, by file: clocks the sun contradicts, values that never meet.
    remarks: BTreeMap<usize, String>,
}

/// The grid over all fine-grained logs, cut to the period; `None` where there are only daily ones.
fn grid_over(surveys: &[Survey], request: &Request) -> Result<Option<Grid>, ReadError> {
    let Period {
        low: from,
        high: to,
    } = Period::of(request);
    let all = |f: fn(&Survey) -> f64, pick: fn(f64, f64) -> f64, start: f64| {
        surveys.iter().map(f).fold(start, pick)
    };
    let (first, last) = (
        all(|s| s.first, f64::min, f64::INFINITY),
        all(|s| s.last, f64::max, f64::NEG_INFINITY),
    );
    if last < from || first >= to {
        return Err(ReadError(format!(
            "no row between {} and {}: the logs run from {} to {}; change --from and --to",
            request
                .from
                .map_or("the beginning".to_owned(), |d| d.to_string()),
            request.to.map_or("the end".to_owned(), |d| d.to_string()),
            request.calendar.date(first as i64),
            request.calendar.date(last as i64)
        )));
    }
    let fine: Vec<&Survey> = surveys.iter().filter(|s| !s.daily).collect();
    let low = fine
        .iter()
        .map(|s| s.first)
        .fold(f64::INFINITY, f64::min)
        .max(from);
    let high = fine
        .iter()
        .map(|s| s.last)
        .fold(f64::NEG_INFINITY, f64::max)
        .min(to);
    if high - low > LIFETIME {
        return Err(too_long(&fine, low, high, request));
    }
    Ok((low <= high).then(|| Grid::over(low, high, high == to)))
}

/// That some file has stamps from another age.
fn too_long(fine: &[&Survey], low: f64, high: f64, request: &Request) -> ReadError {
    let date = |at: f64| request.calendar.date(at as i64);
    let years = (high - low) / (365.25 * 86_400.0);
    let longest = |s: &&&Survey| s.last - s.first;
    let file = fine
        .iter()
        .max_by(|a, b| longest(a).total_cmp(&longest(b)))
        .map_or("", |s| s.source.name.as_str());
    ReadError(format!(
        "{file}: the rows run from {} to {}, {years:.0} years: the clock of some was off; leave these out of the file, or give the days that count with --from and --to of reconcile",
        date(low),
        date(high)
    ))
}

fn fold<'a>(
    members: &[usize],
    files: &[&Survey],
    early: Option<(Device<'a>, Vec<Tally>)>,
    grid: Option<&Grid>,
    request: &Request<'a>,
    hands: Hands<'_>,
    state: &mut State,
) -> Result<(), ReadError> {
    let failed = |e: std::io::Error| source::cannot(&files[0].source.name, &e);
    if files[0].daily {
        let mut totals = Totals {
            request,
            roles: files[0].roles.uses.iter().map(|u| u.role).collect(),
            days: BTreeMap::new(),
        };
        let tallies = merge::stream(files, hands, &mut totals).map_err(failed)?;
        keep_tallies(members, tallies, state);
        state.totals.extend(totals.days.into_values());
        return Ok(());
    }
    let empty;
    let grid = match grid {
        Some(grid) => grid,
        None => {
            empty = Grid::over(0.0, 0.0, false);
            &empty
        }
    };
    let (mut device, tallies) = match early {
        Some(found) => found,
        None => again(files, request, hands).map_err(failed)?,
    };
    let derived = device.shape.signals.derived();
    for (k, question) in group::ask_devices(files, &tallies) {
        state.questions.insert(members[k], question);
    }
    keep_tallies(members, tallies, state);
    for (file, gap) in device.gaps.drain(..) {
        state
            .gaps
            .entry(members[file as usize])
            .or_default()
            .push(gap);
    }
    let entry = files[0].source.entry.and_then(|k| request.entries.get(k));
    let label = entry
        .and_then(|e| e.name.clone())
        .unwrap_or_else(|| stem(&files[0].source.name));
    let step = files[0].step.unwrap_or(0.0);
    let is_counted = device.shape.signals.is_counted();
    let made = device.finish(grid);
    if let Some(note) = meter::never_together(&made) {
        state.remarks.insert(members[0], note);
    }
    let is_raw = |m: &&(Role, Series, DaySums)| m.0 == Role::HarvestTotal;
    let is_coarse = is_counted
        && made
            .iter()
            .find(is_raw)
            .is_some_and(|m| counter::is_coarse(&m.1, grid.bin_s));
    for (role, series, days) in made {
        let counted = role == Role::ChargePower && is_counted;
        let named = if counted { Role::HarvestTotal } else { role };
        meter::meter(role, named, &days, files, &mut state.metered);
        if counted && is_coarse {
            state.remarks.entry(members[0]).or_insert_with(|| {
                "harvest_total: its steps are too coarse to follow the sun by; only what it rose by in a day counts".to_owned()
            });
            let controller = entry.and_then(|e| e.controller.clone());
            let counted = state.counted.entry(controller);
            counted.or_insert_with(|| by_date(&days));
            continue;
        }
        let off = sun::remark(role, &series, grid, request.calendar);
        if let Some(note) = off {
            state.remarks.entry(members[0]).or_insert(note);
        }
        let derived = derived.contains(&role);
        let channel = Channel {
            role,
            controller: entry.and_then(|e| e.controller.clone()),
            source: label.clone(),
            step_s: step,
            sign: match role {
                Role::BatteryCurrent | Role::BatteryPower => files[0].roles.sign,
                _ => Sign::AsWritten,
            },
            counted,
            series,
        };
        state.channels.push((channel, derived));
    }
    Ok(())
}

/// What came in on each day, of all files together.
fn by_date(days: &DaySums) -> BTreeMap<NaiveDate, f64> {
    let mut sums = BTreeMap::new();
    for ((_, date), [came, ..]) in days {
        *sums.entry(*date).or_insert(0.0) += came;
    }
    sums
}

/// Enters counted days among the totals; a day's own total is nearer to it.
fn count(state: &mut State) {
    let mut days: BTreeMap<NaiveDate, f64> = BTreeMap::new();
    for (date, wh) in std::mem::take(&mut state.counted).into_values().flatten() {
        *days.entry(date).or_insert(0.0) += wh;
    }
    for (date, wh) in days {
        match state.totals.iter_mut().find(|total| total.date == date) {
            Some(total) => {
                total.harvest_wh.get_or_insert(wh);
            }
            None => state.totals.push(DayTotal {
                harvest_wh: Some(wh),
                ..DayTotal::empty(date)
            }),
        }
    }
}

/// Folds a device in a second pass over its files.
fn again<'a>(
    files: &[&Survey],
    request: &Request<'a>,
    hands: Hands<'_>,
) -> std::io::Result<(Device<'a>, Vec<Tally>)> {
    let limit = files.iter().map(|f| f.gap_limit()).fold(0.0, f64::max);
    let (roles, hold) = (&files[0].roles, files[0].hold);
    let shape = Shape::of(roles, limit, hold, Period::of(request));
    let mut device = Device::new(shape, request.calendar);
    let tallies = merge::stream(files, hands, &mut device)?;
    Ok((device, tallies))
}

fn keep_tallies(members: &[usize], tallies: Vec<Tally>, state: &mut State) {
    state.tallies.extend(members.iter().copied().zip(tallies));
}

fn stem(name: &str) -> String {
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    file.split('.').next().unwrap_or(file).to_owned()
}

/// The best channel of each role and controller: logged rather than put together, of the finer
/// step, of the log named sooner.
fn timeline(
    grid: Option<&Grid>,
    channels: &mut Vec<(Channel, bool)>,
    notes: &mut Vec<String>,
) -> Timeline {
    let Some(grid) = grid else {
        return Timeline::default();
    };
    let mut kept: Vec<(Channel, bool)> = Vec::new();
    let mut also = Vec::new();
    for (channel, derived) in channels.drain(..) {
        if channel.series.min.iter().all(|v| !v.is_finite()) {
            continue;
        }
        match kept
            .iter_mut()
            .find(|c| c.0.role == channel.role && c.0.controller == channel.controller)
        {
            None => kept.push((channel, derived)),
            Some((old, old_derived)) => {
                let better = if derived == *old_derived {
                    channel.step_s < old.step_s * 0.99
                } else {
                    *old_derived
                };
                let (win, lose) = if better {
                    (&channel.source, &old.source)
                } else {
                    (&old.source, &channel.source)
                };
                notes.push(format!(
                    "{}: taken from {win}; also in {lose}",
                    channel.role.name()
                ));
                let (spare, put_together) = if better {
                    let before = std::mem::replace(old_derived, derived);
                    (std::mem::replace(old, channel), before)
                } else {
                    (channel, derived)
                };
                // What is put together sees only its own device's loads: nothing to compare with.
                if !put_together {
                    also.push(spare);
                }
            }
        }
    }
    let arrays: Vec<Option<String>> = kept
        .iter()
        .filter(|c| c.0.role == Role::ArrayPower)
        .map(|c| c.0.controller.clone())
        .collect();
    // A power logged by another device of that side says more than a counter.
    kept.retain(|c| !c.0.counted || !arrays.contains(&c.0.controller));
    let mut channels: Vec<Channel> = kept.into_iter().map(|c| c.0).collect();
    channels.sort_by_key(|c| (c.role, c.controller.clone()));
    Timeline {
        start: grid.start,
        bin_s: grid.bin_s,
        bins: grid.bins,
        channels,
        also,
    }
}
