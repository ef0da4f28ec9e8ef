//! 90 % ranges of a figure that cannot be below nothing, from an estimate that can: the unified ranges of
//! Feldman and Cousins (1998). Far from nothing they are the usual ones; near it the whole tenth lies on
//! the one side where the truth can be, and an estimate below nothing still leaves a range above it.

use crate::stats::student::Z90;

/// Estimate, lower and upper end, each in standard deviations of the estimate; worked out by their ordering
/// of likelihoods.
const ENDS: [(f64, f64, f64); 12] = [
    (-3.0, 0.0, 0.263),
    (-2.0, 0.0, 0.401),
    (-1.5, 0.0, 0.555),
    (-1.0, 0.0, 0.813),
    (-0.5, 0.0, 1.184),
    (0.0, 0.0, 1.645),
    (1.28, 0.0, 2.925),
    (1.5, 0.219, 3.145),
    (2.0, 0.583, 3.645),
    (2.5, 0.946, 4.145),
    (3.0, 1.368, 4.645),
    (3.29, 1.645, 4.935),
];

/// Both ends, for an estimate and half the usual 90 % range of it.
pub fn ends(estimate: f64, half: f64) -> (f64, f64) {
    let sigma = half / Z90;
    if sigma <= 0.0 {
        return (estimate.max(0.0), estimate.max(0.0));
    }
    let at = estimate / sigma;
    let (low, high) = match ENDS.windows(2).find(|pair| at < pair[1].0) {
        Some(pair) => {
            let part = ((at - pair[0].0) / (pair[1].0 - pair[0].0)).max(0.0);
            let between = |a: f64, b: f64| a + part * (b - a);
            (between(pair[0].1, pair[1].1), between(pair[0].2, pair[1].2))
        }
        None => (at - Z90, at + Z90),
    };
    (low * sigma, high * sigma)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whatever_is_true_nine_estimates_in_ten_have_it_in_their_range() {
        for truth in [0.05, 0.3, 0.8, 1.3, 2.0, 3.0, 5.0] {
            let step = 0.001;
            let held: f64 = (-6000..6000)
                .map(|k| f64::from(k) * step)
                .filter(|off| {
                    let (low, high) = ends(truth + off, Z90);
                    (low..=high).contains(&truth)
                })
                .map(|off| step * (-off * off / 2.0).exp() / std::f64::consts::TAU.sqrt())
                .sum();
            assert!((0.88..0.925).contains(&held), "{truth}: {held}");
        }
    }

    #[test]
    fn far_from_nothing_it_is_the_usual_range() {
        let (low, high) = ends(900.0, 50.0);
        assert!((low - 850.0).abs() < 1e-9 && (high - 950.0).abs() < 1e-9);
    }

    #[test]
    fn without_an_error_there_is_no_range() {
        assert_eq!(ends(4.0, 0.0), (4.0, 4.0));
        assert_eq!(ends(-4.0, 0.0), (0.0, 0.0));
    }
}
