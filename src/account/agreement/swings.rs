//! The bank's current against the controller's by their swings alone: when a cloud passes, both change by
//! the same, whatever the loads draw meanwhile.

use super::{Comparison, Readings};
use crate::expect::{Expectation, Regime, STEP_S, regime::beside_held};
use crate::mapping::Role;
use crate::quantity::Interval;
use crate::stats::quantile::quantile;
use crate::timeline::{Channel, Timeline};

/// A swing counts from this share of a usual high charging current on: smaller ones are loads.
const LEAST_SHARE: f64 = 0.05;

/// Rows of two meters are about as far apart as each other up to this factor.
const UNEVEN: f64 = 2.0;

/// Slope of the change of the bank's current on the change of the controller's, from one five minutes to
/// the next, while the array follows the sun. Loads come and go without asking the clouds: they scatter the
/// bank's changes and leave the slope. Held hours are left out, since there the controller answers the loads.
pub(super) fn bank_over_output(timeline: &Timeline, expected: &Expectation) -> Option<Comparison> {
    let bank = timeline.channel(Role::BatteryCurrent)?;
    let outputs = timeline.channels.iter();
    let outputs: Vec<&Channel> = outputs.filter(|c| c.role == Role::ChargeCurrent).collect();
    if blurs(bank, &outputs) {
        return None;
    }
    let sources: Vec<String> = outputs
        .iter()
        .map(|c| format!("\"{}\"", c.source))
        .collect();
    let signals = &expected.signals;
    let (flow, charging) = (signals.bank_a.as_ref()?, signals.charge_a.as_ref()?);
    let grid = &expected.grid;
    let counts = |m: usize| {
        expected.regimes[m] == Regime::Following
            && !beside_held(&expected.regimes, m, expected.signals.reach())
            && flow.coverage(m) > 0.8
            && charging.coverage(m) > 0.8
    };
    let amps: Vec<f64> = (0..grid.moments).filter_map(|m| charging.mean(m)).collect();
    let least = LEAST_SHARE * quantile(&amps, 0.95)?;
    let mut readings = Readings::default();
    for m in 1..grid.moments {
        if !(counts(m - 1) && counts(m)) {
            continue;
        }
        let change = charging.mean(m)? - charging.mean(m - 1)?;
        if change.abs() > least {
            readings.push(grid, m, flow.mean(m)? - flow.mean(m - 1)?, change);
        }
    }
    let readings = readings.thinned();
    Some(Comparison {
        what: format!(
            "swings of the bank's current (\"{}\") over those of the charging current ({})",
            bank.source,
            sources.join(" and ")
        ),
        ratio: between(&readings)?,
        expected: (1.0, 1.0),
        also_possible: vec![
            "a second controller or array whose output the log does not show".to_owned(),
            "a load that follows the sun, such as a water heater on surplus".to_owned(),
            "the controller's meter or the shunt's rating set wrongly, or averages over different minutes"
                .to_owned(),
        ],
        days: readings.days(),
        how: format!(
            "Slope of the changes from one five minutes to the next, {} of them, while the array followed the sun: loads scatter them and do not tilt the slope.",
            readings.first.len()
        ),
    })
}

/// Whether the rows of one stand so far apart, beside the others', that its swings come out smaller: a mean over
/// minutes, or a line across them, has lost some of what the others show.
fn blurs(bank: &Channel, outputs: &[&Channel]) -> bool {
    let steps = || outputs.iter().map(|c| c.step_s).chain([bank.step_s]);
    let (finest, coarsest) = (
        steps().fold(f64::INFINITY, f64::min),
        steps().fold(0.0, f64::max),
    );
    coarsest > STEP_S as f64 / 2.0 && coarsest > UNEVEN * finest
}

/// The ratio, as far as scatter leaves it known. Readings that two meters take seconds apart tilt the slope
/// of the bank's changes towards nothing, and loads tilt that of the controller's changes on the bank's: the
/// truth lies between the first and the inverse of the second.
fn between(readings: &Readings) -> Option<Interval> {
    let one = readings.slope()?;
    let inverse = readings.swapped().steepness()?;
    (inverse.low > 0.0).then(|| Interval::new(one.value, one.low, one.high.max(1.0 / inverse.low)))
}
