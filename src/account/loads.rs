//! What the loads took and what other charging gave, from whichever signals there are.

use crate::account::wire::{self, NotMeasurable, RunFit};
use crate::design::wiring::run_mohm;
use crate::design::{Design, Run, budget};
use crate::expect::{Expectation, Folded, Regime, STEP_S};
use crate::mapping::Role;
use crate::quantity::{How, Interval};
use crate::stats::quantile::{mean, median, quantile};
use crate::timeline::{Channel, Timeline};

/// Loads and other charging, moment by moment, Wh. Vectors have the grid's number of moments.
#[derive(Debug, Clone, PartialEq)]
pub struct Loads {
    /// Taken at the bank's load terminals; `None` where neither logged nor derivable.
    pub load: Option<Vec<f64>>,
    /// How the load came about.
    pub load_how: How,
    /// Given by engine, shore and the like.
    pub other: Vec<f64>,
    /// How other charging came about.
    pub other_how: How,
    /// Hours in which other charging was seen.
    pub other_h: f64,
    /// Hours in which as much again may have been hidden, since the bank took no more: as many for each of
    /// those as hours by day were held for each that was not.
    pub hidden_h: f64,
    /// The load beside other charging that no meter of its own shows, W: what it is taken to be, and
    /// the least and most that an hour of the trip took (5 and 95 %).
    pub beside_w: [f64; 3],
    /// Taken by the controller-to-bank run.
    pub cable: Vec<f64>,
    /// Half the 90 % range of that, share.
    pub cable_error: f64,
    /// Harvest estimated from the bank's side, where the controller's was not logged.
    pub harvest_estimate: Option<Vec<f64>>,
    /// The load by day that such an estimate rests on, W, and the least and most it may have been.
    pub by_day_w: Interval,
    /// Median load in the dark, W; `None` where no night was logged.
    pub night_w: Option<f64>,
}

/// Inflow that neither harvest nor loads explain must reach this to count as other charging:
/// a share of capacity in an hour, at least 30 W per 12 V (a charger below that is lost in the meters).
const OTHER_C: f64 = 0.03;
/// It must last this many moments: a quarter of an hour.
const OTHER_MOMENTS: usize = 3;

/// The same of a run by its length and size on paper, with joints nobody measured, share.
const UNMEASURED: f64 = 0.30;

/// Share of a moment that must be read for its load to be known.
const LEAST_COVER: f64 = 0.5;

impl Loads {
    /// Works out loads and other charging.
    pub fn new(
        design: &Design,
        timeline: &Timeline,
        expected: &Expectation,
        runs: &[Result<RunFit, NotMeasurable>],
    ) -> Self {
        let cable = cable_wh(design, timeline, expected, runs);
        let signals = &expected.signals;
        let night_w = night_load_w(expected);
        let moments = expected.grid.moments;
        let mut loads = Self {
            load: None,
            load_how: How::Inferred,
            other: logged_other(expected).unwrap_or_else(|| vec![0.0; moments]),
            other_how: if signals.other_a.is_some() {
                How::Measured
            } else {
                How::Inferred
            },
            other_h: 0.0,
            hidden_h: 0.0,
            beside_w: [0.0; 3],
            cable,
            cable_error: cable_error(runs),
            harvest_estimate: None,
            by_day_w: Interval::exact(0.0),
            night_w,
        };
        match (&signals.load_w, &signals.harvest, &signals.bank_w) {
            (Some(load), _, _) => {
                loads.load = Some((0..moments).map(|m| load.net(m)).collect());
                loads.load_how = How::Measured;
            }
            (None, Some(harvest), Some(bank)) => loads.derive_load(design, expected, harvest, bank),
            (None, None, Some(bank)) => loads.estimate_from_bank(design, expected, bank),
            _ => {}
        }
        let step_h = expected.grid.step_h();
        loads.other_h = loads.other.iter().filter(|wh| **wh > 0.0).count() as f64 * step_h;
        loads.hidden_h = loads.other_h * held_to_free(expected);
        loads.beside_w = loads.beside(expected);
        loads
    }

    /// The load of hours without other charging, W: by night, and the ends of what hours take.
    fn beside(&self, expected: &Expectation) -> [f64; 3] {
        const HOUR: usize = 12;
        let usual = self.night_w.unwrap_or(0.0);
        let Some(load) = &self.load else {
            return [usual; 3];
        };
        let fit = |m: &usize| self.other[*m] == 0.0 && self.known(expected, *m);
        let starts = (0..load.len()).step_by(HOUR);
        let hours: Vec<f64> = starts
            .map(|from| from..(from + HOUR).min(load.len()))
            .filter(|hour| hour.clone().all(|m| fit(&m)))
            .map(|hour| {
                load[hour.clone()].iter().sum::<f64>()
                    / (hour.len() as f64 * expected.grid.step_h())
            })
            .collect();
        let end = |share: f64| quantile(&hours, share).unwrap_or(usual);
        [usual, end(0.05), end(0.95)]
    }

    /// Whether the load of a moment was read or reckoned from readings, rather than passed over.
    pub fn known(&self, expected: &Expectation, moment: usize) -> bool {
        let signals = &expected.signals;
        let read = |folded: &Option<Folded>| {
            folded
                .as_ref()
                .is_some_and(|f| f.coverage(moment) > LEAST_COVER)
        };
        if self.load.is_none() {
            false
        } else if signals.load_w.is_some() {
            read(&signals.load_w)
        } else {
            read(&signals.bank_w)
                && (signals.harvest.is_none()
                    || read(&signals.harvest)
                    || expected.regimes[moment] == Regime::Dark)
        }
    }

    /// Load = harvest - cable + other charging - net into the bank, over moments in which both were read.
    fn derive_load(
        &mut self,
        design: &Design,
        expected: &Expectation,
        harvest: &Folded,
        bank: &Folded,
    ) {
        let moments = expected.grid.moments;
        let rest: Vec<Option<f64>> = (0..moments)
            .map(|m| {
                let both = bank.coverage(m) > LEAST_COVER
                    && (harvest.coverage(m) > LEAST_COVER || expected.regimes[m] == Regime::Dark);
                both.then(|| harvest.net(m) - self.cable[m] + self.other[m] - bank.net(m))
            })
            .collect();
        if expected.signals.other_a.is_none() {
            let typical = self.night_w.unwrap_or(0.0) * expected.grid.step_h();
            let least = other_threshold_wh(design, expected);
            for run in runs_below(&rest, -least) {
                // It began and ended somewhere within the moments beside.
                let edges = run.start.saturating_sub(1)..(run.end + 1).min(moments);
                for m in edges {
                    self.other[m] = (typical - rest[m].unwrap_or(typical)).max(0.0);
                }
            }
        }
        let load = (0..moments)
            .map(|m| match rest[m] {
                Some(r) if expected.signals.other_a.is_none() => r + self.other[m],
                Some(r) => r,
                None => 0.0,
            })
            .collect();
        self.load = Some(load);
    }

    /// With the bank's side alone: in the dark the outflow is the load, by day a load is taken to run that
    /// goes with the night's, and the rest of the inflow is harvest, unless it exceeds what the array could
    /// give.
    fn estimate_from_bank(&mut self, design: &Design, expected: &Expectation, bank: &Folded) {
        let step_h = expected.grid.step_h();
        self.by_day_w = by_day_w(design, expected, bank);
        let typical = self.by_day_w.value * step_h;
        let least = other_threshold_wh(design, expected);
        let moments = expected.grid.moments;
        let mut harvest = vec![0.0; moments];
        let mut load = vec![0.0; moments];
        for m in 0..moments {
            if bank.coverage(m) < 0.2 {
                continue;
            }
            let net = bank.net(m);
            let most = expected.offers[m].output_w * step_h * 1.3;
            if expected.regimes[m] == Regime::Dark {
                load[m] = if net < 0.0 { -net } else { typical };
                if net > least {
                    self.other[m] = net + typical;
                }
            } else {
                let inflow = (net + typical).max(0.0);
                if inflow > most + least {
                    self.other[m] = inflow - most.min(inflow);
                    harvest[m] = most.min(inflow);
                } else {
                    harvest[m] = inflow;
                }
                load[m] = harvest[m] + self.other[m] - net;
            }
        }
        self.load = Some(load);
        self.harvest_estimate = Some(harvest);
    }
}

/// The load by day as the nights tell it, W: their mean, times what the budget puts on the day against the
/// night. Nobody saw it: from a third to twice of that is a day like others.
fn by_day_w(design: &Design, expected: &Expectation, bank: &Folded) -> Interval {
    let dark = (0..expected.grid.moments).filter(|m| expected.offers[*m].elevation_deg < -2.0);
    let seen: Vec<f64> = dark
        .filter_map(|m| bank.mean(m))
        .map(|w| (-w).max(0.0))
        .collect();
    let budget = budget::budget(design);
    let known = budget.day_wh > 0.0 && budget.night_wh > 0.0;
    let by_day = if known {
        (budget.day_wh / budget.night_wh).clamp(1.0 / 3.0, 3.0)
    } else {
        1.0
    };
    let usual = mean(&seen).unwrap_or(0.0) * by_day;
    Interval::new(usual, usual / 3.0, 2.0 * usual)
}

/// Hours by day in which the bank was held at its voltage over those in which it was not; 1 at most: a charger
/// is not known to run more often where nobody sees it.
fn held_to_free(expected: &Expectation) -> f64 {
    let by_day = || {
        let regimes = expected.regimes.iter();
        regimes.filter(|regime| !matches!(regime, Regime::Dark | Regime::Gap))
    };
    let held = by_day().filter(|regime| **regime == Regime::Held).count();
    let free = by_day().count() - held;
    (held as f64 / free.max(1) as f64).min(1.0)
}

fn other_threshold_wh(design: &Design, expected: &Expectation) -> f64 {
    let volts = design.nominal_v();
    let watts = (OTHER_C * design.battery.capacity_ah * volts).max(30.0 * volts / 12.0);
    watts * expected.grid.step_h()
}

/// Stretches of at least a quarter of an hour below a level.
fn runs_below(values: &[Option<f64>], level: f64) -> Vec<std::ops::Range<usize>> {
    let mut runs = Vec::new();
    let mut start = None;
    for m in 0..=values.len() {
        let below = values.get(m).copied().flatten().is_some_and(|v| v < level);
        match (below, start) {
            (true, None) => start = Some(m),
            (false, Some(from)) => {
                if m - from >= OTHER_MOMENTS {
                    runs.push(from..m);
                }
                start = None;
            }
            _ => {}
        }
    }
    runs
}

fn logged_other(expected: &Expectation) -> Option<Vec<f64>> {
    let amps = expected.signals.other_a.as_ref()?;
    let volts = expected.signals.bank_v.as_ref()?;
    Some(
        (0..expected.grid.moments)
            .map(|m| amps.net(m) * volts.mean(m).unwrap_or(0.0))
            .collect(),
    )
}

/// Median load while the sun is down and nothing charges, W.
fn night_load_w(expected: &Expectation) -> Option<f64> {
    let signals = &expected.signals;
    let seen: Vec<f64> = (0..expected.grid.moments)
        .filter(|m| expected.offers[*m].elevation_deg < -2.0)
        .filter_map(|m| match (&signals.load_w, &signals.bank_w) {
            (Some(load), _) => load.mean(m),
            (None, Some(bank)) => bank.mean(m).filter(|w| *w < 0.0).map(|w| -w),
            _ => None,
        })
        .collect();
    (seen.len() >= 12).then(|| median(&seen)).flatten()
}

/// Half the 90 % range of what the runs take, share: that of the least sure resistance, for what a current reads
/// too high it counts twice and the resistance once less. One that rose on the way is not the same for all days.
fn cable_error(runs: &[Result<RunFit, NotMeasurable>]) -> f64 {
    let error = |run: &Result<RunFit, NotMeasurable>| match run {
        Ok(run) if run.from_day == 0 => {
            let mohm = &run.resistance_mohm;
            mohm.half_width() / mohm.value.max(1e-3)
        }
        _ => UNMEASURED,
    };
    runs.iter().map(error).fold(0.0, f64::max).min(UNMEASURED)
}

/// What the controllers' runs to the bank take, Wh: the square of each one's current times its resistance, the
/// measured one where there is one, else the design's, else nothing.
fn cable_wh(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
    runs: &[Result<RunFit, NotMeasurable>],
) -> Vec<f64> {
    let mut wh = vec![0.0; expected.grid.moments];
    for (side, run) in wire::sides(design, timeline).iter().zip(runs) {
        let mohm = match run {
            Ok(fit) => Some(fit.resistance_mohm.value),
            Err(_) => run_mohm(design, Run::ControllerBattery, side.controller),
        };
        let mohm = mohm.unwrap_or(0.0).max(0.0);
        let mut channels = timeline
            .channels
            .iter()
            .filter(|c| c.role == Role::ChargeCurrent)
            .filter(|c| side.name.is_none() || c.controller.as_deref() == side.name);
        let lone = channels.next().filter(|_| channels.next().is_none());
        let own = lone.map(|channel| expected.grid.fold(timeline, &channel.series));
        let Some(amps) = own.as_ref().or(expected.signals.charge_a.as_ref()) else {
            continue;
        };
        for (m, wh) in wh.iter_mut().enumerate() {
            let squares = lone
                .and_then(|channel| mean_square(timeline, channel, expected, m))
                .or_else(|| amps.mean(m).map(|a| a.max(0.0).powi(2)));
            *wh += squares.map_or(0.0, |squares| {
                squares * mohm / 1000.0 * amps.covered(m) / 3600.0
            });
        }
    }
    wh
}

/// Mean square of a current's readings in a moment: under passing clouds it is more than the square of
/// their mean, and of the line between them. `None` where no row fell into it.
fn mean_square(
    timeline: &Timeline,
    channel: &Channel,
    expected: &Expectation,
    moment: usize,
) -> Option<f64> {
    let from = timeline.bin_at(expected.grid.time_of(moment))?;
    let bins = usize::try_from(STEP_S / timeline.bin_s.max(1)).ok()?;
    let squares: Vec<f64> = (from..(from + bins).min(timeline.bins))
        .filter_map(|bin| timeline.reading(channel, bin))
        .map(|amps| amps.max(0.0).powi(2))
        .collect();
    mean(&squares)
}
