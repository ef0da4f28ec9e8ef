//! A case in another place: other air, days of its climate in another order, and panels that stand a little
//! askew, so that many trips of one case are not many readings of one.

use super::dice::Dice;
use super::scenario::Scenario;

/// Stream of this chance alone.
const STREAM: u64 = 6;
/// Turbidities of places: of nine in ten between these (trade reference 2.3: 2 to 5).
const TURBIDITY: (f64, f64) = (2.0, 5.0);
/// Degrees that panels lean north and east without anyone's notice: nine in ten up to this.
const LEAN_DEG: f64 = 3.0;
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
}

/// Share of the beam that one vertical air mass of a turbidity lets through, at sea level (trade reference
/// 2.3, the beam of the 2002 paper).
fn beam_share(turbidity: f64) -> f64 {
    0.827 * (-0.09 * (turbidity - 1.0)).exp()
}
