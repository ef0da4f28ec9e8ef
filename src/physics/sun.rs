//! Where the sun stands: Meeus, *Astronomical Algorithms*, chapter 25, low accuracy (0.01 degree).

/// The sun in the sky of an observer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunPosition {
    /// Geometric elevation of the centre, degrees above the horizon.
    pub elevation_deg: f64,
    /// Degrees clockwise from true north.
    pub azimuth_deg: f64,
    /// Elevation lifted by refraction, degrees.
    pub apparent_elevation_deg: f64,
}

/// Position at `unix_s` (Unix seconds, UTC) seen from a latitude (north positive) and longitude
/// (east positive).
pub fn position(unix_s: f64, latitude_deg: f64, longitude_deg: f64) -> SunPosition {
    let t = (unix_s / 86_400.0 + 2_440_587.5 - 2_451_545.0) / 36_525.0;
    let l0 = (280.46646 + 36_000.769_83 * t + 0.000_303_2 * t * t).to_radians();
    let m = (357.52911 + 35_999.050_29 * t - 0.000_153_7 * t * t).to_radians();
    let e = 0.016_708_634 - 0.000_042_037 * t;
    let c = (1.914_602 - 0.004_817 * t) * m.sin()
        + (0.019_993 - 0.000_101 * t) * (2.0 * m).sin()
        + 0.000_289 * (3.0 * m).sin();
    let node = (125.04 - 1_934.136 * t).to_radians();
    let lambda = (l0.to_degrees() + c - 0.005_69 - 0.004_78 * node.sin()).to_radians();
    let eps = (23.439_291_1 - 0.013_004_2 * t + 0.002_56 * node.cos()).to_radians();
    let dec = (eps.sin() * lambda.sin()).asin();
    let y = (eps / 2.0).tan().powi(2);
    let eot_min = 4.0
        * (y * (2.0 * l0).sin() - 2.0 * e * m.sin() + 4.0 * e * y * m.sin() * (2.0 * l0).cos()
            - 0.5 * y * y * (4.0 * l0).sin()
            - 1.25 * e * e * (2.0 * m).sin())
        .to_degrees();
    let minutes = unix_s.rem_euclid(86_400.0) / 60.0;
    let ha =
        ((minutes + eot_min + 4.0 * longitude_deg).rem_euclid(1440.0) / 4.0 - 180.0).to_radians();
    let lat = latitude_deg.to_radians();
    let sin_el = lat.sin() * dec.sin() + lat.cos() * dec.cos() * ha.cos();
    let el = sin_el.clamp(-1.0, 1.0).asin().to_degrees();
    let az = (-ha.sin())
        .atan2(dec.tan() * lat.cos() - lat.sin() * ha.cos())
        .to_degrees()
        .rem_euclid(360.0);
    let lift = if el < -0.83 {
        0.0
    } else {
        1.02 / (60.0 * (el + 10.3 / (el + 5.11)).to_radians().tan())
    };
    SunPosition {
        elevation_deg: el,
        azimuth_deg: az,
        apparent_elevation_deg: el + lift,
    }
}
