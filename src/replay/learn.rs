//! What the log says of the plant as it is: voltages really held, how the bank answers to current, how
//! slowly it fills, what the run resists.

use super::course::ONE_LEVEL_V;
use super::limits::Limits;
use super::plant::{Plant, RestCurve, designed, usual_ohm, usual_tau_h};
use super::reference::Reference;
use crate::account::Accounts;
use crate::design::{Design, Run, wiring};
use crate::expect::setpoints::compensation_v;
use crate::expect::{Expectation, Regime};
use crate::stats::quantile::{median, quantile};
use crate::timeline::stage;

/// Readings that make a figure of the plant: two hours of moments.
const ENOUGH: usize = 24;
/// A level this far below absorption is float, V per 12 V.
const FLOAT_BELOW_V: f64 = 0.3;
/// From this state of charge on the voltage rises steeply.
const TOP: f64 = 0.95;
/// A rest curve of the trade may lie this far beside the owner's bank and meter, V per 12 V.
const MOST_OFFSET_V: f64 = 0.4;

/// The plant as the log shows it; where the log says nothing, as designed.
pub fn plant(
    design: &Design,
    expected: &Expectation,
    accounts: &Accounts,
    reference: &Reference,
) -> Plant {
    let mut plant = designed(design);
    let units = plant.nominal_v / 12.0;
    plant.full_v = expected.absorption_v - crate::account::charge::NEAR_ABSORPTION_V * units;
    plant.programme.limits = Limits::seen(expected);
    plant.programme.absorption_v = expected.absorption_v;
    learn_programme(design, expected, accounts, &mut plant);
    learn_bank(design, expected, reference, &mut plant);
    if accounts.attribution.estimated {
        plant.programme.limits = Limits::of_all(f64::INFINITY);
    }
    plant
}

/// Resistance between controller and bank by day, ohm: measured from the day the line stands for, the
/// design's before. Nothing where the controller's own voltage and current were not both logged: its
/// output and its set point are then known at the bank only.
pub fn run_ohm(design: &Design, expected: &Expectation, accounts: &Accounts) -> Vec<f64> {
    let days = expected.grid.dates.len();
    let signals = &expected.signals;
    if signals.charge_v.is_none() || signals.charge_a.is_none() {
        return vec![0.0; days];
    }
    let own = wiring::run_mohm(design, Run::ControllerBattery, 0);
    (0..days)
        .map(|day| {
            let mohm = match &accounts.run {
                Ok(fit) if day >= fit.from_day => fit.resistance_mohm.value,
                Ok(fit) => own.unwrap_or(fit.resistance_mohm.value),
                Err(_) => own.unwrap_or(0.0),
            };
            mohm.max(0.0) / 1000.0
        })
        .collect()
}

/// Voltages and times the controller really holds.
fn learn_programme(
    design: &Design,
    expected: &Expectation,
    accounts: &Accounts,
    plant: &mut Plant,
) {
    let signals = &expected.signals;
    let Some(volts) = signals.regulated_v() else {
        return;
    };
    let units = plant.nominal_v / 12.0;
    // In the bank meter's volts: what two meters disagree by is no voltage.
    let apart_v = accounts.run.as_ref().map_or(0.0, |fit| fit.offset_v);
    let level = |m: usize| Some(volts.mean(m)? - apart_v - compensation_v(design, signals, m));
    let staged = |m: usize| signals.stage.as_ref()?.mean(m).map(f64::round);
    let held: Vec<(usize, f64)> = (0..expected.grid.moments)
        .filter(|m| expected.regimes[*m] == Regime::Held)
        .filter(|m| staged(*m) != Some(stage::EQUALISE))
        .filter_map(|m| Some((m, level(m)?)))
        .collect();
    let all: Vec<f64> = held.iter().map(|h| h.1).collect();
    let Some(top) = quantile(&all, 0.98) else {
        return;
    };
    let near_design = (top - plant.programme.absorption_v).abs() <= ONE_LEVEL_V * units;
    let at_top = |v: f64| v >= top - ONE_LEVEL_V * units;
    let high: Vec<f64> = all.iter().copied().filter(|v| at_top(*v)).collect();
    // A trip on which absorption was never reached shows float alone.
    let is_float = plant
        .programme
        .float_v
        .is_some_and(|f| top < f + ONE_LEVEL_V * units);
    if high.len() >= 6 && !is_float && (near_design || high.len() >= ENOUGH) {
        plant.programme.absorption_v = median(&high).unwrap_or(plant.programme.absorption_v);
    }
    let low: Vec<f64> = all
        .iter()
        .copied()
        .filter(|v| *v < top - FLOAT_BELOW_V * units || is_float)
        .collect();
    if low.len() >= ENOUGH
        && let Some(designed) = plant.programme.float_v
        && let Some(seen) = median(&low)
        && (seen - designed).abs() <= 0.3 * units
    {
        plant.programme.float_v = Some(seen);
    }
    if !is_float && let Some(hours) = absorption_h(expected, &held, top, units) {
        plant.programme.absorption_h = hours;
    }
}

/// How long absorption lasted on days on which float followed it, h; `None` on fewer than two.
fn absorption_h(
    expected: &Expectation,
    held: &[(usize, f64)],
    top: f64,
    units: f64,
) -> Option<f64> {
    let mut found = Vec::new();
    for day in 0..expected.grid.dates.len() {
        let today: Vec<&(usize, f64)> = held
            .iter()
            .filter(|h| expected.grid.day(day).contains(&h.0))
            .collect();
        let is_low = |h: &&&(usize, f64)| h.1 < top - FLOAT_BELOW_V * units;
        let Some(first_low) = today.iter().position(|h| is_low(&h)) else {
            continue;
        };
        let high = today[..first_low]
            .iter()
            .filter(|h| h.1 >= top - ONE_LEVEL_V * units)
            .count();
        if high > 0 {
            found.push(high as f64 * expected.grid.step_h());
        }
    }
    (found.len() >= 2).then(|| median(&found)).flatten()
}

/// State of charge, current into the bank (A) and voltage of one moment.
#[derive(Debug, Clone, Copy)]
struct Reading {
    soc: f64,
    amps: f64,
    volts: f64,
}

/// How the bank's voltage answers to charge and current.
fn learn_bank(design: &Design, expected: &Expectation, reference: &Reference, plant: &mut Plant) {
    let signals = &expected.signals;
    let (Some(volts), Some(amps)) = (&signals.bank_v, &signals.bank_a) else {
        return;
    };
    let readings: Vec<Reading> = (0..expected.grid.moments)
        .filter_map(|m| {
            Some(Reading {
                soc: reference.soc[m]?,
                amps: amps.mean(m)?,
                volts: volts.mean(m)?,
            })
        })
        .collect();
    let lead = design.battery.chemistry.is_lead();
    // Charging lead shows how slowly it fills, not what it resists.
    let plain: Vec<Reading> = readings
        .iter()
        .copied()
        .filter(|r| r.amps < 0.0 || (!lead && r.soc < TOP))
        .collect();
    if plain.len() < ENOUGH {
        return;
    }
    let usual = usual_ohm(
        design.battery.chemistry,
        plant.bank.capacity_ah,
        plant.nominal_v,
    );
    let rest = &plant.bank.rest;
    let ohm = slope(&plain, rest).unwrap_or(usual);
    plant.bank.ohm = ohm.clamp(0.2 * usual, 3.0 * usual);
    let most = MOST_OFFSET_V * plant.nominal_v / 12.0;
    plant.bank.rest = rest.moved(&beside(&plain, rest, plant.bank.ohm, most));
    if lead {
        learn_tau(design, expected, &readings, plant);
    }
}

/// Volts per ampere of a straight line with an intercept, within one state of charge and the next; `None`
/// where the current hardly varied.
fn slope(readings: &[Reading], rest: &RestCurve) -> Option<f64> {
    let points: Vec<(f64, f64)> = readings
        .iter()
        .map(|r| (r.amps, r.volts - rest.at(r.soc)))
        .collect();
    let n = points.len() as f64;
    let (mx, my) = (
        points.iter().map(|p| p.0).sum::<f64>() / n,
        points.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let sxx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    (sxx > 0.25 * n).then(|| sxy / sxx)
}

/// What the bank reads beside the trade's rest curve, by state of charge: medians of bands, finer at the
/// top, where the curve is steep.
fn beside(readings: &[Reading], rest: &RestCurve, ohm: f64, most_v: f64) -> Vec<(f64, f64)> {
    let edges: Vec<f64> = (0..19)
        .map(|i| f64::from(i) * 0.05)
        .chain((0..=5).map(|i| TOP + f64::from(i) * 0.01))
        .collect();
    edges
        .windows(2)
        .filter_map(|band| {
            let seen: Vec<f64> = readings
                .iter()
                .filter(|r| r.soc >= band[0] && (r.soc < band[1] || band[1] >= 1.0))
                .map(|r| r.volts - ohm * r.amps - rest.at(r.soc))
                .collect();
            let middle = median(&seen).filter(|_| seen.len() >= ENOUGH / 3)?;
            Some(((band[0] + band[1]) / 2.0, middle.clamp(-most_v, most_v)))
        })
        .collect()
}

/// How slowly a lead bank fills: the trade's rule solved for tau, over charging moments.
fn learn_tau(design: &Design, expected: &Expectation, readings: &[Reading], plant: &mut Plant) {
    let bank = &plant.bank;
    let least_a = 0.02 * bank.capacity_ah;
    let found: Vec<f64> = readings
        .iter()
        .filter(|r| r.amps > least_a && r.soc > 0.3 && r.soc < 0.97)
        .map(|r| {
            let rest = bank.rest.at(r.soc);
            let ohm = (r.volts - rest) / r.amps - bank.ohm;
            let over = (expected.absorption_v - rest).max(0.1);
            ohm * (1.0 - r.soc) * bank.capacity_ah / over
        })
        .collect();
    let (_, low, high) = usual_tau_h(design.battery.chemistry);
    if found.len() >= ENOUGH
        && let Some(tau) = median(&found)
    {
        // A bank of its own kind may lie beyond the usual range, but not at nothing.
        plant.bank.tau_h = tau.clamp(0.25 * low, 2.0 * high);
    }
}
