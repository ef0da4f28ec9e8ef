//! Order statistics of plain slices. Values that are not numbers are passed over.

/// The quantile of a share (0 to 1) by linear interpolation between order statistics; `None`
/// where there is no number at all.
pub fn quantile(values: &[f64], share: f64) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    quantile_of_sorted(&sorted, share)
}

/// [`quantile`] of values already ascending and finite.
pub fn quantile_of_sorted(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = share.clamp(0.0, 1.0) * last as f64;
    let below = (place.floor() as usize).min(last);
    let low = *sorted.get(below)?;
    let high = *sorted.get((below + 1).min(last))?;
    let part = place - below as f64;
    Some(low * (1.0 - part) + high * part)
}

/// The middle value.
///
/// ```
/// use ampledger::stats::quantile::median;
///
/// assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
/// assert_eq!(median(&[]), None);
/// ```
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Median distance from the median, times 1.4826: for normal errors, their standard deviation.
pub fn mad(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let distances: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    median(&distances).map(|d| d * 1.4826)
}

/// Arithmetic mean; `None` where there is no number.
pub fn mean(values: &[f64]) -> Option<f64> {
    let (mut sum, mut count) = (0.0, 0_u32);
    for value in values.iter().filter(|v| v.is_finite()) {
        sum += value;
        count += 1;
    }
    (count > 0).then(|| sum / f64::from(count))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn quantiles_interpolate() {
        let values = [4.0, 1.0, 3.0, 2.0, f64::NAN];
        assert_eq!(median(&values), Some(2.5));
        assert_eq!(quantile(&values, 0.0), Some(1.0));
        assert_eq!(quantile(&values, 1.0), Some(4.0));
        assert_eq!(quantile(&values, 0.25), Some(1.75));
        assert_eq!(mean(&values), Some(2.5));
        assert_eq!(median(&[]), None);
        assert_eq!(mean(&[f64::NAN]), None);
    }

    #[test]
    fn one_wild_value_does_not_move_the_spread() {
        let spread = mad(&[1.0, 2.0, 3.0, 4.0, 1e9]);
        assert_eq!(spread, Some(1.4826));
    }

    proptest! {
        #[test]
        fn a_quantile_lies_among_the_values(
            values in proptest::collection::vec(-1e6..1e6f64, 1..50), share in -1.0..2.0f64,
        ) {
            let q = quantile(&values, share).unwrap_or(f64::NAN);
            let low = values.iter().copied().fold(f64::INFINITY, f64::min);
            let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            prop_assert!(q >= low - 1e-9 && q <= high + 1e-9);
        }
    }
}
