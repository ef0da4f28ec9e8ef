//! Straight lines through points: the plain estimators, without robust weights.
//!
//! Each returns `None` where the points do not determine a line: too few, no spread along x, or
//! numbers too large to square. Pairs with a value that is not finite are passed over.

use super::quantile::median;

/// Ordinary least squares with an intercept and its textbook standard errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ordinary {
    /// Change of y for one of x.
    pub slope: f64,
    /// y at x = 0.
    pub intercept: f64,
    /// Standard error of the slope, for independent errors.
    pub slope_se: f64,
    /// Standard error of the intercept, for independent errors.
    pub intercept_se: f64,
    /// Standard deviation about the line, n - 2 in the divisor.
    pub residual_sd: f64,
    /// Pairs used.
    pub n: usize,
}

/// Centred sums of squares and products of the finite pairs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sums {
    /// Pairs.
    pub(super) n: f64,
    /// Mean of x.
    pub(super) mean_x: f64,
    /// Mean of y.
    pub(super) mean_y: f64,
    /// Sum of (x - mean)^2.
    pub(super) xx: f64,
    /// Sum of (x - mean)(y - mean).
    pub(super) xy: f64,
    /// Sum of (y - mean)^2.
    pub(super) yy: f64,
}

/// Weighted sums; `None` where there is no weight, no spread along x, or an overflow.
pub(super) fn sums(points: impl Iterator<Item = (f64, f64, f64)> + Clone) -> Option<Sums> {
    let (mut n, mut sx, mut sy) = (0.0, 0.0, 0.0);
    for (x, y, w) in points.clone() {
        n += w;
        sx += w * x;
        sy += w * y;
    }
    if n <= 0.0 {
        return None;
    }
    let (mean_x, mean_y) = (sx / n, sy / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (x, y, w) in points {
        let (dx, dy) = (x - mean_x, y - mean_y);
        xx += w * dx * dx;
        xy += w * dx * dy;
        yy += w * dy * dy;
    }
    // A spread within rounding of the mean is none.
    let floor = n * (mean_x * 1e-12).powi(2);
    let usable = xx.is_finite() && xy.is_finite() && yy.is_finite() && xx > floor && xx > 0.0;
    usable.then_some(Sums {
        n,
        mean_x,
        mean_y,
        xx,
        xy,
        yy,
    })
}

fn finite_pairs(x: &[f64], y: &[f64]) -> Vec<(f64, f64)> {
    x.iter()
        .copied()
        .zip(y.iter().copied())
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .collect()
}

/// Ordinary least squares of y on x with an intercept.
pub fn ordinary(x: &[f64], y: &[f64]) -> Option<Ordinary> {
    let pairs = finite_pairs(x, y);
    if pairs.len() < 3 {
        return None;
    }
    let s = sums(pairs.iter().map(|&(x, y)| (x, y, 1.0)))?;
    let slope = s.xy / s.xx;
    let variance = ((s.yy - slope * s.xy) / (s.n - 2.0)).max(0.0);
    let line = Ordinary {
        slope,
        intercept: s.mean_y - slope * s.mean_x,
        slope_se: (variance / s.xx).sqrt(),
        intercept_se: (variance * (1.0 / s.n + s.mean_x * s.mean_x / s.xx)).sqrt(),
        residual_sd: variance.sqrt(),
        n: pairs.len(),
    };
    (line.slope.is_finite() && line.intercept.is_finite()).then_some(line)
}

/// Slope of the line through the origin. Biased wherever the two meters disagree by a constant:
/// by that constant times sum(x) / sum(x^2).
pub fn through_origin(x: &[f64], y: &[f64]) -> Option<f64> {
    let (mut xx, mut xy) = (0.0, 0.0);
    for (x, y) in finite_pairs(x, y) {
        xx += x * x;
        xy += x * y;
    }
    let slope = xy / xx;
    (xx > 0.0 && slope.is_finite()).then_some(slope)
}

/// Slope and intercept with errors in both variables (Deming); `variance_ratio` is the variance
/// of y's errors over that of x's.
pub fn deming(x: &[f64], y: &[f64], variance_ratio: f64) -> Option<(f64, f64)> {
    deming_of(&finite_pairs(x, y), variance_ratio)
}

fn deming_of(pairs: &[(f64, f64)], variance_ratio: f64) -> Option<(f64, f64)> {
    if pairs.len() < 2 || variance_ratio <= 0.0 {
        return None;
    }
    let s = sums(pairs.iter().map(|&(x, y)| (x, y, 1.0)))?;
    if s.xy == 0.0 {
        return None;
    }
    let excess = s.yy - variance_ratio * s.xx;
    let slope =
        (excess + (excess * excess + 4.0 * variance_ratio * s.xy * s.xy).sqrt()) / (2.0 * s.xy);
    let intercept = s.mean_y - slope * s.mean_x;
    (slope.is_finite() && intercept.is_finite()).then_some((slope, intercept))
}

/// Standard error of the slope of [`deming`] by leaving out one pair at a time.
pub fn deming_slope_se(x: &[f64], y: &[f64], variance_ratio: f64) -> Option<f64> {
    let pairs = finite_pairs(x, y);
    let mut slopes = Vec::with_capacity(pairs.len());
    for left_out in 0..pairs.len() {
        let mut rest = pairs.clone();
        rest.swap_remove(left_out);
        slopes.push(deming_of(&rest, variance_ratio)?.0);
    }
    jackknife_se(&slopes)
}

/// Standard error from leave-one-out estimates; `None` for fewer than two.
pub fn jackknife_se(estimates: &[f64]) -> Option<f64> {
    if estimates.len() < 2 {
        return None;
    }
    let n = estimates.len() as f64;
    let mean = estimates.iter().sum::<f64>() / n;
    let squares: f64 = estimates.iter().map(|e| (e - mean).powi(2)).sum();
    Some(((n - 1.0) / n * squares).sqrt())
}

/// Slope and intercept of Theil and Sen: the median of all slopes between two pairs. Beyond
/// `most` pairs, evenly chosen ones stand for all, since the work grows with the square.
pub fn theil_sen(x: &[f64], y: &[f64], most: usize) -> Option<(f64, f64)> {
    let pairs = finite_pairs(x, y);
    let step = pairs.len().div_ceil(most.max(2)).max(1);
    let chosen: Vec<(f64, f64)> = pairs.iter().copied().step_by(step).collect();
    let mut slopes = Vec::with_capacity(chosen.len() * chosen.len() / 2);
    for (i, a) in chosen.iter().enumerate() {
        for b in &chosen[i + 1..] {
            if (b.0 - a.0).abs() > 1e-9 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    let slope = median(&slopes)?;
    let rests: Vec<f64> = pairs.iter().map(|(x, y)| y - slope * x).collect();
    let intercept = median(&rests)?;
    Some((slope, intercept))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spread_is_no_line() {
        let (x, y) = ([2.0; 5], [1.0, 2.0, 3.0, 4.0, 5.0]);
        assert_eq!(ordinary(&x, &y), None);
        assert_eq!(deming(&x, &y, 1.0), None);
        assert_eq!(theil_sen(&x, &y, 100), None);
        assert_eq!(through_origin(&[0.0; 5], &y), None);
        assert_eq!(ordinary(&[1.0, 2.0], &[1.0, 2.0]), None);
        assert_eq!(ordinary(&[1e200, 2e200, 3e200], &[1.0, 2.0, 3.0]), None);
    }

    #[test]
    fn every_estimator_finds_an_exact_line() {
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 3.0 + 0.5 * x).collect();
        let near = |found: Option<(f64, f64)>| {
            found.is_some_and(|(s, i)| (s - 0.5).abs() < 1e-9 && (i - 3.0).abs() < 1e-9)
        };
        assert!(near(ordinary(&x, &y).map(|l| (l.slope, l.intercept))));
        assert!(near(deming(&x, &y, 0.3)));
        assert!(near(theil_sen(&x, &y, 7)));
    }
}
