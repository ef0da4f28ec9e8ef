//! The currents at which the controllers stop, each with its part of the sun.

use crate::design::Design;
use crate::expect::Expectation;

/// One controller's, or that of all of them together.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Limit {
    /// What its arrays have of the sun, share.
    share: f64,
    /// Highest charging current, A; infinity where nothing says.
    amps: f64,
}

/// Those of all controllers.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits(Vec<Limit>);

impl Limits {
    /// One limit on all that comes, A.
    pub fn of_all(amps: f64) -> Self {
        Self(vec![Limit { share: 1.0, amps }])
    }

    /// As the design has them, each controller with its arrays' share of the label power.
    pub fn designed(design: &Design) -> Self {
        let whole = design.array_w().max(1e-9);
        let each = design
            .controllers
            .iter()
            .enumerate()
            .map(|(k, controller)| {
                let own = design.arrays.iter().filter(|array| array.controller == k);
                let own_w: f64 = own.map(|array| array.power_w()).sum();
                Limit {
                    share: own_w / whole,
                    amps: controller.max_output_a.unwrap_or(f64::INFINITY),
                }
            });
        Self(each.collect())
    }

    /// As the log shows them; together where the controllers were not logged apart.
    pub fn seen(expected: &Expectation) -> Self {
        if expected.branches.is_empty() {
            return Self::of_all(expected.limit_a);
        }
        let offers = || expected.offers.iter().map(|offer| offer.output_w);
        let whole = offers().sum::<f64>().max(1e-9);
        let each = expected.branches.iter().map(|branch| {
            let shares = branch.share.iter().map(|share| f64::from(*share));
            Limit {
                share: offers()
                    .zip(shares)
                    .map(|(w, share)| w * share)
                    .sum::<f64>()
                    / whole,
                amps: branch.limit_a,
            }
        });
        Self(each.collect())
    }

    /// What comes through of a current that the sun would give, A.
    pub fn pass_a(&self, sun_a: f64) -> f64 {
        let through = |limit: &Limit| (limit.share * sun_a).min(limit.amps);
        self.0.iter().map(through).sum()
    }

    /// These with what two designs differ by.
    pub fn changed(&self, before: &Self, after: &Self) -> Self {
        if before == after {
            return self.clone();
        }
        if self.0.len() != after.0.len() || before.0.len() != after.0.len() {
            return after.clone();
        }
        let kept = |k: usize, new: &Limit| Limit {
            share: new.share,
            amps: if before.0[k].amps == new.amps {
                self.0[k].amps
            } else {
                new.amps
            },
        };
        Self(
            after
                .0
                .iter()
                .enumerate()
                .map(|(k, new)| kept(k, new))
                .collect(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two(amps: [f64; 2]) -> Limits {
        Limits(vec![
            Limit {
                share: 0.75,
                amps: amps[0],
            },
            Limit {
                share: 0.25,
                amps: amps[1],
            },
        ])
    }

    #[test]
    fn each_controller_stops_by_itself() {
        let limits = two([30.0, 5.0]);
        assert!((limits.pass_a(16.0) - 16.0).abs() < 1e-12);
        // 18 of 24 and 5 of 6.
        assert!((limits.pass_a(24.0) - 23.0).abs() < 1e-12);
        assert!((limits.pass_a(100.0) - 35.0).abs() < 1e-12);
        assert!((Limits::of_all(20.0).pass_a(24.0) - 20.0).abs() < 1e-12);
    }

    #[test]
    fn a_limit_that_was_seen_stays_unless_that_controller_changes() {
        let seen = two([30.0, 5.0]);
        let (before, other) = (two([30.0, 30.0]), two([60.0, 30.0]));
        assert_eq!(seen.changed(&before, &before), seen);
        assert_eq!(seen.changed(&before, &other), two([60.0, 5.0]));
        assert_eq!(
            seen.changed(&before, &Limits::of_all(40.0)),
            Limits::of_all(40.0)
        );
    }
}
