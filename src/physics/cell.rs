//! How hot a panel's cells get.

/// Brighter than any light on earth, W/m2; more than that is a reading error and held here.
pub(super) const BRIGHTEST_WM2: f64 = 10_000.0;

/// Irradiance held between the dark and [`BRIGHTEST_WM2`].
fn light(irradiance_wm2: f64) -> f64 {
    irradiance_wm2.clamp(0.0, BRIGHTEST_WM2)
}

/// Cell temperature (C) from air temperature (C), irradiance (W/m2) and the nominal operating
/// temperature of the panel as mounted (C): 800 W/m2 lift it from 20 C to that value.
///
/// ```
/// use ampledger::physics::cell::noct_temperature;
///
/// assert_eq!(noct_temperature(25.0, 800.0, 45.0), 50.0);
/// ```
pub fn noct_temperature(air_c: f64, irradiance_wm2: f64, noct_c: f64) -> f64 {
    air_c + (noct_c - 20.0) / 800.0 * light(irradiance_wm2)
}

/// Module temperature (C) after Faiman 2008, with heat transfer `u0` (W/m2/K; 25 on an open rack,
/// about 15 flush) and its growth `u1` with wind (W/m2/K per m/s; 6.84, about 4).
pub fn faiman(air_c: f64, irradiance_wm2: f64, wind_ms: f64, u0: f64, u1: f64) -> f64 {
    // Less than one W/m2/K would be better insulation than any mounting has.
    air_c + light(irradiance_wm2) / (u0 + u1 * wind_ms.max(0.0)).max(1.0)
}

/// Cell temperature (C) after King et al., SAND2004-3535: back of the module from `a` and `b`,
/// and the cell `rise_c` above it at 1000 W/m2.
pub fn king(air_c: f64, irradiance_wm2: f64, wind_ms: f64, a: f64, b: f64, rise_c: f64) -> f64 {
    let sun = light(irradiance_wm2);
    let back = air_c + sun * (a + b * wind_ms.max(0.0)).min(0.0).exp();
    back + rise_c * sun / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_the_dark_a_cell_is_as_warm_as_the_air() {
        assert_eq!(noct_temperature(12.0, 0.0, 58.0), 12.0);
        assert_eq!(faiman(12.0, -3.0, 0.0, 0.0, 0.0), 12.0);
        assert_eq!(king(12.0, 0.0, 2.0, -3.56, -0.075, 3.0), 12.0);
    }

    #[test]
    fn wind_cools() {
        assert!(faiman(20.0, 900.0, 5.0, 25.0, 6.84) < faiman(20.0, 900.0, 0.0, 25.0, 6.84));
        assert!(
            king(20.0, 900.0, 5.0, -2.81, -0.0455, 0.0)
                < king(20.0, 900.0, 0.0, -2.81, -0.0455, 0.0)
        );
    }
}
