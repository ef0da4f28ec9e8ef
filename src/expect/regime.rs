//! What ruled each moment: the sun, a full bank, a limit of the controller, or nothing at all.
//!
//! Only moments that followed the sun are measurements of it; held and limited moments are lower bounds.

use crate::design::Design;
use crate::expect::grid::{Folded, Grid};
use crate::expect::offer::{Offer, PRODUCTIVE_DEG};
use crate::expect::setpoints::{Setpoints, plateau, stage_levels};
use crate::expect::signals::Signals;
use crate::expect::standing::SAME_V;
use crate::physics::bank::most_through_an_open_pack_a;
use crate::stats::quantile::quantile;

/// What ruled the array's output in a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Regime {
    /// The sun was down or too low to count.
    Dark,
    /// The controller took all the array gave.
    Following,
    /// The controller held its voltage: the bank took less than there was.
    Held,
    /// The bank refused charge (cold, or its protection had opened).
    Refused,
    /// The controller was at its own current limit.
    Limited,
    /// The sun was up, nothing came, and nothing in the log says why.
    Disconnected,
    /// Measured, but what ruled it can't be told.
    Unknown,
    /// Not measured.
    Gap,
}

impl Regime {
    /// The letter that stands for it in the report's profile.
    pub fn letter(self) -> char {
        match self {
            Regime::Dark => 'd',
            Regime::Following => 'f',
            Regime::Held => 'h',
            Regime::Refused => 'r',
            Regime::Limited => 'l',
            Regime::Disconnected => 'x',
            Regime::Unknown => 'u',
            Regime::Gap => 'g',
        }
    }

    /// Whether the moment is a measurement of the sun rather than a lower bound.
    pub fn measures_sun(self) -> bool {
        matches!(self, Regime::Following | Regime::Unknown)
    }
}

/// Whether a moment within `reach` of this one was held or limited: then this one is a mixture of both.
pub fn beside_held(regimes: &[Regime], moment: usize, reach: usize) -> bool {
    let near = moment.saturating_sub(reach)..(moment + reach + 1).min(regimes.len());
    regimes[near]
        .iter()
        .any(|r| matches!(r, Regime::Held | Regime::Limited | Regime::Refused))
}

/// A current this close to the limit is the limit (trade reference: 2 %).
pub const LIMIT_SHARE: f64 = 0.98;
/// Array voltage this far above its best working voltage means the controller is throttling.
const THROTTLED: f64 = 1.07;
/// Absorption settings lie within this of a chemistry's usual one, V per 12 V (trade reference 6.1).
const ABSORPTION_RANGE_V: f64 = 0.5;
/// Less than this share of label power is nothing.
pub const NOTHING: f64 = 0.002;
/// Moments in which a bank sinks from absorption to float: an hour and a half at most, .
const WAY_DOWN: usize = 18;
/// Absorption and float lie at least this far apart, V per 12 V.
const STAGES_APART_V: f64 = 0.2;

/// The absorption voltage at 25 C, V: the design's where it states one, else the level the log shows the
/// controller holding, else the chemistry's usual one. A full charge must not be missed for a default, nor for
/// the highest of several controllers where one of the lower ones ended it.
pub fn absorption_v(design: &Design, grid: &Grid, signals: &Signals, offers: &[Offer]) -> f64 {
    let each = design.controllers.iter().map(|c| c.absorption_v);
    let stated = each.fold(f64::INFINITY, f64::min);
    if !design
        .assumed
        .iter()
        .any(|a| a.key == "controller.absorption")
    {
        return stated;
    }
    let held: Vec<f64> = (0..grid.dates.len())
        .filter_map(|day| stage_levels(grid, signals, day)[0])
        .collect();
    let seen = quantile(&held, 0.5).or_else(|| plateau(design, grid, signals, offers));
    // A level far from what the chemistry is charged to is some other level: float, or a bank at rest.
    seen.filter(|v| (v - stated).abs() <= ABSORPTION_RANGE_V * design.nominal_v() / 12.0)
        .unwrap_or(stated)
}

/// The regime of every moment.
pub fn regimes(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    limit_a: f64,
) -> Vec<Regime> {
    let judge = Judge {
        design,
        signals,
        setpoints: Setpoints::new(design, grid, signals, offers),
        limit_a,
        dead_below_v: dead_below_v(design, signals),
    };
    let mut found: Vec<Regime> = (0..grid.moments)
        .map(|moment| {
            let offer = &offers[moment];
            if signals.harvest_coverage(moment) < 0.2 {
                return if offer.elevation_deg < 0.0 {
                    Regime::Dark
                } else {
                    Regime::Gap
                };
            }
            if offer.elevation_deg < PRODUCTIVE_DEG {
                return Regime::Dark;
            }
            judge.regime(offer, moment)
        })
        .collect();
    fill_short_breaks(&mut found);
    if let (Some(volts), None) = (signals.terminal_v(), &signals.stage) {
        fill_ways_down(&mut found, |m| {
            volts.mean(m).map(|v| v * 12.0 / design.nominal_v())
        });
    }
    let nothing = |m: usize| {
        let watts = signals.harvest.as_ref().and_then(|h| h.mean(m));
        watts.is_some_and(|w| w < NOTHING * design.array_w())
    };
    widen_disconnections(&mut found, nothing);
    found
}

/// An array is off for as long as nothing comes from it: the low sun before and after a disconnected
/// hour, too weak to tell by itself, is no measurement of the sky.
fn widen_disconnections(regimes: &mut [Regime], nothing: impl Fn(usize) -> bool) {
    let last = regimes.len().saturating_sub(1);
    let mut widen = |m: usize, beside: usize| {
        if regimes[beside] == Regime::Disconnected && regimes[m] == Regime::Following && nothing(m)
        {
            regimes[m] = Regime::Disconnected;
        }
    };
    (1..=last).for_each(|m| widen(m, m - 1));
    (0..last).rev().for_each(|m| widen(m, m + 1));
}

/// Up to a quarter of an hour between two held moments is a load that pulled the voltage down for a
/// while, a mixture of both: it measures no sky, so it counts as held.
fn fill_short_breaks(regimes: &mut [Regime]) {
    const LONGEST: usize = 3;
    let held: Vec<usize> = (0..regimes.len())
        .filter(|m| regimes[*m] == Regime::Held)
        .collect();
    for pair in held.windows(2) {
        let gap = pair[0] + 1..pair[1];
        if gap.len() <= LONGEST && regimes[gap.clone()].iter().all(|r| r.measures_sun()) {
            regimes[gap].fill(Regime::Held);
        }
    }
}

/// From absorption down to float, where no stage is logged: the bank sinks by itself, held by nothing, and
/// the controller gives little though it could. What comes then measures no sky.
fn fill_ways_down(regimes: &mut [Regime], volts_per_12: impl Fn(usize) -> Option<f64>) {
    let held: Vec<usize> = (0..regimes.len())
        .filter(|m| regimes[*m] == Regime::Held)
        .collect();
    for pair in held.windows(2) {
        let gap = pair[0] + 1..pair[1];
        let (Some(above), Some(below)) = (volts_per_12(pair[0]), volts_per_12(pair[1])) else {
            continue;
        };
        let sinks = |m: usize| {
            regimes[m].measures_sun() && volts_per_12(m).is_some_and(|v| v >= below - SAME_V)
        };
        if gap.len() <= WAY_DOWN && above - below >= STAGES_APART_V && gap.clone().all(sinks) {
            regimes[gap].fill(Regime::Held);
        }
    }
}

/// What a moment is judged by.
struct Judge<'a> {
    design: &'a Design,
    signals: &'a Signals,
    setpoints: Setpoints<'a>,
    /// Current the controllers stop at, A.
    limit_a: f64,
    /// Array voltage below which nothing arrives from the panels, V; `None` where it can't be told.
    dead_below_v: Option<f64>,
}

impl Judge<'_> {
    fn regime(&self, offer: &Offer, moment: usize) -> Regime {
        let (design, signals) = (self.design, self.signals);
        let array_w = design.array_w();
        let harvest_w = signals.harvest.as_ref().and_then(|h| h.mean(moment));
        let nothing_by_day =
            harvest_w.is_some_and(|w| w < NOTHING * array_w) && offer.output_w > 0.2 * array_w;
        if nothing_by_day && self.dead(moment) {
            return Regime::Disconnected;
        }
        let reached = self.setpoints.reached(moment);
        if nothing_by_day && !reached {
            return if !self.setpoints.seen(moment) {
                self.unasked_or_dead(moment)
            } else if self.setpoints.above_float(moment) {
                Regime::Held
            } else if is_cold(design, signals, moment) {
                Regime::Refused
            } else {
                Regime::Disconnected
            };
        }
        let charge_a = signals.charge_a.as_ref().and_then(|a| a.mean(moment));
        if charge_a.is_some_and(|a| a >= LIMIT_SHARE * self.limit_a) {
            return Regime::Limited;
        }
        if reached || throttled(design, signals, offer, moment) {
            return match is_shut(design, signals, moment) {
                true => Regime::Refused,
                false => Regime::Held,
            };
        }
        if self.setpoints.touched(moment) {
            // Held for a part of it: what came is no more the sun's measure than where it is held throughout.
            return Regime::Held;
        }
        if harvest_w.is_some() {
            Regime::Following
        } else {
            Regime::Unknown
        }
    }

    /// Nothing came, and no voltage says whether the bank was full: panels that stand at their own voltage are
    /// there and not asked for anything; without that too nothing can be told.
    fn unasked_or_dead(&self, moment: usize) -> Regime {
        let volts = self.signals.array_v.as_ref().and_then(|v| v.mean(moment));
        match (volts, self.dead_below_v) {
            (Some(_), Some(_)) => Regime::Held,
            _ => Regime::Unknown,
        }
    }

    /// Whether the array's terminals stand dead: whatever the bank is at, an array that is not asked for
    /// anything stands at its open voltage in daylight.
    fn dead(&self, moment: usize) -> bool {
        let volts = self.signals.array_v.as_ref().and_then(|v| v.mean(moment));
        matches!((volts, self.dead_below_v), (Some(v), Some(least)) if v < least)
    }
}

fn is_cold(design: &Design, signals: &Signals, moment: usize) -> bool {
    !design.battery.chemistry.is_lead()
        && signals
            .bank_c
            .as_ref()
            .and_then(|c| c.mean(moment))
            .is_some_and(|c| c <= design.battery.charge_from_c + 2.0)
}

/// Whether a lithium pack colder than it may be charged takes nothing at a voltage that is held for it.
fn is_shut(design: &Design, signals: &Signals, moment: usize) -> bool {
    let mean = |of: &Option<Folded>| of.as_ref().and_then(|f| f.mean(moment));
    let open_a = most_through_an_open_pack_a(design.battery.capacity_ah);
    !design.battery.chemistry.is_lead()
        && mean(&signals.bank_c).is_some_and(|c| c <= design.battery.charge_from_c)
        && mean(&signals.bank_a).is_some_and(|a| a.abs() <= open_a)
}

/// Whether the array stands well above its best voltage while giving clearly less than a dull sky would.
fn throttled(design: &Design, signals: &Signals, offer: &Offer, moment: usize) -> bool {
    let (Some(array), Some(volts)) = (
        design.arrays.first(),
        signals.array_v.as_ref().and_then(|v| v.mean(moment)),
    ) else {
        return false;
    };
    if design.arrays.len() != 1 {
        return false;
    }
    let Some(vmp) = array.panel.vmp_v else {
        return false;
    };
    // Best voltage falls with heat a little faster than open-circuit voltage does.
    let heat = 1.0 + 1.2 * array.panel.voc_per_degree * (offer.cell_c - 25.0);
    // A cool array under cloud works somewhat above the hot clear-sky figure: allow for cells at air temperature.
    let best = vmp * f64::from(array.panels_in_series) * heat.max(1.0);
    let harvest = signals
        .harvest
        .as_ref()
        .and_then(|h| h.mean(moment))
        .unwrap_or(0.0);
    volts > THROTTLED * best
        && harvest < 0.85 * offer.output_w
        && harvest > NOTHING * design.array_w()
}

/// A fifth of the array's best voltage, where the log knows array voltages of half of it and more: a
/// column that never leaves 0 tells nothing.
fn dead_below_v(design: &Design, signals: &Signals) -> Option<f64> {
    let [array] = design.arrays.as_slice() else {
        return None;
    };
    let best = array.panel.vmp_v? * f64::from(array.panels_in_series);
    let volts = signals.array_v.as_ref()?;
    let alive = volts.max.iter().any(|v| f64::from(*v) > 0.5 * best);
    alive.then_some(0.2 * best)
}
