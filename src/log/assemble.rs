//! All files together: devices, one grid, one timeline.

use std::collections::BTreeMap;

use super::device::Device;
use super::fold::{Folder, Grid};
use super::inspection::{Inspection, Question, Skipped};
use super::merge::{self, Tally};
use super::survey::{self, Survey};
use super::totals::Totals;
use super::{DayTotal, ReadError, Reading, Request, describe, questions, source, suggest, unify};
use crate::mapping::Role;
use crate::tally::Measured;
use crate::timeline::{Channel, Sign, Timeline};

/// What is read for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    /// To reckon with: a file without a useful column is refused.
    Reckon,
    /// To be shown: such a file is shown with the question what its columns are.
    Show,
}

/// Reads everything asked for.
pub(super) fn assemble(request: &Request, how: Use) -> Result<Reading, ReadError> {
    let (mut surveys, skipped, digest) = survey_all(request, how)?;
    let groups = group(&mut surveys)?;
    let mut notes = sides(&mut surveys, &groups);
    let mut state = State::default();
    state.inspection.skipped = skipped;
    let grid = grid_over(&surveys, request)?;
    for members in &groups {
        fold(members, &surveys, grid.as_ref(), request, &mut state)?;
    }
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

/// Surveys every file: a bad one that was named ends it all, a bad one of a folder is passed over.
fn survey_all(
    request: &Request,
    how: Use,
) -> Result<(Vec<Survey>, Vec<Skipped>, source::Digest), ReadError> {
    let sources = source::expand(request)?;
    let mut digest = source::Digest::new();
    let mut skipped = Vec::new();
    let mut surveys = Vec::new();
    for source in sources {
        digest.bytes(source.name.as_bytes());
        let hashed = digest
            .file(&source.path)
            .map_err(|e| source::cannot(&source.name, &e).0);
        let named = source.named;
        let name = source.name.clone();
        let surveyed = match hashed {
            Ok(_) => survey::survey(source, request)
                .and_then(|found| questions::usable(found, how == Use::Show))
                .map_err(|why| format!("{name}: {why}")),
            Err(why) => Err(why),
        };
        match surveyed {
            Ok(found) => surveys.push(found),
            Err(why) if named => return Err(ReadError(why)),
            Err(why) => skipped.push(Skipped {
                file: name.clone(),
                why: why.trim_start_matches(&format!("{name}: ")).to_owned(),
            }),
        }
    }
    if surveys.is_empty() {
        let whys: Vec<String> = skipped
            .iter()
            .map(|s| format!("{}: {}", s.file, s.why))
            .collect();
        return Err(ReadError(format!(
            "none of the files can be read:\n{}",
            whys.join("\n")
        )));
    }
    Ok((surveys, skipped, digest))
}

/// What grows while devices are folded.
#[derive(Default)]
struct State {
    inspection: Inspection,
    /// Channels, and whether each is put together from others rather than logged.
    channels: Vec<(Channel, bool)>,
    metered: Vec<Measured>,
    totals: Vec<DayTotal>,
    tallies: BTreeMap<usize, Tally>,
    gaps: BTreeMap<usize, Vec<super::inspection::Gap>>,
    questions: BTreeMap<usize, Question>,
}

/// Files of the same device: same entry, same folder, same header (or as many columns without one).
fn group(surveys: &mut [Survey]) -> Result<Vec<Vec<usize>>, ReadError> {
    let mut groups: BTreeMap<(Option<usize>, String, Vec<String>), Vec<usize>> = BTreeMap::new();
    let mut order = Vec::new();
    for (k, s) in surveys.iter().enumerate() {
        let folder = s
            .source
            .path
            .parent()
            .map(|p| p.to_string_lossy().into_owned())
            .unwrap_or_default();
        let key = (s.source.entry, folder, s.layout.titles.clone());
        let members = groups.entry(key.clone()).or_default();
        if members.is_empty() {
            order.push(key);
        }
        members.push(k);
    }
    let groups: Vec<Vec<usize>> = order.iter().filter_map(|key| groups.remove(key)).collect();
    for members in groups.iter().filter(|m| m.len() > 1) {
        let name = surveys[members[0]].source.name.clone();
        let mut files: Vec<&mut Survey> = surveys
            .iter_mut()
            .enumerate()
            .filter(|(k, _)| members.contains(k))
            .map(|(_, s)| s)
            .collect();
        unify::unify(&mut files).map_err(|why| ReadError(format!("{name}: {why}")))?;
    }
    Ok(groups)
}

/// Next to a log of the bank's own current, a controller's battery voltage is that of its terminals.
fn sides(surveys: &mut [Survey], groups: &[Vec<usize>]) -> Vec<String> {
    let is_bank = |s: &Survey| {
        s.roles.has(Role::BatteryCurrent)
            && s.roles.has(Role::BatteryVoltage)
            && !s.roles.has_array()
    };
    let bank = groups
        .iter()
        .find(|g| is_bank(&surveys[g[0]]))
        .map(|g| surveys[g[0]].source.name.clone());
    let Some(bank) = bank else { return Vec::new() };
    let mut notes = Vec::new();
    for members in groups {
        let first = &surveys[members[0]].roles;
        let charger =
            first.has_array() || first.has(Role::ChargeCurrent) || first.has(Role::ChargePower);
        if !charger || is_bank(&surveys[members[0]]) {
            continue;
        }
        let renamed = members
            .iter()
            .filter(|k| {
                surveys[**k]
                    .roles
                    .rename(Role::BatteryVoltage, Role::ChargeVoltage)
            })
            .count();
        if renamed > 0 {
            notes.push(format!("{}: its battery voltage is the controller's (charge_voltage); the bank's own is in {bank}", surveys[members[0]].source.name));
        }
    }
    notes
}

/// The grid over all fine-grained logs, cut to the period; `None` where there are only daily ones.
fn grid_over(surveys: &[Survey], request: &Request) -> Result<Option<Grid>, ReadError> {
    let from = request
        .from
        .map_or(f64::NEG_INFINITY, |d| request.calendar.bounds(d).0 as f64);
    let to = request
        .to
        .map_or(f64::INFINITY, |d| request.calendar.bounds(d).1 as f64);
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
    Ok((low <= high).then(|| Grid::over(low, high, high == to, request.calendar)))
}

fn fold(
    members: &[usize],
    surveys: &[Survey],
    grid: Option<&Grid>,
    request: &Request,
    state: &mut State,
) -> Result<(), ReadError> {
    let files: Vec<&Survey> = members.iter().map(|k| &surveys[*k]).collect();
    let failed = |e: std::io::Error| source::cannot(&files[0].source.name, &e);
    if files[0].daily {
        let mut totals = Totals {
            request,
            roles: files[0].roles.uses.iter().map(|u| u.role).collect(),
            days: BTreeMap::new(),
        };
        let tallies = merge::stream(&files, &mut totals).map_err(failed)?;
        keep_tallies(members, tallies, state);
        state.totals.extend(totals.days.into_values());
        return Ok(());
    }
    let empty;
    let grid = match grid {
        Some(grid) => grid,
        None => {
            empty = Grid::over(0.0, 0.0, false, request.calendar);
            &empty
        }
    };
    let mut device = Device::new(&files, grid, request.calendar);
    let tallies = merge::stream(&files, &mut device).map_err(failed)?;
    ask_devices(members, &files, &tallies, state);
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
    for mut folder in device.folders.drain(..) {
        folder.flush();
        meter(&folder, &files, grid, &mut state.metered);
        let derived = device.signals.derived().contains(&folder.role);
        let channel = Channel {
            role: folder.role,
            controller: entry.and_then(|e| e.controller.clone()),
            source: label.clone(),
            step_s: step,
            sign: match folder.role {
                Role::BatteryCurrent | Role::BatteryPower => files[0].roles.sign,
                _ => Sign::AsWritten,
            },
            series: folder.series,
        };
        state.channels.push((channel, derived));
    }
    Ok(())
}

fn keep_tallies(members: &[usize], tallies: Vec<Tally>, state: &mut State) {
    state.tallies.extend(members.iter().copied().zip(tallies));
}

fn stem(name: &str) -> String {
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    file.split('.').next().unwrap_or(file).to_owned()
}

/// Whether a role is metered in Wh or in Ah.
fn unit(role: Role) -> Option<bool> {
    use Role::*;
    match role {
        BatteryPower | ArrayPower | ChargePower | LoadPower => Some(true),
        BatteryCurrent | ArrayCurrent | ChargeCurrent | LoadCurrent | OtherCurrent => Some(false),
        _ => None,
    }
}

fn meter(folder: &Folder, files: &[&Survey], grid: &Grid, metered: &mut Vec<Measured>) {
    let Some(energy) = unit(folder.role) else {
        return;
    };
    let row = |file: u32, date, sums: [f64; 3]| Measured {
        file: files[file as usize].source.name.clone(),
        role: folder.role.name().to_owned(),
        date,
        wh_in: energy.then_some(sums[0]),
        wh_out: energy.then_some(sums[1]),
        ah_in: (!energy).then_some(sums[0]),
        ah_out: (!energy).then_some(sums[1]),
        covered_h: sums[2] / 3600.0,
    };
    for file in 0..files.len() as u32 {
        let mut total = [0.0; 3];
        for ((_, day), sums) in folder.sums.range((file, 0)..=(file, u32::MAX)) {
            let date = grid.dates.get(*day as usize).map(ToString::to_string);
            metered.push(row(file, date, *sums));
            for (sum, new) in total.iter_mut().zip(sums) {
                *sum += new;
            }
        }
        metered.push(row(file, None, total));
    }
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

/// Files with the same columns that overlap in time and hardly ever agree are two devices.
fn ask_devices(members: &[usize], files: &[&Survey], tallies: &[Tally], state: &mut State) {
    for (k, (file, tally)) in files.iter().zip(tallies).enumerate() {
        let step = file.step.unwrap_or(60.0);
        for (other, _) in files.iter().zip(tallies).take(k) {
            let overlap = (file.last.min(other.last) - file.first.max(other.first)) / step;
            let merged = tallies
                .iter()
                .map(|t| t.merged)
                .sum::<u64>()
                .max(tally.merged);
            if overlap >= 12.0 && (merged as f64) < 0.2 * overlap {
                let text = format!(
                    "it has the same columns as {} and overlaps it in time with different readings: two devices?",
                    other.source.name
                );
                let settle = format!(
                    "files = \"{}\"   # an entry for each, with name or controller",
                    file.source.name
                );
                state.questions.insert(
                    members[k],
                    Question {
                        text,
                        settle,
                        blocking: true,
                    },
                );
            }
        }
    }
}
