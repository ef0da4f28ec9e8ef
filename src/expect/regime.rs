//! What ruled each moment: the sun, a full bank, a limit of the controller, or nothing at all.
//!
//! Only moments that followed the sun are measurements of it; held and limited moments are lower bounds.

use crate::design::Design;
use crate::expect::grid::{Folded, Grid};
use crate::expect::offer::{Offer, PRODUCTIVE_DEG};
use crate::expect::signals::Signals;
use crate::stats::quantile::quantile;
use crate::timeline::stage;

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

/// Whether a neighbouring moment was held or limited: then this one is a mixture of both.
pub fn beside_held(regimes: &[Regime], moment: usize) -> bool {
    let near = moment.saturating_sub(1)..(moment + 2).min(regimes.len());
    regimes[near]
        .iter()
        .any(|r| matches!(r, Regime::Held | Regime::Limited | Regime::Refused))
}

/// A plateau of the regulated voltage is this close to its set point, V per 12 V (trade reference:
/// 0.5 % or 0.1 V).
const PLATEAU_V: f64 = 0.1;
/// A current this close to the limit is the limit (trade reference: 2 %).
pub const LIMIT_SHARE: f64 = 0.98;
/// Array voltage this far above its best working voltage means the controller is throttling.
const THROTTLED: f64 = 1.07;
/// Absorption settings lie within this of a chemistry's usual one, V per 12 V (trade reference 6.1).
const ABSORPTION_RANGE_V: f64 = 0.5;
/// Less than this share of label power is nothing.
const NOTHING: f64 = 0.002;

/// The absorption voltage at 25 C, V: the design's where it states one, else the level the log shows the
/// controller holding, else the chemistry's usual one. A full charge must not be missed for a default.
pub fn absorption_v(design: &Design, grid: &Grid, signals: &Signals, offers: &[Offer]) -> f64 {
    let stated = design.controllers[0].absorption_v;
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
    let seen = quantile(&held, 0.5).or_else(|| {
        let volts = signals.regulated_v()?;
        plateau(design, grid, signals, volts, offers)
    });
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
    let setpoints = Setpoints::new(design, grid, signals, offers, limit_a);
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
            judge(design, grid, signals, offer, &setpoints, moment)
        })
        .collect();
    fill_short_breaks(&mut found);
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
        if gap.len() <= LONGEST && regimes[gap.clone()].iter().all(|r| *r == Regime::Following) {
            regimes[gap].fill(Regime::Held);
        }
    }
}

fn judge(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offer: &Offer,
    setpoints: &Setpoints,
    moment: usize,
) -> Regime {
    let array_w = design.array_w();
    let harvest_w = signals.harvest.as_ref().and_then(|h| h.mean(moment));
    let nothing_by_day =
        harvest_w.is_some_and(|w| w < NOTHING * array_w) && offer.output_w > 0.2 * array_w;
    if nothing_by_day && setpoints.dead(signals, moment) {
        return Regime::Disconnected;
    }
    if nothing_by_day && !setpoints.reached(design, grid, signals, moment) {
        return if setpoints.above_float(design, signals, moment) {
            Regime::Held
        } else if is_cold(design, signals, moment) {
            Regime::Refused
        } else {
            Regime::Disconnected
        };
    }
    let charge_a = signals.charge_a.as_ref().and_then(|a| a.mean(moment));
    if charge_a.is_some_and(|a| a >= LIMIT_SHARE * setpoints.limit_a) {
        return Regime::Limited;
    }
    if setpoints.reached(design, grid, signals, moment) || throttled(design, signals, offer, moment)
    {
        return Regime::Held;
    }
    if harvest_w.is_some() {
        Regime::Following
    } else {
        Regime::Unknown
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

/// The voltages the controller holds: from the design, from the stages logged, and from the plateaus seen.
struct Setpoints {
    /// Per day and stage (absorption, float, equalise): the upper level seen while that stage was logged.
    by_stage: Vec<[Option<f64>; 3]>,
    /// A level the voltage stops at on several days, where no stage is logged.
    plateau_v: Option<f64>,
    /// Current the controllers stop at, A.
    limit_a: f64,
    volts_per_12: f64,
    /// Array voltage below which nothing arrives from the panels, V; `None` where it can't be told.
    dead_below_v: Option<f64>,
}

impl Setpoints {
    fn new(
        design: &Design,
        grid: &Grid,
        signals: &Signals,
        offers: &[Offer],
        limit_a: f64,
    ) -> Self {
        let volts_per_12 = design.nominal_v() / 12.0;
        let by_stage = (0..grid.dates.len())
            .map(|day| stage_levels(grid, signals, day))
            .collect();
        Self {
            by_stage,
            plateau_v: signals
                .regulated_v()
                .and_then(|v| plateau(design, grid, signals, v, offers)),
            limit_a,
            volts_per_12,
            dead_below_v: dead_below_v(design, signals),
        }
    }

    /// Whether the array's terminals stand dead: whatever the bank is at, an array that is not asked for
    /// anything stands at its open voltage in daylight.
    fn dead(&self, signals: &Signals, moment: usize) -> bool {
        let volts = signals.array_v.as_ref().and_then(|v| v.mean(moment));
        matches!((volts, self.dead_below_v), (Some(v), Some(least)) if v < least)
    }

    /// Whether the controller was holding a voltage in that moment.
    fn reached(&self, design: &Design, grid: &Grid, signals: &Signals, moment: usize) -> bool {
        let Some(volts) = signals.regulated_v().and_then(|v| v.mean(moment)) else {
            return false;
        };
        let near = PLATEAU_V * self.volts_per_12;
        if let Some(code) = signals.stage.as_ref().and_then(|s| s.mean(moment)) {
            let Some(column) = stage_column(code.round()) else {
                return false;
            };
            // A bank just taken off absorption stands above float by itself and sinks for hours: whatever
            // the day's level, at the design's own set point the voltage is held.
            let designed = self
                .designed(design, column)
                .is_some_and(|v| volts >= v + compensation_v(design, signals, moment) - near);
            return designed
                || self.by_stage[grid.day_of(moment)][column]
                    .is_some_and(|level| volts >= level - near);
        }
        let controller = &design.controllers[0];
        let shift = compensation_v(design, signals, moment);
        volts >= controller.absorption_v + shift - near
            || self
                .plateau_v
                .is_some_and(|level| volts >= level - 0.6 * near)
            || self.floating(design, signals, moment, shift)
    }

    /// Whether the bank stands at float or above by itself, as after absorption: a controller that then
    /// gives nothing is not asked to.
    fn above_float(&self, design: &Design, signals: &Signals, moment: usize) -> bool {
        let controller = &design.controllers[0];
        let level = controller.float_v.unwrap_or(controller.absorption_v);
        let least = level + compensation_v(design, signals, moment) - PLATEAU_V * self.volts_per_12;
        signals
            .regulated_v()
            .and_then(|v| v.mean(moment))
            .is_some_and(|v| v >= least)
    }

    /// The design's set point of a stage (absorption, float, equalise).
    fn designed(&self, design: &Design, column: usize) -> Option<f64> {
        let controller = &design.controllers[0];
        match column {
            0 => Some(controller.absorption_v),
            1 => controller.float_v,
            _ => controller.equalise_v,
        }
    }

    /// Float without a logged stage: the voltage stands still at the float level. Only the last half
    /// hour is asked, and only where the controller's own terminals were logged: a bank under a mild
    /// charge passes the float level too, but it moves.
    fn floating(&self, design: &Design, signals: &Signals, moment: usize, shift: f64) -> bool {
        let (Some(level), Some(volts)) = (design.controllers[0].float_v, &signals.charge_v) else {
            return false;
        };
        let level = level + shift;
        let from = moment.saturating_sub(5);
        let recent: Vec<f64> = (from..=moment).filter_map(|m| volts.mean(m)).collect();
        let low = recent.iter().copied().fold(f64::INFINITY, f64::min);
        let high = recent.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        recent.len() >= 5
            && high - low <= 0.04 * self.volts_per_12
            && (recent[recent.len() - 1] - level).abs() <= 0.12 * self.volts_per_12
    }
}

/// What temperature compensation adds to a set point at that moment, V; 0 where the bank's temperature is not logged.
pub fn compensation_v(design: &Design, signals: &Signals, moment: usize) -> f64 {
    signals
        .bank_c
        .as_ref()
        .and_then(|c| c.mean(moment))
        .map_or(0.0, |c| {
            design.controllers[0].compensation_v_per_c * (c.clamp(-20.0, 50.0) - 25.0)
        })
}

fn stage_column(code: f64) -> Option<usize> {
    [stage::ABSORPTION, stage::FLOAT, stage::EQUALISE]
        .iter()
        .position(|s| *s == code)
}

fn stage_levels(grid: &Grid, signals: &Signals, day: usize) -> [Option<f64>; 3] {
    let mut levels = [None; 3];
    let (Some(stages), Some(volts)) = (&signals.stage, signals.regulated_v()) else {
        return levels;
    };
    for (column, level) in levels.iter_mut().enumerate() {
        let mut seen: Vec<f64> = grid
            .day(day)
            .filter(|m| stages.mean(*m).and_then(|c| stage_column(c.round())) == Some(column))
            .filter_map(|m| volts.mean(m))
            .collect();
        seen.sort_by(f64::total_cmp);
        *level = quantile(&seen, 0.75);
    }
    levels
}

/// A level at which the voltage stood for a quarter of an hour on at least three days, within 0.05 V
/// per 12 V of one another: a set point, whatever the design says. Only where something charges: a
/// bank left to itself stands still as well.
fn plateau(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    volts: &Folded,
    offers: &[Offer],
) -> Option<f64> {
    let volts_per_12 = design.nominal_v() / 12.0;
    let mut tops: Vec<f64> = (0..grid.dates.len())
        .filter_map(|day| {
            let moments = grid.day(day);
            moments
                .clone()
                .filter(|m| offers[*m].elevation_deg > PRODUCTIVE_DEG && m + 2 < moments.end)
                .filter(|m| (*m..*m + 3).all(|m| charging(design, signals, m)))
                .filter_map(|m| {
                    let three = [volts.mean(m)?, volts.mean(m + 1)?, volts.mean(m + 2)?];
                    let low = three.iter().copied().fold(f64::INFINITY, f64::min);
                    let high = three.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                    (high - low < 0.03 * volts_per_12).then_some(low)
                })
                .max_by(f64::total_cmp)
        })
        .collect();
    tops.sort_by(f64::total_cmp);
    let top = tops.last().copied()?;
    let same = tops
        .iter()
        .filter(|v| top - **v <= 0.05 * volts_per_12)
        .count();
    (same >= 3).then_some(top)
}

/// Whether something comes from the array, or into the bank where the array is not logged.
fn charging(design: &Design, signals: &Signals, moment: usize) -> bool {
    let mean = |f: &Option<Folded>| f.as_ref().and_then(|f| f.mean(moment));
    match (mean(&signals.harvest), mean(&signals.bank_a)) {
        (Some(watts), _) => watts > NOTHING * design.array_w(),
        (None, Some(amps)) => amps >= 0.0,
        (None, None) => true,
    }
}
