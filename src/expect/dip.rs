//! Dips of one day: stretches in which the output falls well below the clear-sky curve while the sky
//! beside them is clear, with sharp edges. A single one is shade or a bank of cloud; [`super::shade`]
//! asks which of them come back.

use std::ops::Range;

use crate::design::judging::Judging;
use crate::expect::offer::Offer;
use crate::expect::regime::Regime;
use crate::physics::sky::model_band;
use crate::stats::quantile::{mean, median};

/// Below this height of the sun the horizon and the haze rule, degrees.
pub(super) const LOWEST_SUN_DEG: f64 = 8.0;
/// Moments in a dip at least: 20 minutes.
const LEAST: usize = 4;
/// An edge is sharp when the output changes over within so many moments: 20 minutes (trade reference 9.2).
const EDGE: usize = 4;
/// Moments beside an edge that must be clear: half an hour,
const BESIDE: usize = 6;
/// of which so many at least must have been watched.
const BESIDE_LEAST: usize = 4;
/// A dip without a second edge, up to or from the low sun, must last so many moments: one hour,
const OPEN_LEAST: usize = 12;
/// and its one edge must stand with the sun above this height, degrees: below, haze and lean do the same.
const OPEN_EDGE_DEG: f64 = 15.0;

/// A dip covers at most this share of the moments of a day whose sun is not low: what lies over most of a
/// day between its dawn and its dusk is an even cloud, or nothing that can be told from one.
const MOST_OF_DAY: f64 = 0.6;

/// So many moments beside the low sun may go unwatched: a quarter of an hour.
const UNWATCHED: usize = 3;

/// How a dip is bounded on one side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    /// A sharp edge with a clear sky beside it.
    Sharp,
    /// It goes on until the sun is low.
    Open,
}

/// One dip.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Dip {
    /// Moments from the last clear one before to the first clear one after, exclusive.
    pub(super) span: Range<usize>,
    /// How it begins and ends.
    pub(super) edges: (Edge, Edge),
    /// What was left in it of the output beside it, share.
    pub(super) left: f64,
}

/// What one day shows: output over the clear-sky curve at the array's own level, moment by moment.
pub(super) struct Watched<'a> {
    /// Ratio of each moment of the grid; `None` where it measures no sky.
    pub(super) ratio: &'a [Option<f64>],
    /// Clear-sky offers.
    pub(super) offers: &'a [Offer],
    /// What ruled each moment.
    pub(super) regimes: &'a [Regime],
    /// The thresholds.
    pub(super) judging: &'a Judging,
}

impl Watched<'_> {
    /// Whether a moment is darker than any clear sky, whatever the haze of its sun's height.
    fn is_low(&self, m: usize) -> bool {
        self.upper(m).is_some_and(|k| k < self.judging.shade_below)
    }

    /// Whether a moment may be one of a clear sky, within the haze of its sun's height.
    pub(super) fn is_high(&self, m: usize) -> bool {
        self.upper(m).is_some_and(|k| k > self.judging.shade_beside)
    }

    fn upper(&self, m: usize) -> Option<f64> {
        let ratio = (*self.ratio.get(m)?)?;
        Some(ratio * (1.0 + model_band(self.offers[m].elevation_deg)))
    }

    /// The dips among the moments of one day.
    pub(super) fn dips(&self, day: Range<usize>) -> Vec<Dip> {
        let mut found = Vec::new();
        let mut at = day.start;
        while at < day.end {
            if !self.is_low(at) {
                at += 1;
                continue;
            }
            let from = at;
            // A single moment that is neither low nor clear does not end a dip.
            while at < day.end && (self.is_low(at) || self.is_passing(at)) {
                at += 1;
            }
            found.extend(self.dip(&day, from..at));
        }
        found
    }

    fn is_passing(&self, m: usize) -> bool {
        self.upper(m).is_some() && !self.is_high(m) && self.is_low(m + 1)
    }

    fn dip(&self, day: &Range<usize>, low: Range<usize>) -> Option<Dip> {
        if low.len() < LEAST || self.is_most_of(day, &low) {
            return None;
        }
        let before = self.edge(low.start, &mut (day.start..low.start).rev());
        let after = self.edge(low.end - 1, &mut (low.end..day.end));
        let (before, after) = (before?, after?);
        let open = [before.kind, after.kind].contains(&Edge::Open);
        if open && !self.open_holds(day, &low, &before, &after) {
            return None;
        }
        let inside: Vec<f64> = low.clone().filter_map(|m| self.ratio[m]).collect();
        let beside: Vec<f64> = [before.beside, after.beside]
            .into_iter()
            .flatten()
            .collect();
        Some(Dip {
            span: before.reach.map_or(low.start, |m| m + 1)..after.reach.unwrap_or(low.end),
            edges: (before.kind, after.kind),
            left: (median(&inside)? / mean(&beside)?).clamp(0.0, 1.0),
        })
    }

    fn is_most_of(&self, day: &Range<usize>, low: &Range<usize>) -> bool {
        let up = day
            .clone()
            .filter(|m| self.offers[*m].elevation_deg >= LOWEST_SUN_DEG)
            .count();
        low.len() as f64 > MOST_OF_DAY * up as f64
    }

    /// What is asked of a dip with one edge only: that it is long, begins or ends at a good height of
    /// the sun, and that no full bank earlier in the day explains an end that never comes.
    fn open_holds(
        &self,
        day: &Range<usize>,
        low: &Range<usize>,
        before: &Side,
        after: &Side,
    ) -> bool {
        let edge_at = match (before.kind, after.kind) {
            (Edge::Open, Edge::Open) => return false,
            (Edge::Open, _) => low.end - 1,
            _ => low.start,
        };
        let held_before = (day.start..low.start).any(|m| {
            matches!(
                self.regimes[m],
                Regime::Held | Regime::Limited | Regime::Refused
            )
        });
        low.len() >= OPEN_LEAST
            && self.offers[edge_at].elevation_deg >= OPEN_EDGE_DEG
            && !(after.kind == Edge::Open && held_before)
    }

    /// The edge met when going from `at`, the last low moment, outward.
    fn edge(&self, at: usize, outward: &mut dyn Iterator<Item = usize>) -> Option<Side> {
        let path: Vec<usize> = outward.collect();
        for (i, m) in path.iter().enumerate().take(EDGE + 1) {
            if self.upper(*m).is_none() {
                break;
            }
            if self.is_high(*m) {
                return self.sharp(*m, &path[i..]);
            }
        }
        self.open(at, &path)
    }

    fn sharp(&self, first: usize, path: &[usize]) -> Option<Side> {
        let beside: Vec<usize> = path
            .iter()
            .copied()
            .take(BESIDE)
            .take_while(|m| self.upper(*m).is_some())
            .collect();
        let clear = beside.iter().filter(|m| self.is_high(**m)).count();
        if beside.len() < BESIDE_LEAST || 4 * clear < 3 * beside.len() {
            return None;
        }
        let levels: Vec<f64> = beside.iter().filter_map(|m| self.ratio[*m]).collect();
        Some(Side {
            kind: Edge::Sharp,
            reach: Some(first),
            beside: median(&levels),
        })
    }

    /// No clear moment any more until the sun is low, and hardly a moment unwatched.
    fn open(&self, at: usize, path: &[usize]) -> Option<Side> {
        let rest: Vec<usize> = path
            .iter()
            .copied()
            .take_while(|m| self.offers[*m].elevation_deg >= LOWEST_SUN_DEG)
            .collect();
        let watched = rest.iter().filter(|m| self.upper(**m).is_some()).count();
        let unwatched = rest.len() - watched;
        if rest.iter().any(|m| self.is_high(*m)) || unwatched > (rest.len() / 5).max(UNWATCHED) {
            return None;
        }
        let lowest = rest.last().copied().unwrap_or(at);
        let before = path.first().is_some_and(|next| *next < at);
        Some(Side {
            kind: Edge::Open,
            reach: Some(if before {
                lowest.saturating_sub(1)
            } else {
                lowest + 1
            }),
            beside: None,
        })
    }
}

/// One side of a dip.
struct Side {
    kind: Edge,
    /// The first moment outside.
    reach: Option<usize>,
    /// Level of the clear sky beside it.
    beside: Option<f64>,
}
