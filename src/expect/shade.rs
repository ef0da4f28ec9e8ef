//! Shade told from cloud by the sun's direction: dips that come back at the same bearing of the sun,
//! on several days at one stop.
//!
//! Cloud keeps to no bearing, a full bank holds a voltage, a clock that is wrong bends the whole day
//! without a sharp edge. What stays put and returns with the sun stands between the two.

use std::ops::Range;

use crate::design::Design;
use crate::expect::clear::{self, Clear};
use crate::expect::dip::{Dip, Edge, LOWEST_SUN_DEG, Watched};
use crate::expect::grid::Grid;
use crate::expect::offer::{Offer, PRODUCTIVE_DEG};
use crate::expect::regime::{Regime, beside_held};
use crate::expect::signals::Signals;
use crate::quantity::Interval;
use crate::stats::quantile::{median, quantile};

/// Edges this far apart are one edge, degrees of the sun's bearing (trade reference 9.2: bins of 5 to 10).
pub(super) const SAME_EDGE_DEG: f64 = 5.0;
/// This share of the moments well inside a dip, seen bright on another day, refutes it there.
const REFUTED_BY: f64 = 0.25;
/// A day's own level is this quantile of its clear moments, so that hours in shade do not set it.
pub(super) const LEVEL_QUANTILE: f64 = 0.8;

/// A shadow that came back.
#[derive(Debug, Clone, PartialEq)]
pub struct Shadow {
    /// Stop at which it falls: 0 the base, then the legs.
    pub stop: usize,
    /// The controller whose arrays alone it falls on, by its place in the design; `None` where all of them show it.
    pub on: Option<usize>,
    /// Days on which a clear sky showed it, indices into the grid's dates.
    pub shown_on: Vec<usize>,
    /// The moments of each of those days that it covered.
    pub dips: Vec<Range<usize>>,
    /// Bearing of the sun from which and to which it falls, clockwise, degrees.
    pub sun_deg: (f64, f64),
    /// What it leaves of the output under a clear sky, share.
    pub left: Interval,
    /// Whether it has no second edge: it lasts from or to the low sun.
    pub open: bool,
    /// Days at that stop on which the same bearing was seen bright.
    pub refuted_on: usize,
}

/// All shadows, and which moments they cover.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shade {
    /// The shadows.
    pub shadows: Vec<Shadow>,
    /// The shadow over each moment; empty where there is none at all.
    over: Vec<Option<usize>>,
}

impl Shade {
    /// The shadow over a moment, as an index into the list.
    pub fn over(&self, moment: usize) -> Option<usize> {
        self.over.get(moment).copied().flatten()
    }

    /// The controller whose arrays alone are in a shadow in a moment.
    pub fn on_part(&self, moment: usize) -> Option<usize> {
        self.shadows[self.over(moment)?].on
    }

    /// Adds a shadow over some moments, as far as no other lies over them.
    pub(super) fn add(&mut self, shadow: Shadow, moments: &[usize], of_grid: usize) {
        if self.over.is_empty() {
            self.over = vec![None; of_grid];
        }
        let id = self.shadows.len();
        for m in moments {
            let over = &mut self.over[*m];
            *over = over.or(Some(id));
        }
        self.shadows.push(shadow);
    }
}

/// A dip and the bearings of its edges, as turned from noon: rising through the day on both hemispheres.
struct Seen {
    day: usize,
    dip: Dip,
    turns: (f64, f64),
    /// How far the sun turns in a moment at each edge, degrees.
    moves: (f64, f64),
}

/// Finds the shadows. `first` are the clear moments as found before anything is known of shade.
pub fn find(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    regimes: &[Regime],
    first: &Clear,
) -> Shade {
    let Some(ratio) = levelled(design, grid, signals, offers, regimes, first) else {
        return Shade::default();
    };
    let watched = Watched {
        ratio: &ratio,
        offers,
        regimes,
        judging: &design.judging,
    };
    let stops: Vec<Option<usize>> = (0..grid.dates.len())
        .map(|day| stop_of(design, grid, day))
        .collect();
    let turns = turns(design, grid, offers);
    let mut shade = Shade::default();
    let mut known: Vec<usize> = stops.iter().flatten().copied().collect();
    known.sort_unstable();
    known.dedup();
    for stop in known {
        let days: Vec<usize> = (0..stops.len())
            .filter(|d| stops[*d] == Some(stop))
            .collect();
        let place = Stop {
            stop,
            days: &days,
            grid,
            watched: &watched,
            turns: &turns,
        };
        place.shadows(&mut shade);
    }
    shade
}

/// Output over the clear-sky curve at the day's own level; `None` without a harvest or a clear hour.
fn levelled(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    regimes: &[Regime],
    first: &Clear,
) -> Option<Vec<Option<f64>>> {
    let harvest = signals.harvest.as_ref()?;
    let least = 0.03 * design.array_w();
    let mut ratio: Vec<Option<f64>> = (0..grid.moments)
        .map(|m| {
            let measures = regimes[m] == Regime::Following
                && !beside_held(regimes, m, signals.reach())
                && harvest.coverage(m) > 0.8
                && offers[m].elevation_deg >= LOWEST_SUN_DEG
                && offers[m].output_w > least;
            measures.then(|| harvest.mean(m).map(|w| w / offers[m].output_w))?
        })
        .collect();
    let mut any = false;
    for day in 0..grid.dates.len() {
        let own: Vec<f64> = grid
            .day(day)
            .filter(|m| first.clear[*m])
            .filter_map(|m| ratio[m])
            .collect();
        let level = (own.len() >= clear::DAY_MIN)
            .then(|| quantile(&own, LEVEL_QUANTILE))
            .flatten();
        any |= level.is_some();
        let level = level.unwrap_or(first.reference.value);
        for m in grid.day(day) {
            ratio[m] = ratio[m].map(|k| k / level);
        }
    }
    any.then_some(ratio)
}

/// The stop of a day; `None` on a day that has two.
pub(super) fn stop_of(design: &Design, grid: &Grid, day: usize) -> Option<usize> {
    let moments = grid.day(day);
    let from = design.place.stop_at(grid.time_of(moments.start));
    let to = design.place.stop_at(grid.time_of(moments.end) - 1);
    (from == to).then_some(from)
}

/// The sun's bearing as turned from noon, degrees: minus in the morning, plus in the afternoon.
pub(super) fn turns(design: &Design, grid: &Grid, offers: &[Offer]) -> Vec<f64> {
    (0..grid.moments)
        .map(|m| {
            let spot = design.place.at(grid.time_of(m));
            turned(spot.latitude_deg, offers[m].azimuth_deg)
        })
        .collect()
}

fn turned(latitude_deg: f64, azimuth_deg: f64) -> f64 {
    let from_noon = if latitude_deg >= 0.0 {
        azimuth_deg - 180.0
    } else {
        -azimuth_deg
    };
    (from_noon + 180.0).rem_euclid(360.0) - 180.0
}

/// The clockwise sector of bearings between two turns.
pub(super) fn sector(latitude_deg: f64, turns: (f64, f64)) -> (f64, f64) {
    if latitude_deg >= 0.0 {
        (
            (turns.0 + 180.0).rem_euclid(360.0),
            (turns.1 + 180.0).rem_euclid(360.0),
        )
    } else {
        ((-turns.1).rem_euclid(360.0), (-turns.0).rem_euclid(360.0))
    }
}

/// What a day says about a shadow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Says {
    Shows,
    Refutes,
    Nothing,
}

/// One stop and its days.
struct Stop<'a> {
    stop: usize,
    days: &'a [usize],
    grid: &'a Grid,
    watched: &'a Watched<'a>,
    turns: &'a [f64],
}

impl Stop<'_> {
    fn shadows(&self, shade: &mut Shade) {
        let mut seen: Vec<Seen> = self
            .days
            .iter()
            .flat_map(|day| {
                let dips = self.watched.dips(self.grid.day(*day));
                dips.into_iter().map(|dip| self.seen(*day, dip))
            })
            .collect();
        let least = self.watched.judging.shade_days as usize;
        while let Some(group) = best_group(&seen, least) {
            self.judge_group(&seen, &group, shade);
            let mut at = 0;
            seen.retain(|_| {
                at += 1;
                !group.contains(&(at - 1))
            });
        }
    }

    fn seen(&self, day: usize, dip: Dip) -> Seen {
        let edge = |m: usize| {
            let before = m.saturating_sub(1);
            let at = m.min(self.turns.len() - 1);
            let turn = |m: usize| self.turns[m];
            (
                (turn(before) + turn(at)) / 2.0,
                (turn(at) - turn(before)).abs(),
            )
        };
        let (from, to) = (edge(dip.span.start), edge(dip.span.end));
        Seen {
            day,
            dip,
            turns: (from.0, to.0),
            moves: (from.1, to.1),
        }
    }

    /// Splits a group's days where other days refute it, and keeps the runs that are long enough.
    fn judge_group(&self, seen: &[Seen], group: &[usize], shade: &mut Shade) {
        let members: Vec<&Seen> = group.iter().map(|i| &seen[*i]).collect();
        let middle = |pick: fn(&Seen) -> f64| {
            let all: Vec<f64> = members.iter().map(|s| pick(s)).collect();
            median(&all).unwrap_or(0.0)
        };
        let turns = (middle(|s| s.turns.0), middle(|s| s.turns.1));
        let says: Vec<Says> = self
            .days
            .iter()
            .map(|day| {
                if members.iter().any(|s| s.day == *day) {
                    Says::Shows
                } else if self.refutes(*day, turns) {
                    Says::Refutes
                } else {
                    Says::Nothing
                }
            })
            .collect();
        let refuted_on = says.iter().filter(|s| **s == Says::Refutes).count();
        let open = members[0].dip.edges != (Edge::Sharp, Edge::Sharp);
        // What is contradicted elsewhere at the stop, or has one edge only, takes a day more.
        let least = self.watched.judging.shade_days as usize
            + usize::from(refuted_on > 0)
            + usize::from(open);
        let mut from = 0;
        for run in says.split(|s| *s == Says::Refutes) {
            let days = &self.days[from..from + run.len()];
            from += run.len() + 1;
            let shown: Vec<&Seen> = members
                .iter()
                .filter(|s| days.contains(&s.day))
                .copied()
                .collect();
            if shown.len() >= least {
                self.cover(days, turns, &shown, shade);
                shade
                    .shadows
                    .push(self.shadow(turns, &shown, open, refuted_on));
            }
        }
    }

    /// Whether a day saw the middle of these bearings bright.
    fn refutes(&self, day: usize, turns: (f64, f64)) -> bool {
        let margin = 0.2 * (turns.1 - turns.0);
        let core: Vec<usize> = self
            .grid
            .day(day)
            .filter(|m| self.turns[*m] >= turns.0 + margin && self.turns[*m] < turns.1 - margin)
            .filter(|m| self.watched.offers[*m].elevation_deg >= LOWEST_SUN_DEG)
            .collect();
        let bright = core.iter().filter(|m| self.watched.is_high(**m)).count();
        bright >= 2 && bright as f64 >= REFUTED_BY * core.len() as f64
    }

    /// Marks the moments it covers: as seen on the days that show it, by bearing on the others.
    fn cover(&self, days: &[usize], turns: (f64, f64), shown: &[&Seen], shade: &mut Shade) {
        let id = shade.shadows.len();
        if shade.over.is_empty() {
            shade.over = vec![None; self.grid.moments];
        }
        for day in days {
            let own = shown
                .iter()
                .find(|s| s.day == *day)
                .map(|s| s.dip.span.clone());
            for m in self.grid.day(*day) {
                let inside = match &own {
                    Some(span) => span.contains(&m),
                    None => {
                        (turns.0..turns.1).contains(&self.turns[m])
                            && self.watched.offers[m].elevation_deg > PRODUCTIVE_DEG
                    }
                };
                if inside && shade.over[m].is_none() {
                    shade.over[m] = Some(id);
                }
            }
        }
    }

    fn shadow(&self, turns: (f64, f64), shown: &[&Seen], open: bool, refuted_on: usize) -> Shadow {
        let left: Vec<f64> = shown.iter().map(|s| s.dip.left).collect();
        let of = |share: f64| quantile(&left, share).unwrap_or(1.0);
        Shadow {
            stop: self.stop,
            on: None,
            shown_on: shown.iter().map(|s| s.day).collect(),
            dips: shown.iter().map(|s| s.dip.span.clone()).collect(),
            sun_deg: sector(self.latitude(shown), turns),
            left: Interval::new(of(0.5), of(0.05), of(0.95)),
            open,
            refuted_on,
        }
    }

    /// Hemisphere of the stop, by the way its bearings were turned.
    fn latitude(&self, shown: &[&Seen]) -> f64 {
        let m = shown.first().map_or(0, |s| s.dip.span.start);
        let azimuth = self.watched.offers[m].azimuth_deg;
        if (turned(1.0, azimuth) - self.turns[m]).abs() < 1e-9 {
            1.0
        } else {
            -1.0
        }
    }
}

/// The dips that most days share, one a day; `None` where no dip is shared by enough of them.
fn best_group(seen: &[Seen], least: usize) -> Option<Vec<usize>> {
    let mut best: Vec<usize> = Vec::new();
    for seed in seen {
        let mut group: Vec<usize> = Vec::new();
        for (i, other) in seen.iter().enumerate() {
            if group.last().is_none_or(|last| seen[*last].day != other.day) && is_same(seed, other)
            {
                group.push(i);
            }
        }
        if group.len() > best.len() {
            best = group;
        }
    }
    (best.len() >= least.max(1)).then_some(best)
}

fn is_same(a: &Seen, b: &Seen) -> bool {
    let near = |x: f64, y: f64, moves: f64| (x - y).abs() <= SAME_EDGE_DEG + moves;
    let begins =
        a.dip.edges.0 == Edge::Open || near(a.turns.0, b.turns.0, a.moves.0.max(b.moves.0));
    let ends = a.dip.edges.1 == Edge::Open || near(a.turns.1, b.turns.1, a.moves.1.max(b.moves.1));
    let common = a.turns.1.min(b.turns.1) - a.turns.0.max(b.turns.0);
    let whole = a.turns.1.max(b.turns.1) - a.turns.0.min(b.turns.0);
    a.dip.edges == b.dip.edges && begins && ends && 2.0 * common >= whole
}
