//! Nights: from one local noon to the next, each with how low the bank came.

use crate::account::Charge;
use crate::expect::{Expectation, Folded};

/// A counted state of charge less sure than this says nothing, points.
const SURE_PCT: f64 = 25.0;

/// A count that comes this close to 100 % at a full charge, beyond its error, closes, points: a bank that
/// counts as full may lack as much.
const CLOSES_PCT: f64 = 5.0;

/// One night, from noon to noon (the first from where the log begins, the last to where it ends).
#[derive(Debug, Clone, PartialEq)]
pub struct Night {
    /// Day (index into the grid's dates) of its morning; of its evening for the last one.
    pub day: usize,
    /// Moments of the grid.
    pub moments: std::ops::Range<usize>,
    /// Lowest counted state of charge, %, and its 90 % half-width, points.
    pub counted_pct: Option<(f64, f64)>,
    /// Lowest state of charge that the meter showed, %.
    pub meter_pct: Option<f64>,
}

/// All nights of the period.
pub fn nights(expected: &Expectation, charge: &Charge) -> Vec<Night> {
    let grid = &expected.grid;
    let noons = (0..grid.dates.len()).map(|day| {
        let moments = grid.day(day);
        moments.start + moments.len() / 2
    });
    let mut edges = vec![0];
    edges.extend(noons);
    edges.push(grid.moments);
    let last = grid.dates.len().saturating_sub(1);
    edges
        .windows(2)
        .enumerate()
        .map(|(i, pair)| {
            let moments = pair[0]..pair[1];
            Night {
                day: i.min(last),
                counted_pct: lowest_counted(charge, moments.clone()),
                meter_pct: lowest(expected.signals.soc.as_ref(), moments.clone()),
                moments,
            }
        })
        .collect()
}

/// Whether the count comes back to about 100 % at every full charge. Where it does not, an offset of the
/// shunt or a load past it spoils the count, and it proves no low night.
pub fn count_closes(expected: &Expectation, charge: &Charge) -> bool {
    charge.fulls.iter().skip(1).all(|at| {
        let moment =
            usize::try_from((at - expected.grid.start) / crate::expect::STEP_S).unwrap_or(0);
        let Some(before) = moment.checked_sub(1).filter(|m| *m < expected.grid.moments) else {
            return true;
        };
        charge.counted_pct[before]
            .is_none_or(|pct| 100.0 - pct <= charge.counted_error_pct[before] + CLOSES_PCT)
    })
}

fn lowest_counted(charge: &Charge, moments: std::ops::Range<usize>) -> Option<(f64, f64)> {
    moments
        .filter_map(|m| Some((charge.counted_pct[m]?, charge.counted_error_pct[m])))
        .filter(|(_, error)| *error <= SURE_PCT)
        .min_by(|a, b| (a.0 + a.1).total_cmp(&(b.0 + b.1)))
}

fn lowest(signal: Option<&Folded>, moments: std::ops::Range<usize>) -> Option<f64> {
    let signal = signal?;
    moments
        .filter_map(|m| signal.mean(m))
        .min_by(f64::total_cmp)
}
