//! The voltages the controller holds: from the design, from the stages logged, and from the levels seen.

use crate::design::{Chemistry, Design};
use crate::expect::grid::{Folded, Grid};
use crate::expect::offer::{Offer, PRODUCTIVE_DEG};
use crate::expect::regime::NOTHING;
use crate::expect::signals::Signals;
use crate::expect::standing::{SAME_V, Standing};
use crate::physics::bank::least_held_cell_v;
use crate::stats::quantile::quantile;
use crate::timeline::stage;

/// A plateau of the regulated voltage is this close to its set point, V per 12 V (trade reference:
/// 0.5 % or 0.1 V).
const PLATEAU_V: f64 = 0.1;
/// A reading this close below a set point is at it, V per 12 V: what a meter shows of a level that is held.
const TOUCHED_V: f64 = 0.03;
/// Moments within which a voltage at float stands still: half an hour.
const STILL: usize = 6;
/// Fewest readings in them.
const STILL_READ: usize = 5;
/// It stands still within this, V per 12 V.
const STILL_V: f64 = 0.04;
/// What a bank at float takes and gives at most, share of the current that counts as full: absorption may
/// have ended by the clock, and a load may be more than the sun for a while.
const IDLE: std::ops::RangeInclusive<f64> = -0.5..=1.5;
/// Beyond the design's absorption by this, V per 12 V: the two meters' error and a wire's drop are less.
const BEYOND_V: f64 = 0.3;
/// A float level lies this close to the design's, V per 12 V: its meters' error and the wire's drop.
const FLOAT_V: f64 = 0.12;

/// The voltages the controller holds.
pub struct Setpoints<'a> {
    design: &'a Design,
    grid: &'a Grid,
    signals: &'a Signals,
    /// Per day and stage (absorption, float, equalise): the upper level seen while that stage was logged.
    by_stage: Vec<[Option<f64>; 3]>,
    /// A level the voltage stops at on several days, where no stage is logged.
    plateau_v: Option<f64>,
    /// Levels at which it stood whatever the array gave, where no stage is logged.
    standing: Standing,
    /// Per day: the first moment at absorption.
    absorbed: Vec<Option<usize>>,
    /// Per day: where the voltage goes, V, if that is well beyond the design's absorption on days enough for
    /// the setting to be another.
    beyond: Vec<Option<f64>>,
    volts_per_12: f64,
}

impl<'a> Setpoints<'a> {
    /// Reads them from design and log.
    pub fn new(design: &'a Design, grid: &'a Grid, signals: &'a Signals, offers: &[Offer]) -> Self {
        let days = 0..grid.dates.len();
        let mut setpoints = Self {
            design,
            grid,
            signals,
            by_stage: days
                .clone()
                .map(|day| stage_levels(grid, signals, day))
                .collect(),
            plateau_v: plateau(design, grid, signals, offers),
            standing: Standing::default(),
            absorbed: Vec::new(),
            beyond: beyond(design, grid, signals),
            volts_per_12: design.nominal_v() / 12.0,
        };
        setpoints.absorbed = days
            .map(|day| grid.day(day).find(|m| setpoints.absorbing(*m)))
            .collect();
        setpoints.standing = Standing::new(design, grid, signals, offers, &setpoints.absorbed);
        setpoints
    }

    /// Whether the controller was holding a voltage in that moment.
    pub fn reached(&self, moment: usize) -> bool {
        let Some(code) = self.signals.stage.as_ref().and_then(|s| s.mean(moment)) else {
            return self.absorbing(moment) || self.resting(moment) || self.floating(moment);
        };
        let Some(column) = stage_column(code.round()) else {
            return false;
        };
        let Some(volts) = self.volts(moment) else {
            // Nothing shows the voltage: the controller's own word has to do.
            return true;
        };
        let near = PLATEAU_V * self.volts_per_12;
        // A bank just taken off absorption stands above float by itself and sinks for hours: whatever
        // the day's level, at the design's own set point the voltage is held.
        let designed = self
            .designed(column)
            .is_some_and(|v| volts >= v + self.shift(moment) - near);
        designed
            || self.by_stage[self.grid.day_of(moment)][column]
                .is_some_and(|level| volts >= level - near)
    }

    /// Whether it held one for some part of the moment: the highest reading stands where it holds its voltage,
    /// though the mean does not.
    pub fn touched(&self, moment: usize) -> bool {
        let Some(volts) = self.signals.terminal_v() else {
            return false;
        };
        let stages = self
            .signals
            .stage
            .as_ref()
            .filter(|s| s.mean(moment).is_some());
        let at = |level: f64| volts.high(moment) >= level - TOUCHED_V * self.volts_per_12;
        let absorption = at(self.design.controllers[0].absorption_v + self.shift(moment));
        match stages {
            Some(stages) => absorption && stage_column(stages.high(moment).round()) == Some(0),
            None => {
                self.beyond[self.grid.day_of(moment)].is_none()
                    && (absorption || self.plateau_v.is_some_and(at))
            }
        }
    }

    /// Whether any voltage shows what the controller holds in that moment.
    pub fn seen(&self, moment: usize) -> bool {
        self.volts(moment).is_some()
    }

    /// Whether the bank stands at float or above by itself, as after absorption: a controller that then
    /// gives nothing is not asked to.
    pub fn above_float(&self, moment: usize) -> bool {
        let controller = &self.design.controllers[0];
        let level = controller.float_v.unwrap_or(controller.absorption_v);
        let least = level + self.shift(moment) - PLATEAU_V * self.volts_per_12;
        self.volts(moment).is_some_and(|v| v >= least)
    }

    fn volts(&self, moment: usize) -> Option<f64> {
        self.signals.terminal_v()?.mean(moment)
    }

    fn shift(&self, moment: usize) -> f64 {
        compensation_v(self.design, self.signals, moment)
    }

    /// The design's set point of a stage (absorption, float, equalise).
    fn designed(&self, column: usize) -> Option<f64> {
        let controller = &self.design.controllers[0];
        match column {
            0 => Some(controller.absorption_v),
            1 => controller.float_v,
            _ => controller.equalise_v,
        }
    }

    /// Absorption without a logged stage: the design's level, or the highest that the voltage stops at. On a
    /// day that goes well beyond the design's it is no level that day: the voltage passes it.
    fn absorbing(&self, moment: usize) -> bool {
        let near = PLATEAU_V * self.volts_per_12;
        let designed = self.design.controllers[0].absorption_v + self.shift(moment);
        let beyond = self.beyond[self.grid.day_of(moment)];
        self.volts(moment).is_some_and(|volts| {
            let at = |level: f64| volts >= level - 0.6 * near;
            match beyond {
                Some(top) => at(self.plateau_v.map_or(top, |level| level.min(top))),
                None => volts >= designed - near || self.plateau_v.is_some_and(at),
            }
        })
    }

    /// After absorption a bank stands above float by itself and sinks for hours: the controller gives little
    /// though it could, and loads come out of the bank. One that takes more is being charged again. Lead
    /// sinks fast enough for its way down to be told by both its ends, where the harvest shows a cloud.
    fn resting(&self, moment: usize) -> bool {
        if self.design.battery.chemistry.is_lead() && self.signals.harvest.is_some() {
            return false;
        }
        let float_v = self.designed(1).map(|level| level + self.shift(moment));
        let Some((volts, float_v)) = self.volts(moment).zip(float_v) else {
            return false;
        };
        let bank_a = self.signals.bank_a.as_ref().and_then(|a| a.mean(moment));
        self.absorbed_before(moment)
            && volts >= float_v - SAME_V * self.volts_per_12
            && bank_a.is_some_and(|a| a <= IDLE.end() * self.design.battery.full_current_a)
    }

    /// Whether the voltage was at absorption earlier that day.
    fn absorbed_before(&self, moment: usize) -> bool {
        self.absorbed[self.grid.day_of(moment)].is_some_and(|since| since < moment)
    }

    /// Float without a logged stage: the voltage stands still at the float level. A bank under a mild
    /// charge passes that level too, but it moves.
    fn floating(&self, moment: usize) -> bool {
        let Some(now) = self.volts(moment).filter(|_| self.still(moment)) else {
            return false;
        };
        let shift = self.shift(moment);
        let near = SAME_V * self.volts_per_12;
        let own = self.signals.charge_v.is_some();
        let absorbed = self.absorbed_before(moment);
        // At the bank's terminals the design's level is less sure a sign than at the controller's.
        let tolerance = if own {
            FLOAT_V * self.volts_per_12
        } else {
            near
        };
        let designed = (own || absorbed)
            && self
                .designed(1)
                .is_some_and(|level| (now - level - shift).abs() <= tolerance);
        let mut stood = self.standing.on(self.grid.day_of(moment), shift);
        let level = designed || stood.any(|level| (now - level).abs() <= near);
        // Below that a lithium bank stands by itself, unless it was filled before.
        let by_itself = !self.design.battery.chemistry.is_lead() && now < least_held_v(self.design);
        level && (absorbed || !by_itself) && self.idle(moment)
    }

    /// Whether the bank takes no more than a full one does, nor gives; so too where its current isn't logged.
    fn idle(&self, moment: usize) -> bool {
        let bank_a = self.signals.bank_a.as_ref().and_then(|a| a.mean(moment));
        bank_a.is_none_or(|amps| IDLE.contains(&(amps / self.design.battery.full_current_a)))
    }

    /// Whether some half hour with the moment in it, or what there is of it, saw the voltage stand still.
    fn still(&self, moment: usize) -> bool {
        (moment.saturating_sub(STILL - 1)..=moment).any(|from| {
            let seen: Vec<f64> = (from..from + STILL).filter_map(|m| self.volts(m)).collect();
            let low = seen.iter().copied().fold(f64::INFINITY, f64::min);
            let high = seen.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            seen.len() >= STILL_READ && high - low <= STILL_V * self.volts_per_12
        })
    }
}

/// Below this a bank of that kind stands by itself, V.
pub(super) fn least_held_v(design: &Design) -> f64 {
    least_held_cell_v(design.battery.chemistry) * design.cells()
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

pub(super) fn stage_levels(grid: &Grid, signals: &Signals, day: usize) -> [Option<f64>; 3] {
    let mut levels = [None; 3];
    let (Some(stages), Some(volts)) = (&signals.stage, signals.terminal_v()) else {
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
/// per 12 V of one another, and went no higher: a set point, whatever the design says. Only where something
/// charges: a bank left to itself stands still as well.
pub(super) fn plateau(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
) -> Option<f64> {
    let volts = signals.terminal_v()?;
    let volts_per_12 = design.nominal_v() / 12.0;
    let mut tops: Vec<f64> = (0..grid.dates.len())
        .filter_map(|day| {
            let moments = grid.day(day);
            let highest = third_highest(design, signals, volts, moments.clone())?;
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
                .filter(|top| *top >= highest - PLATEAU_V * volts_per_12)
        })
        .collect();
    tops.sort_by(f64::total_cmp);
    let top = tops.last().copied()?;
    let same = tops
        .iter()
        .filter(|v| top - **v <= 0.05 * volts_per_12)
        .count();
    (same >= 3 && top >= least_held_v(design)).then_some(top)
}

/// Highest voltage of each day while something charges, single moments aside, where it is well beyond the
/// design's absorption; none where that is so on fewer than three days (equalising), or for flooded lead,
/// which may be equalised often.
fn beyond(design: &Design, grid: &Grid, signals: &Signals) -> Vec<Option<f64>> {
    let days = 0..grid.dates.len();
    let none = || vec![None; grid.dates.len()];
    let Some(volts) = signals
        .terminal_v()
        .filter(|_| design.battery.chemistry != Chemistry::Flooded)
    else {
        return none();
    };
    let least = BEYOND_V * design.nominal_v() / 12.0;
    let found: Vec<Option<f64>> = days
        .map(|day| {
            let top = third_highest(design, signals, volts, grid.day(day))?;
            let designed = grid
                .day(day)
                .map(|m| compensation_v(design, signals, m))
                .fold(f64::NEG_INFINITY, f64::max)
                + design.controllers[0].absorption_v;
            Some(top).filter(|top| *top > designed + least)
        })
        .collect();
    if found.iter().flatten().count() >= 3 {
        found
    } else {
        none()
    }
}

/// The voltage reached for a quarter of an hour in all while something charges: single moments above it are
/// overshoots.
fn third_highest(
    design: &Design,
    signals: &Signals,
    volts: &Folded,
    moments: std::ops::Range<usize>,
) -> Option<f64> {
    let mut all: Vec<f64> = moments
        .filter(|m| charging(design, signals, *m))
        .filter_map(|m| volts.mean(m))
        .collect();
    all.sort_by(|a, b| b.total_cmp(a));
    all.get(2).copied()
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
