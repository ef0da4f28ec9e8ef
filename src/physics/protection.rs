//! The arithmetic of fuses and cold strings. It checks figures only: local code and a qualified
//! person decide.

/// Ratings in which fuses and breakers are commonly sold, A.
pub const STANDARD_FUSES_A: [f64; 32] = [
    1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0,
    80.0, 90.0, 100.0, 110.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 350.0, 400.0, 500.0,
    600.0,
];

/// Margin on a current that flows for hours.
pub const CONTINUOUS_MARGIN: f64 = 1.25;
/// Margin on a panel's short-circuit current for bright skies; the continuous one comes on top.
pub const BRIGHT_SKY_MARGIN: f64 = 1.25;

/// Least fuse rating for a current that flows for hours (A), A.
pub fn least_fuse_a(continuous_a: f64) -> f64 {
    continuous_a.max(0.0) * CONTINUOUS_MARGIN
}

/// The smallest rating sold that is no less than a current (A); `None` above the largest.
pub fn next_standard_fuse_a(least_a: f64) -> Option<f64> {
    // A rating that equals the need but for rounding is enough.
    STANDARD_FUSES_A
        .iter()
        .copied()
        .find(|rating| *rating >= least_a * (1.0 - 1e-9))
}

/// Factor on the open-circuit voltage of crystalline panels for a record low (C), as electrical
/// codes tabulate it; more cautious than the panel's own coefficient. 1 above 24 C, and the last
/// row's value below -40 C.
pub fn cold_factor(lowest_c: f64) -> f64 {
    const STEPS: [(f64, f64); 13] = [
        (20.0, 1.02),
        (15.0, 1.04),
        (10.0, 1.06),
        (5.0, 1.08),
        (0.0, 1.10),
        (-5.0, 1.12),
        (-10.0, 1.14),
        (-15.0, 1.16),
        (-20.0, 1.18),
        (-25.0, 1.20),
        (-30.0, 1.21),
        (-35.0, 1.23),
        (-40.0, 1.25),
    ];
    if lowest_c >= 25.0 {
        return 1.0;
    }
    STEPS
        .iter()
        .find(|step| lowest_c >= step.0)
        .map_or(1.25, |step| step.1)
}

/// Cell temperature at which a string with `label_v` open volts at 25 C and that change per degree
/// (share, negative) reaches a limit (V), C. Held at absolute zero, below which nothing is colder.
pub fn reached_at_c(label_v: f64, per_degree: f64, limit_v: f64) -> f64 {
    if label_v <= 0.0 || per_degree >= 0.0 {
        return -273.15;
    }
    (25.0 + (limit_v / label_v - 1.0) / per_degree).max(-273.15)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fuses_are_rounded_up_to_what_is_sold() {
        assert_eq!(next_standard_fuse_a(least_fuse_a(32.0)), Some(40.0));
        assert_eq!(next_standard_fuse_a(least_fuse_a(32.1)), Some(45.0));
        assert_eq!(next_standard_fuse_a(601.0), None);
    }

    #[test]
    fn a_string_stands_at_the_limit_at_the_cold_named() {
        // 90 V open at 25 C and 0.3 % a degree: 99 V are reached 33.3 degrees colder.
        assert!((reached_at_c(90.0, -0.003, 99.0) + 8.333).abs() < 0.001);
        assert_eq!(reached_at_c(0.0, -0.003, 99.0), -273.15);
        assert_eq!(reached_at_c(20.0, -0.003, 100.0), -273.15);
    }

    #[test]
    fn colder_never_means_less_voltage() {
        let mut last = f64::INFINITY;
        for c in -60..40 {
            let factor = cold_factor(f64::from(c));
            assert!(factor <= last && (1.0..=1.25).contains(&factor));
            last = factor;
        }
    }
}
