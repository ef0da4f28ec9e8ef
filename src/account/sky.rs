//! How much of the clear sky there was in moments that did not measure it.
//!
//! Between measuring moments the sky's share is drawn as a straight line; away from them it drifts
//! with a persistence of some hours towards what is usual for a day like this one, and its interval
//! widens. What is usual is the trip's sky, moved towards the day's own by as much as one part of a day
//! foretells another: days are of one kind more often than not.

use crate::account::episode::{self, Of};
use crate::account::{Loads, Reduction};
use crate::design::Design;
use crate::expect::regime::beside_held;
use crate::expect::{Expectation, Regime};
use crate::quantity::Interval;
use crate::stats::quantile::quantile;
use crate::stats::student::Z90;

mod beside_ruled;
mod estimate;
mod kinship;
mod metered;

use beside_ruled::BesideRuled;
use estimate::Estimate;
use kinship::Kinship;
use metered::Metered;

/// How long a sky stays like itself, hours: clear and overcast spells alike last some hours.
pub const PERSISTENCE_H: f64 = 4.0;
/// Neighbours within this time carry the value alone (trade reference: 60 min).
const NEAR_H: f64 = 1.0;
/// What each hour beyond that adds to the half-width between two neighbours, share: the drift towards
/// the usual sky that [`PERSISTENCE_H`] makes of a usual difference of a third, at the middle.
const FURTHER: f64 = 0.04;
/// What is kept of a squared error after twice that is not counted: the other side is another day.
const FORGOTTEN: f64 = 0.02;
/// Share of a clear day under the dullest of skies, but for one day in twenty.
const DULLEST: f64 = 0.15;
/// What lies below the end of a 90 % range, share.
const ONE_IN_TWENTY: f64 = 0.05;
/// Moments of a spell: two hours.
const SPELL: usize = 24;
/// How far half an hour's mean may be from the sky it stands for, share.
const SEEN: f64 = 0.05;
/// Fewest measuring moments that tell what half a day was like: an hour.
const HALF: usize = 12;
/// Fewest spells that tell what is usual of spells.
const LEAST_SPELLS: usize = 12;
/// Least share of a clear sky by day once the sun is up: ordinary haze (trade reference 2.3: 5 %).
const CLEAR_SHARE: f64 = 0.95;
/// Highest share of the clear sky over five minutes (trade reference: 1.2; cloud edges).
pub const CAP: f64 = 1.2;

/// The sky's share of the clear sky by moment, as far as measured, and what is usual on this trip.
#[derive(Debug, Clone, PartialEq)]
pub struct Sky {
    /// Share by moment; `None` where the moment did not measure the sun.
    seen: Vec<Option<f64>>,
    /// The trip's own: mean, and the 5 and 95 % points of its spells.
    usual: Interval,
    /// What a day may have been of which nothing was seen.
    unseen: Interval,
    /// Mean share of each day's measuring moments, weighted with the sun's strength; `None` with less than an hour.
    by_day: Vec<Option<f64>>,
    /// How far one part of a day foretells another.
    kinship: Kinship,
    /// Day of each moment.
    day_of: Vec<u32>,
    step_h: f64,
    /// The moments that measured the sun, ascending.
    measuring: Vec<u32>,
    /// Shares of moments in which no limit of the controller could have hidden a brighter sky, ascending.
    free: Vec<f32>,
    /// What an instrument in the log shows.
    metered: Option<Metered>,
    /// Moments under a shadow that comes back, or without any output.
    between: Vec<bool>,
    /// How far each share seen may be off, where the harvest is an estimate or one controller tells it for
    /// another; empty where neither is so.
    unsure: Vec<f32>,
    /// Whether the harvest is an estimate.
    estimated: bool,
}

/// A half hour of sky near a moment that did not measure it.
#[derive(Debug, Clone, Copy)]
struct Neighbour {
    /// Its mean share.
    share: f64,
    /// How far off it is, hours.
    hours: f64,
    /// Half its range: a sky that changed by so much in half an hour may do so in the next.
    unsteady: f64,
}

impl Sky {
    /// Reads the sky off the moments that followed the sun, or off those that no controller is known to
    /// have held, where the harvest is estimated from the bank's side.
    pub fn new(
        design: &Design,
        expected: &Expectation,
        loads: &Loads,
        reductions: &[Reduction],
    ) -> Self {
        let healthy = expected.clear.healthy;
        let estimate = Estimate::of(expected, loads);
        let estimated = estimate.is_some();
        let grid = &expected.grid;
        let mut seen: Vec<Option<f64>> = (0..expected.grid.moments)
            .map(|m| {
                let offer = &expected.offers[m];
                if let Some(estimate) = &estimate {
                    return estimate.share(m);
                }
                let harvest = expected.signals.harvest.as_ref()?;
                let measures = expected.regimes[m] == Regime::Following
                    && !beside_held(&expected.regimes, m, expected.signals.reach())
                    && expected.shade.over(m).is_none()
                    && harvest.coverage(m) > 0.5
                    && offer.elevation_deg > 8.0
                    && offer.output_w > 0.0;
                if !measures {
                    return None;
                }
                let ratio = harvest.mean(m)? / (offer.output_w * healthy);
                let share = (ratio / day_level(expected, reductions, m)).clamp(0.0, CAP);
                // At a low sun haze takes more than it will at noon; a sky found clear by its
                // steadiness is a clear sky, whatever its share just then.
                let hazy = episode::is_hazy(expected, grid.day_of(m));
                Some(if expected.clear.clear[m] && !hazy {
                    share.max(CLEAR_SHARE)
                } else {
                    share
                })
            })
            .collect();
        let well = |m: usize| episode::left_on(reductions, grid.day_of(m)).value >= 1.0;
        let beside = BesideRuled::of(expected, &seen, design.battery.full_current_a)
            .map(|b| b.shares(expected, well));
        let mut unsure = estimate.map_or_else(Vec::new, |e| e.unsure());
        if let Some(shares) = &beside {
            unsure = vec![0.0; seen.len()];
            for (m, share) in shares.iter().enumerate() {
                if let Some(share) = share {
                    seen[m] = Some(share.value);
                    unsure[m] = share.half_width() as f32;
                }
            }
        }
        let day_of = (0..grid.dates.len())
            .flat_map(|day| std::iter::repeat_n(day as u32, grid.day(day).len()))
            .collect();
        let by_day: Vec<Option<f64>> = (0..grid.dates.len())
            .map(|day| day_mean(expected, &seen, day))
            .collect();
        let usual = usual(&seen, &by_day, &spells(expected, &seen));
        let measuring = (0..grid.moments as u32)
            .filter(|m| seen[*m as usize].is_some())
            .collect();
        Self {
            kinship: Kinship::of(&halves(expected, &seen)),
            metered: Metered::of(expected, &seen),
            free: free(expected, &seen),
            seen,
            unseen: unseen(&usual, by_day.iter().flatten().count()),
            usual,
            by_day,
            day_of,
            step_h: expected.grid.step_h(),
            measuring,
            unsure,
            estimated,
            between: (0..grid.moments)
                .map(|m| {
                    expected.shade.over(m).is_some() || expected.regimes[m] == Regime::Disconnected
                })
                .collect(),
        }
    }

    /// Whether an instrument in the log shows it.
    pub fn is_metered(&self) -> bool {
        self.metered.is_some()
    }

    /// The share of the clear sky at a moment, with its interval.
    pub fn share(&self, moment: usize) -> Interval {
        if let Some(seen) = self.seen[moment] {
            let off = self.unsure_at(moment);
            // What a load may have hidden of an estimated harvest is reckoned with in Wh.
            return match self.told_by_another(moment) {
                true => clamped(seen, seen - off, seen + off),
                false => Interval::exact(seen),
            };
        }
        if let Some(shown) = self.metered.as_ref().and_then(|m| m.share(moment)) {
            return shown;
        }
        let (before, after) = self.beside(moment);
        let left = self.neighbour(moment, before);
        let right = self.neighbour(moment, after);
        match (left, right) {
            (Some(l), Some(r)) if l.hours + r.hours <= self.reach_h(moment) => {
                let weight = r.hours / (l.hours + r.hours).max(self.step_h);
                let value = l.share * weight + r.share * (1.0 - weight);
                let further = (l.hours + r.hours - 2.0 * NEAR_H).max(0.0);
                let spread = 0.04 + 0.5 * (l.share - r.share).abs() + FURTHER * further;
                let spread = spread.hypot(l.unsteady.max(r.unsteady));
                clamped(value, value - spread, value + spread)
            }
            (Some(l), Some(r)) => self.drift(moment, if l.hours <= r.hours { l } else { r }),
            (Some(one), None) | (None, Some(one)) => self.drift(moment, one),
            (None, None) => self.unseen,
        }
    }

    /// How far what is wrong with the clear sky's curve at a moment may be another error than in the hours that
    /// measured it on both sides, share of it: the variance left between two known values of a figure that
    /// forgets itself over [`PERSISTENCE_H`]. Beyond the last hour measured nothing says where it goes.
    pub fn apart(&self, moment: usize) -> f64 {
        if self.seen[moment].is_some() {
            return 0.0;
        }
        let (Some(before), Some(after)) = self.beside(moment) else {
            return 1.0;
        };
        let kept = |at: usize| {
            let hours = at.abs_diff(moment) as f64 * self.step_h;
            (-2.0 * hours / PERSISTENCE_H).exp()
        };
        let (before, after) = (kept(before), kept(after));
        if before.min(after) < FORGOTTEN {
            return 1.0;
        }
        let both = before * after;
        (1.0 - (before + after - 2.0 * both) / (1.0 - both).max(1e-9))
            .max(0.0)
            .sqrt()
    }

    /// The measuring moments that a moment's share is read off, as far as they are near enough to say anything.
    pub fn read_from(&self, moment: usize) -> impl Iterator<Item = usize> {
        let (before, after) = self.beside(moment);
        let near = move |m: &usize| m.abs_diff(moment) as f64 * self.step_h <= 2.0 * PERSISTENCE_H;
        [before, after].into_iter().flatten().filter(near)
    }

    /// The nearest measuring moments before and after.
    fn beside(&self, moment: usize) -> (Option<usize>, Option<usize>) {
        let next = self.measuring.partition_point(|m| (*m as usize) < moment);
        let measuring = |place: Option<usize>| self.measuring.get(place?).map(|m| *m as usize);
        (measuring(next.checked_sub(1)), measuring(Some(next)))
    }

    /// The share at a moment at the controller's limit, which takes at least `least` of a clear sky. The
    /// hours beside it show the clouds that brought it down; what was above them is told by the trip's
    /// hours that no limit touched, as far as they were as bright.
    pub fn above(&self, moment: usize, least: f64) -> Interval {
        let beside = self.share(moment);
        if self.told_by_another(moment) {
            return Interval::new(
                beside.value.max(least),
                beside.low.max(least),
                beside.high.max(least),
            );
        }
        let brighter = &self.free[self.free.partition_point(|share| f64::from(*share) < least)..];
        let (value, high) = if brighter.len() < HALF {
            (f64::midpoint(least, least.max(1.0)), least.max(1.0))
        } else {
            let sum: f64 = brighter.iter().map(|share| f64::from(*share)).sum();
            let last = brighter.len() - 1;
            let high = brighter[(last as f64 * 0.95) as usize];
            (sum / brighter.len() as f64, f64::from(high))
        };
        Interval::new(
            beside.value.max(value),
            beside.low.max(least),
            beside.high.max(high),
        )
    }

    /// Whether a controller that followed the sun shows the sky for one that did not.
    fn told_by_another(&self, moment: usize) -> bool {
        !self.estimated && self.unsure_at(moment) > 0.0
    }

    fn unsure_at(&self, moment: usize) -> f64 {
        self.unsure.get(moment).copied().map_or(0.0, f64::from)
    }

    /// Hours between two neighbours across which a straight line holds; further across a shadow or a dead
    /// array, which begin and end by themselves and not with the sky.
    fn reach_h(&self, moment: usize) -> f64 {
        if self.between[moment] {
            PERSISTENCE_H
        } else {
            2.0 * NEAR_H
        }
    }

    /// The half hour seen around the nearest measuring moment.
    fn neighbour(&self, moment: usize, found: Option<usize>) -> Option<Neighbour> {
        let at = found?;
        let hours = at.abs_diff(moment) as f64 * self.step_h;
        if hours > 4.0 * PERSISTENCE_H {
            return None;
        }
        let from = at.saturating_sub(3);
        let near: Vec<f64> = self.seen[from..(at + 4).min(self.seen.len())]
            .iter()
            .flatten()
            .copied()
            .collect();
        let least = near.iter().copied().fold(f64::INFINITY, f64::min);
        let most = near.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Some(Neighbour {
            share: near.iter().sum::<f64>() / near.len().max(1) as f64,
            hours,
            unsteady: ((most - least).max(0.0) / 2.0).hypot(self.unsure_at(at)),
        })
    }

    fn drift(&self, moment: usize, near: Neighbour) -> Interval {
        let kept = (-near.hours / PERSISTENCE_H).exp();
        let lost = 1.0 - kept;
        let day = self.day_of.get(moment).map_or(0, |d| *d as usize);
        let (usual, below) = match self.by_day.get(day).copied().flatten() {
            Some(own) => {
                let apart = own - self.usual.value;
                let usual = self.usual.value + self.kinship.slope * apart;
                (usual.min(1.0), Z90 * self.kinship.left_over)
            }
            None => (self.usual.value, f64::INFINITY),
        };
        let least = match below.is_finite() {
            true => self.usual.low,
            false => self.unseen.low,
        };
        let expected = near.share * kept + usual * lost;
        let below = below.min((expected - least).max(0.0)) * lost;
        // Clouds go as they come: above, the interval reaches to a clear sky, as fast as what drifts with
        // such a persistence spreads.
        let above = (self.usual.high - expected).max(0.0) * (1.0 - kept * kept).sqrt();
        // What was seen and what came after are wrong by themselves, each for reasons of its own.
        let seen = SEEN.hypot(near.unsteady);
        clamped(
            expected,
            expected - below.hypot(seen),
            expected + above.hypot(seen),
        )
    }
}

/// What was seen while a clear sky itself, with a cloud's bright edge, stayed below the controller's limit.
fn free(expected: &Expectation, seen: &[Option<f64>]) -> Vec<f32> {
    let mut free: Vec<f32> = (0..expected.grid.moments)
        .filter(|m| expected.limiting_sky(*m).is_none_or(|least| CAP < least))
        .filter_map(|m| seen[m].map(|share| share as f32))
        .collect();
    free.sort_by(f32::total_cmp);
    free
}

/// Mean shares before and after solar noon of the days on which both were measured.
fn halves(expected: &Expectation, seen: &[Option<f64>]) -> Vec<(f64, f64)> {
    let grid = &expected.grid;
    (0..grid.dates.len())
        .filter_map(|day| {
            let noon = grid.day(day).max_by(|a, b| {
                let height = |m: &usize| expected.offers[*m].elevation_deg;
                height(a).total_cmp(&height(b))
            })?;
            let before = mean_share(expected, seen, grid.day(day).start..noon, HALF)?;
            let after = mean_share(expected, seen, noon..grid.day(day).end, HALF)?;
            Some((before, after))
        })
        .collect()
}

/// What is usual on this trip: the mean of its days, each counting once however long it could be
/// watched (a bright day fills the bank early and is watched least), between the 5 and 95 % points of
/// its spells: what is drawn here is summed over hours, in which single clouds even out.
fn usual(seen: &[Option<f64>], by_day: &[Option<f64>], spells: &[f64]) -> Interval {
    let all: Vec<f64> = seen.iter().flatten().copied().collect();
    let days: Vec<f64> = by_day.iter().flatten().copied().collect();
    if all.len() < 24 || days.is_empty() {
        // Nothing to go by: any sky from a dull one to a clear one.
        return Interval::new(0.65, DULLEST, 1.05);
    }
    let spread = if spells.len() < LEAST_SPELLS {
        &all
    } else {
        spells
    };
    Interval::new(
        days.iter().sum::<f64>() / days.len() as f64,
        quantile(spread, 0.05).unwrap_or(0.0),
        // A clear sky is always possible, seen or not.
        quantile(spread, 0.95).unwrap_or(CAP).max(1.0),
    )
}

/// A day of which nothing was seen may be duller than every one that was: of twenty it takes one in twenty, of
/// fewer more, and then the dullest of any sky is as likely as the trip's own.
fn unseen(usual: &Interval, days: usize) -> Interval {
    let own = ((days + 1) as f64 * ONE_IN_TWENTY).min(1.0);
    Interval::new(
        usual.value,
        (own * usual.low + (1.0 - own) * DULLEST).min(usual.low),
        usual.high,
    )
}

/// Mean shares of spells of [`SPELL`] moments, where at least half of one measured the sky.
fn spells(expected: &Expectation, seen: &[Option<f64>]) -> Vec<f64> {
    let grid = &expected.grid;
    (0..grid.dates.len())
        .flat_map(|day| {
            let moments: Vec<usize> = grid.day(day).collect();
            let means: Vec<f64> = moments
                .chunks(SPELL)
                .filter_map(|spell| mean_share(expected, seen, spell.iter().copied(), SPELL / 2))
                .collect();
            means
        })
        .collect()
}

/// A day's own sky: the measuring moments' mean, weighted with what a clear sky would have given, so
/// that a hazy dawn does not stand for the day.
fn day_mean(expected: &Expectation, seen: &[Option<f64>], day: usize) -> Option<f64> {
    mean_share(expected, seen, expected.grid.day(day), 12)
}

/// Mean of the shares seen, weighted with what a clear sky would have given; `None` with fewer than `least`.
fn mean_share(
    expected: &Expectation,
    seen: &[Option<f64>],
    moments: impl Iterator<Item = usize>,
    least: usize,
) -> Option<f64> {
    let (mut sum, mut weight, mut count) = (0.0, 0.0, 0usize);
    for m in moments {
        if let Some(share) = seen[m] {
            let w = expected.offers[m].output_w;
            sum += share * w;
            weight += w;
            count += 1;
        }
    }
    (count >= least && weight > 0.0).then(|| sum / weight)
}

/// What a reduced array gives on that day, share of the healthy one; 1 where nothing is known.
/// Only clearly reduced days count, so that haze stays in the sky.
fn day_level(expected: &Expectation, reductions: &[Reduction], moment: usize) -> f64 {
    let day = expected.grid.day_of(moment);
    let part = |r: &&Reduction| r.of != Of::Whole && (r.first..=r.last).contains(&day);
    if reductions.iter().any(|r| part(&r)) {
        return episode::left_at(reductions, day, moment).value;
    }
    expected.clear.days[day]
        .map(|scale| scale.ratio / expected.clear.reference.value)
        .filter(|level| *level < 0.9 && !episode::is_hazy(expected, day))
        .unwrap_or(1.0)
}

fn clamped(value: f64, low: f64, high: f64) -> Interval {
    Interval::new(
        value.clamp(0.02, CAP),
        low.clamp(0.0, CAP),
        high.clamp(0.0, CAP),
    )
}
