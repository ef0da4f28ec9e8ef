//! The sky as the bank alone shows it: what it took, and the load that is taken to have run beside.

use crate::account::Loads;
use crate::account::sky::CAP;
use crate::expect::regime::beside_held;
use crate::expect::{Expectation, Regime};

/// The load by day must not matter more than this, share of a clear sky's offer: else what the bank took says
/// more of the load than of the sky.
const LEAST_SAID: f64 = 0.3;

/// What the shares are read from.
pub(super) struct Estimate<'a> {
    expected: &'a Expectation,
    loads: &'a Loads,
    harvest: &'a [f64],
}

impl<'a> Estimate<'a> {
    /// `None` where the harvest was measured, or nothing shows it.
    pub(super) fn of(expected: &'a Expectation, loads: &'a Loads) -> Option<Self> {
        Some(Self {
            expected,
            loads,
            harvest: loads.harvest_estimate.as_ref()?,
        })
    }

    /// The share of a clear sky in a moment; `None` where the bank doesn't show it.
    pub(super) fn share(&self, moment: usize) -> Option<f64> {
        let Expectation {
            grid,
            offers,
            regimes,
            signals,
            clear,
            ..
        } = self.expected;
        let unruled = matches!(regimes[moment], Regime::Following | Regime::Unknown);
        let covered = signals.harvest_coverage(moment);
        let says = self.unsure_at(moment) <= LEAST_SAID;
        if !unruled || beside_held(regimes, moment, signals.reach()) || covered <= 0.5 || !says {
            return None;
        }
        let clear_wh = offers[moment].output_w * clear.healthy * grid.step_h() * covered;
        Some((self.harvest[moment] / clear_wh).clamp(0.0, CAP))
    }

    /// How far each moment's share may be off.
    pub(super) fn unsure(&self) -> Vec<f32> {
        (0..self.expected.grid.moments)
            .map(|m| self.unsure_at(m) as f32)
            .collect()
    }

    fn unsure_at(&self, moment: usize) -> f64 {
        let off = self.loads.by_day_w.half_width();
        off / self.expected.offers[moment].output_w.max(1e-9)
    }
}
