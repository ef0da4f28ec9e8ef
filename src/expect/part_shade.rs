//! Shade on the arrays of one controller beside others: often too small a part of the whole to be seen by the sum.
//! Cloud is over all of them, so that what one gives over what the others give hardly knows it: where that falls
//! with the sun's bearing, sharply and on several days, something stands before this one.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::design::Design;
use crate::expect::branch::Branch;
use crate::expect::dip::LOWEST_SUN_DEG;
use crate::expect::grid::Grid;
use crate::expect::offer::{Offer, PRODUCTIVE_DEG};
use crate::expect::regime::{Regime, beside_held};
use crate::expect::shade::{LEVEL_QUANTILE, SAME_EDGE_DEG, Shade, Shadow, sector, stop_of, turns};
use crate::expect::signals::Signals;
use crate::quantity::Interval;
use crate::stats::quantile::{median, quantile};

/// The others must show this share of a clear sky: a shadow takes the beam, and leaves the light of a grey sky.
const BRIGHT: f64 = 0.6;
/// Moments of a day in one shadow at least: half an hour.
const LEAST: usize = 6;
/// Under a clear sky each of them must offer this share of its brightest: in weaker light the zero errors of two
/// meters and the light at which each controller wakes make one of them look dark.
const WEAK: f64 = 0.2;
/// Moments that tell a day's own level: one hour.
const LEVEL: usize = 12;
/// Of the days that saw a bearing bright or dark, so many must have seen it dark, share.
const AGREE: f64 = 0.75;
/// Bearings across which an edge is sharp, in steps of [`SAME_EDGE_DEG`].
const SHARP: i32 = 2;

/// Adds the shadows on parts to those that the sum shows.
pub(super) fn add(
    shade: &mut Shade,
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    branches: &[Branch],
) {
    if branches.len() < 2 {
        return;
    }
    let stops: Vec<Option<usize>> = (0..grid.dates.len())
        .map(|day| stop_of(design, grid, day))
        .collect();
    let turns = turns(design, grid, offers);
    let mut known: Vec<usize> = stops.iter().flatten().copied().collect();
    known.sort_unstable();
    known.dedup();
    for (one, branch) in branches.iter().enumerate() {
        let beside = beside_others(grid, signals, offers, branches, one);
        for stop in &known {
            let days: Vec<usize> = (0..stops.len())
                .filter(|day| stops[*day] == Some(*stop))
                .collect();
            let place = Place {
                design,
                grid,
                offers,
                beside: &beside,
                turns: &turns,
                branch,
                stop: *stop,
                days,
            };
            for (shadow, moments) in place.shadows() {
                let under = |m: &&usize| shade.over(**m).is_some();
                if 2 * moments.iter().filter(under).count() <= moments.len() {
                    shade.add(shadow, &moments, grid.moments);
                }
            }
        }
    }
}

/// What a branch gave of its clear sky over what the others gave of theirs, at the day's own level; `None` where
/// not both followed a bright sun before their arrays.
fn beside_others(
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    branches: &[Branch],
    one: usize,
) -> Vec<Option<f64>> {
    let reach = signals.reach();
    let clear_w = |k: usize, m: usize| branches[k].clear_w(offers, m);
    let brightest = |k: usize| (0..grid.moments).map(|m| clear_w(k, m)).fold(0.0, f64::max);
    let least: Vec<f64> = (0..branches.len()).map(|k| WEAK * brightest(k)).collect();
    let of = |k: usize, m: usize| {
        let branch = &branches[k];
        let clear_w = clear_w(k, m);
        let follows = branch.regimes[m] == Regime::Following
            && branch.before[m]
            && !beside_held(&branch.regimes, m, reach)
            && branch.gave.coverage(m) > 0.8;
        (follows && clear_w > least[k]).then_some((branch.gave.mean(m)?, clear_w))
    };
    let mut beside: Vec<Option<f64>> = (0..grid.moments)
        .map(|m| {
            let (own, own_clear) =
                of(one, m).filter(|_| offers[m].elevation_deg >= LOWEST_SUN_DEG)?;
            let others = (0..branches.len()).filter(|k| *k != one);
            let (gave, clear_w) = others
                .filter_map(|k| of(k, m))
                .fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
            (gave > BRIGHT * clear_w).then(|| (own / own_clear) / (gave / clear_w))
        })
        .collect();
    let level = |moments: Range<usize>, beside: &[Option<f64>]| {
        let seen: Vec<f64> = moments.filter_map(|m| beside[m]).collect();
        (seen.len() >= LEVEL)
            .then(|| quantile(&seen, LEVEL_QUANTILE))
            .flatten()
    };
    let usual = level(0..grid.moments, &beside);
    for day in 0..grid.dates.len() {
        let own = level(grid.day(day), &beside).or(usual);
        for m in grid.day(day) {
            beside[m] = beside[m].zip(own).map(|(k, level)| k / level.max(1e-9));
        }
    }
    beside
}

/// One branch at one stop.
struct Place<'a> {
    design: &'a Design,
    grid: &'a Grid,
    offers: &'a [Offer],
    beside: &'a [Option<f64>],
    turns: &'a [f64],
    branch: &'a Branch,
    stop: usize,
    days: Vec<usize>,
}

/// What the days saw of one bearing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Bearing {
    Dark,
    Bright,
    Between,
}

impl Place<'_> {
    /// The shadows, with the moments they cover.
    fn shadows(&self) -> Vec<(Shadow, Vec<usize>)> {
        let bearings = self.bearings();
        let mut found = Vec::new();
        let mut dark: Vec<i32> = Vec::new();
        let last = bearings.keys().next_back().map_or(0, |k| k + 1);
        for (bearing, seen) in bearings
            .iter()
            .map(|(k, s)| (*k, *s))
            .chain([(last, Bearing::Between)])
        {
            if seen == Bearing::Dark && dark.last().is_none_or(|before| before + 1 == bearing) {
                dark.push(bearing);
                continue;
            }
            if let (Some(from), Some(to)) = (dark.first(), dark.last()) {
                found.extend(self.shadow(&bearings, *from..to + 1));
            }
            dark.clear();
            if seen == Bearing::Dark {
                dark.push(bearing);
            }
        }
        found
    }

    /// By bearing, in steps: whether the days saw it dark.
    fn bearings(&self) -> BTreeMap<i32, Bearing> {
        let judging = &self.design.judging;
        let mut days: BTreeMap<i32, (usize, usize, usize)> = BTreeMap::new();
        for day in &self.days {
            let mut seen: BTreeMap<i32, Vec<f64>> = BTreeMap::new();
            for m in self.grid.day(*day) {
                if let Some(beside) = self.beside[m] {
                    seen.entry(step(self.turns[m])).or_default().push(beside);
                }
            }
            for (bearing, levels) in seen {
                let level = median(&levels).unwrap_or(1.0);
                let count = days.entry(bearing).or_default();
                count.0 += usize::from(level < judging.shade_below);
                count.1 += usize::from(level > judging.shade_beside);
                count.2 += 1;
            }
        }
        let least = judging.shade_days as usize;
        let judged = |(dark, bright, all): (usize, usize, usize)| {
            let agrees = |some: usize| some as f64 >= AGREE * all as f64;
            match (
                dark >= least && agrees(dark),
                bright >= least && agrees(bright),
            ) {
                (true, _) => Bearing::Dark,
                (_, true) => Bearing::Bright,
                _ => Bearing::Between,
            }
        };
        days.into_iter()
            .map(|(k, count)| (k, judged(count)))
            .collect()
    }

    /// The shadow over dark bearings, where it has sharp edges: a limit of the controller bends its noon, and a
    /// full bank keeps it low until the evening.
    fn shadow(
        &self,
        bearings: &BTreeMap<i32, Bearing>,
        dark: Range<i32>,
    ) -> Option<(Shadow, Vec<usize>)> {
        let bright =
            |mut near: Range<i32>| near.any(|k| bearings.get(&k) == Some(&Bearing::Bright));
        let begins = bright(dark.start - SHARP - 1..dark.start);
        let ends = bright(dark.end..dark.end + SHARP + 1);
        let from_dawn = bearings
            .keys()
            .next()
            .is_some_and(|first| *first >= dark.start);
        if !(ends && (begins || from_dawn)) {
            return None;
        }
        let within = |m: &usize| dark.contains(&step(self.turns[*m]));
        let low = |m: &usize| self.beside[*m].is_some_and(|k| k < self.design.judging.shade_below);
        let mut shown_on = Vec::new();
        let mut dips = Vec::new();
        let mut left = Vec::new();
        for day in &self.days {
            let moments: Vec<usize> = self.grid.day(*day).filter(within).filter(low).collect();
            if let (Some(first), Some(last)) = (moments.first(), moments.last())
                && moments.len() >= LEAST
            {
                shown_on.push(*day);
                dips.push(self.out_to_bright(*first..last + 1));
                left.extend(moments.iter().filter_map(|m| self.beside[*m]));
            }
        }
        if shown_on.len() < self.design.judging.shade_days as usize {
            return None;
        }
        let covered = self.covered(&shown_on, &dips, within);
        let own = |share: f64| quantile(&left, share).unwrap_or(1.0);
        let part = dips.iter().flat_map(Clone::clone);
        let part: Vec<f64> = part.map(|m| f64::from(self.branch.share[m])).collect();
        let part = median(&part).unwrap_or(1.0);
        let of_whole = |share: f64| (1.0 - part * (1.0 - own(share))).clamp(0.0, 1.0);
        let edges = (
            f64::from(dark.start) * SAME_EDGE_DEG,
            f64::from(dark.end) * SAME_EDGE_DEG,
        );
        let spot = self.design.place.at(self.grid.time_of(dips[0].start));
        let shadow = Shadow {
            stop: self.stop,
            on: Some(self.branch.controller),
            shown_on,
            dips,
            sun_deg: sector(spot.latitude_deg, edges),
            left: Interval::new(of_whole(0.5), of_whole(0.05), of_whole(0.95)),
            open: !begins,
            refuted_on: 0,
        };
        Some((shadow, covered))
    }

    /// A dip with what of its edges is not bright, which the steps of bearings cut off.
    fn out_to_bright(&self, dip: Range<usize>) -> Range<usize> {
        let dull = |m: &usize| {
            let beside = self.beside.get(*m).copied().flatten();
            beside.is_some_and(|k| k < self.design.judging.shade_beside)
        };
        let before = (0..dip.start).rev().take(LEAST).take_while(dull).count();
        let after = (dip.end..).take(LEAST).take_while(dull).count();
        dip.start - before..dip.end + after
    }

    /// The moments in the shadow: as seen on the days that show it, by the sun's bearing on the others.
    fn covered(
        &self,
        shown_on: &[usize],
        dips: &[Range<usize>],
        within: impl Fn(&usize) -> bool,
    ) -> Vec<usize> {
        let of_day = |day: &usize| {
            let own = shown_on
                .iter()
                .position(|shown| shown == day)
                .map(|k| dips[k].clone());
            let bright =
                |m: usize| self.beside[m].is_some_and(|k| k > self.design.judging.shade_beside);
            let inside = |m: &usize| match &own {
                // A cloud may hide its edge.
                Some(dip) => dip.contains(m) || within(m) && !bright(*m),
                None => within(m),
            };
            let up = |m: &usize| self.offers[*m].elevation_deg > PRODUCTIVE_DEG;
            self.grid
                .day(*day)
                .filter(inside)
                .filter(up)
                .collect::<Vec<usize>>()
        };
        self.days.iter().flat_map(of_day).collect()
    }
}

/// The step of bearings that a turn from noon falls into.
fn step(turn_deg: f64) -> i32 {
    (turn_deg / SAME_EDGE_DEG).floor() as i32
}
