//! Charging while the bank was colder or hotter than it may be, and whether the season makes that
//! possible where its temperature was not logged.

use std::ops::Range;

use chrono::Datelike;

use crate::design::Design;
use crate::expect::{Expectation, Folded};
use crate::stats::quantile::median;
use crate::words::about;

/// A sensor outside this range is broken or not connected, C.
const BELIEVED_C: std::ops::Range<f64> = -40.0..100.0;
/// A column that moves less than this over half a day shows no temperature, C.
const STILL_C: f64 = 0.05;
/// Time after which a column that does not move counts as standing still, h.
const STILL_H: f64 = 12.0;
/// How far a cold night may fall below its month's mean air, C: the day's swing and a cold spell.
pub(super) const COLDER_C: f64 = 15.0;
/// How far a closed locker may stand above its month's mean air, C: the day's swing, a hot spell and the sun on it.
pub(super) const HOTTER_C: f64 = 30.0;
/// How far a bank in a locker may stand from logged air, C.
const FROM_AIR_C: f64 = 15.0;

/// So near a limit a sensor stands at it: its last digit, and the line between two rows, C.
const AT_LIMIT_C: f64 = 0.25;

/// A temperature the bank must not be charged beyond, C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bound {
    /// Not colder than this.
    Lowest(f64),
    /// Not hotter than this.
    Highest(f64),
}

impl Bound {
    /// The bound itself, C.
    pub fn limit_c(self) -> f64 {
        match self {
            Bound::Lowest(c) | Bound::Highest(c) => c,
        }
    }

    fn is_passed(self, c: f64) -> bool {
        match self {
            Bound::Lowest(limit) => c < limit,
            Bound::Highest(limit) => c > limit,
        }
    }

    fn worse(self, a: f64, b: f64) -> f64 {
        match self {
            Bound::Lowest(_) => a.min(b),
            Bound::Highest(_) => a.max(b),
        }
    }
}

/// What the log shows of charging beyond a bound.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Beyond {
    /// How long the bank was charged meanwhile, minutes.
    pub charged_min: f64,
    /// The worst temperature it was charged at, C, where it was.
    pub worst_charged_c: Option<f64>,
    /// The worst temperature read, C.
    pub worst_c: Option<f64>,
    /// Days (index into the grid's dates) with such charging.
    pub days: Vec<usize>,
}

impl Beyond {
    /// Whether it was charged clearly beyond the bound, and not with a sensor that stands at it.
    pub fn is_clear(&self, bound: Bound) -> bool {
        self.worst_charged_c
            .is_some_and(|c| (c - bound.limit_c()).abs() > AT_LIMIT_C)
    }

    /// How much it was charged beyond the limit, where that is too little to tell from a slip.
    pub fn hardly(&self) -> String {
        if self.charged_min > 0.0 {
            format!("charged for no more than {} min", about(self.charged_min))
        } else {
            "never charged".to_owned()
        }
    }
}

/// Why the log shows nothing of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Blind {
    /// The bank's temperature was not logged.
    NoTemperature,
    /// It was logged as one and the same figure throughout, C.
    StandsStill(f64),
    /// It was beyond the bound while something charged, but the bank's own current was not logged.
    NoCurrent,
}

/// Charging beyond a bound, from the bank's own logged temperature and current. Air is never taken for it.
pub fn beyond(design: &Design, expected: &Expectation, bound: Bound) -> Result<Beyond, Blind> {
    let signals = &expected.signals;
    let cells = signals.bank_c.as_ref().ok_or(Blind::NoTemperature)?;
    if let Some(c) = still(expected, cells) {
        return Err(Blind::StandsStill(c));
    }
    let least_a = design.judging.charging_c * design.battery.capacity_ah;
    let mut seen = Beyond::default();
    let mut perhaps = false;
    for m in 0..expected.grid.moments {
        let Some(c) = cells.mean(m).filter(|c| BELIEVED_C.contains(c)) else {
            continue;
        };
        seen.worst_c = Some(seen.worst_c.map_or(c, |w| bound.worse(w, c)));
        if !bound.is_passed(c) {
            continue;
        }
        match &signals.bank_a {
            Some(amps) if amps.mean(m).is_some_and(|a| a > least_a) => {
                seen.charged_min += amps.covered(m) / 60.0;
                seen.worst_charged_c = Some(seen.worst_charged_c.map_or(c, |w| bound.worse(w, c)));
                seen.days.push(expected.grid.day_of(m));
            }
            Some(_) => {}
            None => perhaps |= most_into_bank_a(design, expected, m) > least_a,
        }
    }
    seen.days.dedup();
    if seen.worst_c.is_none() {
        return Err(Blind::NoTemperature);
    }
    if perhaps {
        return Err(Blind::NoCurrent);
    }
    Ok(seen)
}

/// The bank's middle temperature over moments of the grid, C, where its sensor can be believed.
pub fn bank_c(expected: &Expectation, moments: Range<usize>) -> Option<f64> {
    let cells = expected.signals.bank_c.as_ref()?;
    let read: Vec<f64> = moments
        .filter_map(|m| cells.mean(m))
        .filter(|c| BELIEVED_C.contains(c))
        .collect();
    median(&read).filter(|_| still(expected, cells).is_none())
}

/// The one figure a temperature column stands at, C; `None` where it moves. Ends at the first move, since a
/// long log asks this many times.
fn still(expected: &Expectation, cells: &Folded) -> Option<f64> {
    let (mut low, mut high, mut count) = (f64::INFINITY, f64::NEG_INFINITY, 0usize);
    for c in (0..expected.grid.moments).filter_map(|m| cells.mean(m)) {
        low = low.min(c);
        high = high.max(c);
        count += 1;
        if high - low >= STILL_C {
            return None;
        }
    }
    let hours = count as f64 * expected.grid.step_h();
    (hours >= STILL_H).then_some(low)
}

/// The most that can have gone into the bank, A: all that the controller gave.
fn most_into_bank_a(design: &Design, expected: &Expectation, moment: usize) -> f64 {
    let signals = &expected.signals;
    let mean = |f: &Option<Folded>| f.as_ref().and_then(|f| f.mean(moment));
    mean(&signals.charge_a)
        .or_else(|| mean(&signals.harvest).map(|w| w / design.nominal_v().max(1.0)))
        .unwrap_or(0.0)
}

/// Whether the season lets a bank pass the bound. From logged air where there is any, else from the
/// plan's months; only ever used to keep silent or to say that it is not known.
pub fn season_allows(design: &Design, expected: &Expectation, bound: Bound) -> bool {
    let logged: Vec<f64> = expected
        .signals
        .air_c
        .iter()
        .flat_map(|air| (0..expected.grid.moments).filter_map(|m| air.mean(m)))
        .filter(|c| BELIEVED_C.contains(c))
        .collect();
    let (airs, colder, hotter) = if logged.is_empty() {
        let months = expected.grid.dates.iter().map(|d| d.month0() as usize);
        let planned = months.filter_map(|m| design.plan.air_c.get(m).copied());
        (planned.collect(), COLDER_C, HOTTER_C)
    } else {
        (logged, FROM_AIR_C, FROM_AIR_C)
    };
    airs.iter().any(|air| match bound {
        Bound::Lowest(limit) => air - colder < limit,
        Bound::Highest(limit) => air + hotter > limit,
    })
}
