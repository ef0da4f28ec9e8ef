//! Two meters of one quantity, moment by moment.

use super::{Comparison, Readings};
use crate::design::Design;
use crate::expect::{Expectation, Folded, Regime};
use crate::mapping::Role;
use crate::stats::quantile::quantile;
use crate::timeline::{Channel, Timeline};

/// Share of a usual high reading below which a reading says more of zeros than of gains.
const LEAST_SHARE: f64 = 0.10;
/// Rest at no current that what no meter shows may not pass, share of the current's range: the meters'
/// own zeros are within it.
const REST_SHARE: f64 = 0.03;

/// Currents and powers that two logs hold of one place.
pub(super) fn twice_logged(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
) -> Vec<Comparison> {
    timeline
        .also
        .iter()
        .filter(|also| is_flow(also.role) && is_one_place(design, also))
        .filter_map(|also| {
            let kept = timeline
                .channels
                .iter()
                .find(|c| c.role == also.role && c.controller == also.controller)?;
            twice(timeline, expected, kept, also)
        })
        .collect()
}

fn is_flow(role: Role) -> bool {
    // Powers repeat what the currents say, and voltages are compared elsewhere.
    matches!(
        role,
        Role::BatteryCurrent
            | Role::ArrayCurrent
            | Role::ChargeCurrent
            | Role::LoadCurrent
            | Role::OtherCurrent
    )
}

/// With several controllers a log that names none may be another one's.
fn is_one_place(design: &Design, channel: &Channel) -> bool {
    let of_one = !matches!(channel.role, Role::ArrayCurrent | Role::ChargeCurrent);
    of_one || design.controllers.len() == 1 || channel.controller.is_some()
}

fn twice(
    timeline: &Timeline,
    expected: &Expectation,
    kept: &Channel,
    also: &Channel,
) -> Option<Comparison> {
    let grid = &expected.grid;
    let (one, two) = (
        grid.fold(timeline, &kept.series),
        grid.fold(timeline, &also.series),
    );
    let readings = both(expected, &one, &two, |_| true);
    Some(Comparison {
        what: format!(
            "{}: \"{}\" over \"{}\"",
            kept.role.name(),
            kept.source,
            also.source
        ),
        ratio: readings.ratio()?,
        expected: (1.0, 1.0),
        also_possible: vec![
            "two meters in different places: a load, a charger or a second controller between them"
                .to_owned(),
            "loads or chargers wired past one of two shunts".to_owned(),
            "a shunt's rating set wrongly in one meter".to_owned(),
        ],
        days: readings.days(),
        how: format!(
            "Slope of the one against the other over {} readings of both within the same five minutes.",
            readings.first.len()
        ),
    })
}

/// Readings of both signals where they are large enough to say something of a gain.
fn both(
    expected: &Expectation,
    one: &Folded,
    two: &Folded,
    counts: impl Fn(usize) -> bool,
) -> Readings {
    let grid = &expected.grid;
    let pairs: Vec<(usize, f64, f64)> = (0..grid.moments)
        .filter(|m| counts(*m) && one.coverage(*m) > 0.8 && two.coverage(*m) > 0.8)
        .filter_map(|m| Some((m, one.mean(m)?, two.mean(m)?)))
        .collect();
    let sizes: Vec<f64> = pairs.iter().map(|p| p.1.abs()).collect();
    let least = LEAST_SHARE * quantile(&sizes, 0.95).unwrap_or(0.0);
    let mut readings = Readings::default();
    for (m, first, second) in pairs {
        if first.abs() > least && second.abs() > 0.0 {
            readings.push(grid, m, first, second);
        }
    }
    readings.thinned()
}

/// The bank's current over charging less loads, where the loads have a meter of their own: at noon and
/// by night the three must add up. `None` where they leave a rest at no current, which is loads or
/// chargers that no meter shows: then nothing says that the meters disagree.
pub(super) fn bank_over_net(timeline: &Timeline, expected: &Expectation) -> Option<Comparison> {
    let channel = |role| timeline.channel(role);
    let (bank, charge, load) = (
        channel(Role::BatteryCurrent)?,
        channel(Role::ChargeCurrent)?,
        channel(Role::LoadCurrent)?,
    );
    // One device reckons the one from the others.
    if charge.source == bank.source && load.source == bank.source {
        return None;
    }
    let grid = &expected.grid;
    let fold = |c: &Channel| grid.fold(timeline, &c.series);
    let (flow, loads) = (fold(bank), fold(load));
    let charging = expected.signals.charge_a.as_ref()?;
    let other = expected.signals.other_a.as_ref();
    let mut net = Folded::empty(grid.moments);
    for m in 0..grid.moments {
        // A controller that sleeps at night gives nothing.
        let dark = expected.regimes[m] == Regime::Dark;
        if loads.coverage(m) > 0.8 && (dark || charging.coverage(m) > 0.8) {
            let amps_h = charging.net(m) + other.map_or(0.0, |o| o.net(m)) - loads.net(m);
            net.in_h[m] = amps_h.max(0.0);
            net.out_h[m] = (-amps_h).max(0.0);
            net.covered_s[m] = loads.covered_s[m];
        }
    }
    let readings = both(expected, &flow, &net, |_| true);
    let rest = readings.rest_at_nothing()?;
    let range = quantile(&readings.second, 0.95)? - quantile(&readings.second, 0.05)?;
    if rest.abs() > REST_SHARE * range {
        return None;
    }
    Some(Comparison {
        what: format!(
            "current into the bank (\"{}\") over charging less loads (\"{}\")",
            bank.source, charge.source
        ),
        ratio: readings.ratio()?,
        expected: (1.0, 1.0),
        also_possible: vec![
            "loads or chargers wired past one of the meters that run with the sun".to_owned(),
            "a shunt's rating set wrongly in the bank monitor".to_owned(),
            "the controller's or the loads' meter instead of the shunt".to_owned(),
        ],
        days: readings.days(),
        how: format!(
            "Slope of the one against the other over {} readings, charging and discharging; they leave {rest:+.2} A at no current.",
            readings.first.len()
        ),
    })
}

/// A controller's output over its input: converting takes something and never adds.
pub(super) fn output_over_input(design: &Design, expected: &Expectation) -> Option<Comparison> {
    let signals = &expected.signals;
    let (array, harvest) = (signals.array.as_ref()?, signals.harvest.as_ref()?);
    if signals.harvest_how != crate::quantity::How::Measured || design.controllers.len() > 1 {
        return None;
    }
    let readings = both(expected, harvest, array, |m| {
        expected.offers[m].elevation_deg > 0.0
    });
    Some(Comparison {
        what: "power out of the controller over power into it".to_owned(),
        ratio: readings.ratio()?,
        // What a controller takes for itself is judged elsewhere; here only what cannot be.
        expected: (0.0, 1.0),
        also_possible: vec![
            "another charger on the terminals that the controller's output is measured at"
                .to_owned(),
        ],
        days: readings.days(),
        how: format!(
            "Slope of the one against the other over {} readings of both within the same five minutes.",
            readings.first.len()
        ),
    })
}
