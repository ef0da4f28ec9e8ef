//! Student's t distribution, for intervals from few values.

/// Standard deviations that a normal quantity stays within nine times in ten.
pub const Z90: f64 = 1.645;

/// The value that a t variable with the given degrees of freedom (any positive number, held at
/// 0.5 and above) stays below with probability `p` (held at 0.0001 to 0.9999). Good to 1e-6 of
/// its size.
pub fn quantile(p: f64, degrees: f64) -> f64 {
    let p = p.clamp(1e-4, 1.0 - 1e-4);
    let degrees = degrees.clamp(0.5, 1e7);
    if p < 0.5 {
        return -quantile(1.0 - p, degrees);
    }
    let (mut low, mut high) = (0.0, 2.0);
    while cumulative(high, degrees) < p && high < 1e12 {
        high *= 2.0;
    }
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if cumulative(middle, degrees) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// The factor of a two-sided 90 % interval: the one-sided 95 % point.
pub fn t95(degrees: f64) -> f64 {
    quantile(0.95, degrees)
}

/// Probability that a t variable with the given degrees of freedom stays below `t`.
pub fn cumulative(t: f64, degrees: f64) -> f64 {
    let x = degrees / (degrees + t * t);
    let tail = 0.5 * incomplete_beta(x, degrees / 2.0, 0.5);
    if t >= 0.0 { 1.0 - tail } else { tail }
}

/// Regularised incomplete beta function by its continued fraction.
fn incomplete_beta(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    let front =
        (ln_gamma(a + b) - ln_gamma(a) - ln_gamma(b) + a * x.ln() + b * (1.0 - x).ln()).exp();
    // The fraction converges fast only below the mean; above it the complement is used.
    if x < (a + 1.0) / (a + b + 2.0) {
        front * beta_fraction(x, a, b) / a
    } else {
        1.0 - front * beta_fraction(1.0 - x, b, a) / b
    }
}

/// Lentz's evaluation of the continued fraction of the incomplete beta function.
fn beta_fraction(x: f64, a: f64, b: f64) -> f64 {
    let away = |v: f64| if v.abs() < 1e-300 { 1e-300 } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / away(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for step in 1..500 {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away(1.0 + even * d);
        c = away(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away(1.0 + odd * d);
        c = away(1.0 + odd / c);
        let change = d * c;
        value *= change;
        if (change - 1.0).abs() < 1e-14 {
            break;
        }
    }
    value
}

/// Logarithm of the gamma function for positive arguments: Stirling's series after shifting the
/// argument up to where it is accurate.
fn ln_gamma(x: f64) -> f64 {
    let mut z = x;
    let mut shift = 0.0;
    while z < 10.0 {
        shift += z.ln();
        z += 1.0;
    }
    let inverse = 1.0 / (z * z);
    let series =
        (1.0 / 12.0 - inverse * (1.0 / 360.0 - inverse * (1.0 / 1260.0 - inverse / 1680.0))) / z;
    (z - 0.5) * z.ln() - z + 0.5 * (2.0 * std::f64::consts::PI).ln() + series - shift
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_sided_95_points_agree_with_printed_tables() {
        // Standard statistical tables, to their printed three decimals.
        for (degrees, value) in [
            (1.0, 6.314),
            (2.0, 2.920),
            (3.0, 2.353),
            (4.0, 2.132),
            (5.0, 2.015),
            (10.0, 1.812),
            (20.0, 1.725),
            (30.0, 1.697),
            (60.0, 1.671),
            (120.0, 1.658),
            (1e6, 1.645),
        ] {
            assert!(
                (t95(degrees) - value).abs() < 1e-3,
                "{degrees}: {}",
                t95(degrees)
            );
        }
    }

    #[test]
    fn closed_forms_of_one_and_two_degrees_hold() {
        for t in [-3.0, -0.4, 0.0, 0.7, 2.5, 40.0_f64] {
            let cauchy = 0.5 + t.atan() / std::f64::consts::PI;
            assert!((cumulative(t, 1.0) - cauchy).abs() < 1e-10);
            let two = 0.5 + t / (2.0 * (2.0 + t * t).sqrt());
            assert!((cumulative(t, 2.0) - two).abs() < 1e-10);
        }
    }

    #[test]
    fn the_quantile_undoes_the_distribution() {
        for degrees in [0.7, 3.3, 17.0, 400.0] {
            for p in [0.01, 0.3, 0.5, 0.9, 0.975] {
                assert!((cumulative(quantile(p, degrees), degrees) - p).abs() < 1e-9);
            }
        }
    }
}
