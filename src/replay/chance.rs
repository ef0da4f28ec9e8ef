//! What is uncertain, drawn: the same draws for every option, so that differences are paired.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use rand_distr::{Distribution, StandardNormal};

use super::plant::Plant;
use super::run::Chance;
use crate::design::Chemistry;
use crate::physics::bank;

/// Seed of all draws: the same inputs give the same report.
const SEED: u64 = 0x5eed_da75;
/// Days that stay together, since dull days come in runs.
const BLOCK: usize = 3;
/// With fewer days there is nothing to draw from: they are lived in their order.
const LEAST_DAYS: usize = 4;
/// From a standard deviation to the 90 % half-width.
const TO_90: f64 = 1.645;

/// 90 % half-widths of what a replay takes for granted, as shares.
mod widths {
    /// New panels against the owner's, label for label: tolerance and mismatch (trade reference 3.2).
    pub(super) const ADDED: f64 = 0.08;
    /// A bank in use against its rating or a found capacity.
    pub(super) const CAPACITY: f64 = 0.10;
    /// Slowness of acceptance, fitted.
    pub(super) const TAU: f64 = 0.25;
    /// Use as metered (trade reference 11: shunt gain 1 %, with the offset's part).
    pub(super) const LOAD: f64 = 0.03;
    /// The run as measured or as designed.
    pub(super) const RUN: f64 = 0.10;
}

/// Days of a log beyond which it is drawn less often.
const A_YEAR: usize = 366;
/// Fewest draws of a long log: the ends of a 90 % interval then rest on five each.
const LEAST_DRAWS: usize = 100;

/// How many of the draws asked for a log of so many days needs. Each draw lives through as many days as the
/// log has, so that one of many years tells as much of the days' order as several of a short log do.
pub(super) fn enough(asked: usize, days: usize) -> usize {
    let spread = asked * A_YEAR / days.max(A_YEAR);
    spread.max(LEAST_DRAWS.min(asked))
}

/// The draws for a plant: each its own stream of chance, whatever thread it runs on.
pub(super) fn draws(plant: &Plant, chemistry: Chemistry, days: usize, count: usize) -> Vec<Chance> {
    (0..count)
        .map(|i| one(plant, chemistry, days, i as u64))
        .collect()
}

fn one(plant: &Plant, chemistry: Chemistry, days: usize, stream: u64) -> Chance {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    rng.set_stream(stream);
    let mut normal = |half: f64| half / TO_90 * normal(&mut rng);
    let usual = bank::coulombic_efficiency(chemistry);
    let spread = (usual.high - usual.low) / 2.0;
    let factor = |z: f64| (1.0 + z).max(0.2);
    let mut chance = Chance {
        days: Vec::new(),
        sun: normal(1.0),
        added: factor(normal(widths::ADDED)),
        capacity: factor(normal(widths::CAPACITY)),
        efficiency: (plant.bank.efficiency + normal(spread / 2.0)).clamp(0.5, 1.0),
        tau: factor(normal(widths::TAU)),
        load: factor(normal(widths::LOAD)),
        run: factor(normal(widths::RUN)),
    };
    chance.days = blocks(&mut rng, days);
    chance
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// Whole days in runs of neighbours, as many as there are.
fn blocks(rng: &mut ChaCha8Rng, days: usize) -> Vec<usize> {
    if days < LEAST_DAYS {
        return (0..days).collect();
    }
    let block = BLOCK.min(days / 2);
    let mut list = Vec::with_capacity(days + block);
    while list.len() < days {
        let first = below(rng, days - block + 1);
        list.extend(first..first + block);
    }
    list.truncate(days);
    list
}

/// A whole number from 0 to `bound` - 1.
fn below(rng: &mut ChaCha8Rng, bound: usize) -> usize {
    ((u128::from(rng.next_u64()) * bound as u128) >> 64) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_log_is_drawn_less_often_but_often_enough() {
        assert_eq!(enough(500, 14), 500);
        assert_eq!(enough(500, 366), 500);
        assert_eq!(enough(500, 732), 250);
        assert_eq!(enough(500, 3653), LEAST_DRAWS);
        assert_eq!(enough(20, 3653), 20);
    }

    #[test]
    fn days_come_in_runs_and_every_stream_is_its_own() {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let days = blocks(&mut rng, 12);
        assert_eq!(days.len(), 12);
        assert!(
            days.chunks(BLOCK)
                .all(|c| c.windows(2).all(|w| w[1] == w[0] + 1))
        );
        assert_eq!(blocks(&mut rng, 3), vec![0, 1, 2]);
        assert!(blocks(&mut rng, 0).is_empty());
    }
}
