//! A case in another place: other air, days of its climate in another order, panels that stand a little
//! askew and another bank of the same label, so that many trips of one case are not many readings of one.

use super::dice::Dice;
use super::scenario::{BankSpec, Scenario};
use crate::design::Chemistry;

/// Stream of this chance alone.
const STREAM: u64 = 6;
/// Turbidities of places: of nine in ten between these (trade reference 2.3: 2 to 5).
const TURBIDITY: (f64, f64) = (2.0, 5.0);
/// Degrees that panels lean north and east without anyone's notice: nine in ten up to this.
const LEAN_DEG: f64 = 3.0;
/// Resistances of sound banks of one label, the highest over the lowest (trade reference 6.8: 2.5 to 8 mohm
/// for 100 Ah).
const RESISTANCES: f64 = 3.2;
/// Quantile of the normal distribution at the end of a 90 % range.
const Z90: f64 = 1.645;

/// Draws all by a seed: each day one of the case's own days, the turbidity about the middle of its range by
/// ratio, a lean at each stop.
pub(super) fn drawn(scenario: &mut Scenario, seed: u64) {
    let mut dice = Dice::new(seed, STREAM);
    let (low, high) = TURBIDITY;
    let turbidity = (low * high).sqrt() * (high / low).powf(dice.normal() / (2.0 * Z90));
    scenario.haze = beam_share(turbidity);
    let own: Vec<char> = scenario.weather.chars().collect();
    let days = (0..scenario.days).filter_map(|_| {
        let day = dice.range(0.0, own.len() as f64);
        own.get(day as usize)
    });
    scenario.weather = days.collect::<String>().into();
    for stop in &mut scenario.stops {
        let mut lean = || LEAN_DEG / Z90 * dice.normal();
        stop.lean.0 += lean();
        stop.lean.1 += lean();
    }
    bank_drawn(&mut scenario.bank, &mut dice);
}

/// Another bank of the label: what it loses of its charge and its resistance about the case's own by ratio,
/// as wide as such banks differ. One that no sound bank is like stays as ill as the case made it.
fn bank_drawn(bank: &mut BankSpec, dice: &mut Dice) {
    let spread = |ratio: f64, dice: &mut Dice| ratio.powf(dice.normal() / (2.0 * Z90));
    let lost = (1.0 - bank.sound_share) * spread(charge_losses(bank.chemistry), dice);
    bank.sound_share = (1.0 - lost).max(bank.lowest_usual_efficiency());
    let usual = bank.highest_usual_ohm();
    let ohm = bank.r0_ohm * spread(RESISTANCES, dice);
    if bank.r0_ohm <= usual {
        bank.r0_ohm = ohm.min(usual);
    }
}

/// Losses of charge of sound banks of one kind, the highest over the lowest (trade reference 6.5: 0.1 to
/// 1 %, 3 to 10 %, 8 to 20 %).
fn charge_losses(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Lfp | Chemistry::Nmc => 10.0,
        Chemistry::Agm | Chemistry::Gel => 3.3,
        Chemistry::Flooded => 2.5,
    }
}

/// Share of the beam that one vertical air mass of a turbidity lets through, at sea level (trade reference
/// 2.3, the beam of the 2002 paper).
fn beam_share(turbidity: f64) -> f64 {
    0.827 * (-0.09 * (turbidity - 1.0)).exp()
}
