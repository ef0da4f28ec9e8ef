//! Line fits on a paired log of one cable run.

use ampledger::stats::{lines, regression, student};

use crate::{expected, near, rows};

#[test]
fn run_resistance() {
    let data = rows("run_resistance_data.csv", 80);
    let x: Vec<f64> = data.iter().map(|row| row.number("i_a")).collect();
    let y: Vec<f64> = data.iter().map(|row| row.number("dv_v")).collect();
    let wanted = rows("run_resistance_expected.csv", 17);
    // The values are printed to seven decimals, so half of the last is added to the tolerance.
    let part = |quantity: &str, found: f64, tolerance: f64| {
        let value = expected(&wanted, quantity);
        near(found, value, tolerance * value.abs() + 0.6e-7, quantity);
    };
    part(
        "ols_through_origin_ohm",
        lines::through_origin(&x, &y).unwrap(),
        1e-6,
    );
    let plain = lines::ordinary(&x, &y).unwrap();
    assert_eq!(plain.n as f64, expected(&wanted, "n"));
    part("ols_slope_ohm", plain.slope, 1e-6);
    part("ols_intercept_v", plain.intercept, 1e-6);
    part("ols_slope_se_ohm", plain.slope_se, 1e-6);
    part("ols_intercept_se_v", plain.intercept_se, 1e-6);
    part("residual_sd_v", plain.residual_sd, 1e-6);
    let t = student::quantile(0.975, 78.0);
    part("t_crit_0.975_df78", t, 3e-6);
    part("ols_slope_ci95_low", plain.slope - t * plain.slope_se, 1e-6);
    part(
        "ols_slope_ci95_high",
        plain.slope + t * plain.slope_se,
        1e-6,
    );
    let ratio = expected(&wanted, "deming_lambda");
    let both = lines::deming(&x, &y, ratio).unwrap();
    part("deming_slope_ohm", both.0, 1e-6);
    part("deming_intercept_v", both.1, 1e-6);
    part(
        "deming_slope_se_jackknife",
        lines::deming_slope_se(&x, &y, ratio).unwrap(),
        1e-4,
    );
    let median = lines::theil_sen(&x, &y, 1000).unwrap();
    near(
        median.0,
        expected(&wanted, "theil_sen_slope_ohm"),
        0.6e-6,
        "median slope",
    );
    near(
        median.1,
        expected(&wanted, "theil_sen_intercept_v"),
        0.6e-5,
        "median intercept",
    );
}

#[test]
fn the_robust_fit_finds_the_run_that_made_the_data() {
    let data = rows("run_resistance_data.csv", 80);
    let x: Vec<f64> = data.iter().map(|row| row.number("i_a")).collect();
    let y: Vec<f64> = data.iter().map(|row| row.number("dv_v")).collect();
    let fit = regression::line_with_intercept(&x, &y, &[0; 80]).unwrap();
    assert!(fit.slope_low < 0.0450 && 0.0450 < fit.slope_high, "{fit:?}");
    assert!(
        fit.intercept_low < 0.035 && 0.035 < fit.intercept_high,
        "{fit:?}"
    );
    assert!(
        (fit.slope_high - fit.slope_low) / 2.0 < 0.1 * fit.slope,
        "{fit:?}"
    );
    // The line through the origin, in contrast, is misled by the meters' disagreement.
    assert!(lines::through_origin(&x, &y).unwrap() > fit.slope_high);
}
