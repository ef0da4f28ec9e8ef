//! What a cloudless sky gives, and what is known about its beam and diffuse parts.
//!
//! The working model is Ineichen & Perez 2002 with the factor exp(0.01 AM^1.8) of the companion
//! satellite paper. Below five degrees that factor overshoots, so the model is carried down to the
//! horizon with the shape of Haurwitz 1945.

use super::sun::SunPosition;

/// Total solar irradiance at the mean distance, W/m2.
pub const SOLAR_CONSTANT_WM2: f64 = 1361.1;
/// Linke turbidity where nothing is known of the air (range 2 to 5).
pub const DEFAULT_TURBIDITY: f64 = 3.0;
/// Below this elevation the model's own low-sun behaviour is not believed, degrees.
const FADE_DEG: f64 = 5.0;
/// Haurwitz's absorption at vertical sun (an often-cited report prints 0.057).
const HAURWITZ_B: f64 = 0.059;

/// Irradiance under a cloudless sky, W/m2; `ghi = dni sin(elevation) + dhi`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ClearSky {
    /// On a flat surface.
    pub ghi_wm2: f64,
    /// From the sun's disc, on a surface facing it.
    pub dni_wm2: f64,
    /// From the rest of the sky, on a flat surface.
    pub dhi_wm2: f64,
}

/// Whether the factor exp(0.01 AM^1.8) is applied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LowSunFactor {
    /// As this program does.
    Applied,
    /// As the 2002 paper alone has it.
    Omitted,
}

/// Irradiance outside the atmosphere on a surface facing the sun, W/m2.
pub fn extraterrestrial(distance_au: f64) -> f64 {
    SOLAR_CONSTANT_WM2 / distance_au.clamp(0.5, 2.0).powi(2)
}

/// Pressure at an altitude, hPa: the standard atmosphere, held between -1000 and 11000 m.
pub fn pressure_hpa(altitude_m: f64) -> f64 {
    1013.25 * (1.0 - 2.255_77e-5 * altitude_m.clamp(-1000.0, 11_000.0)).powf(5.255_88)
}

/// Relative air mass for an apparent zenith angle, degrees: Kasten & Young 1989. At and below
/// the horizon the horizon's value (about 38) stands.
pub fn air_mass(apparent_zenith_deg: f64) -> f64 {
    let zenith = apparent_zenith_deg.clamp(0.0, 90.0);
    1.0 / (zenith.to_radians().cos() + 0.505_72 * (96.079_95 - zenith).powf(-1.6364))
}

/// Flat irradiance from the zenith angle alone, W/m2: Haurwitz 1945.
pub fn haurwitz(apparent_elevation_deg: f64) -> f64 {
    haurwitz_with(apparent_elevation_deg, HAURWITZ_B)
}

/// [`haurwitz`] with another absorption than 0.059.
pub fn haurwitz_with(apparent_elevation_deg: f64, absorption: f64) -> f64 {
    let height = apparent_elevation_deg.clamp(-90.0, 90.0).to_radians().sin();
    if height <= 0.0 {
        return 0.0;
    }
    1098.0 * height * (-absorption.max(0.0) / height).exp()
}

/// The model of Ineichen & Perez 2002 as published, with or without the low-sun factor, for an
/// apparent zenith angle (degrees), altitude (m), Linke turbidity (held at 1 to 12) and
/// extraterrestrial irradiance (W/m2).
pub fn ineichen_perez(
    apparent_zenith_deg: f64,
    altitude_m: f64,
    turbidity: f64,
    extraterrestrial_wm2: f64,
    factor: LowSunFactor,
) -> ClearSky {
    let height = apparent_zenith_deg.clamp(0.0, 180.0).to_radians().cos();
    if height <= 0.0 {
        return ClearSky::default();
    }
    let altitude = altitude_m.clamp(-1000.0, 11_000.0);
    let haze = corrected_turbidity(turbidity);
    let mass = air_mass(apparent_zenith_deg) * pressure_hpa(altitude) / 1013.25;
    let fh1 = (-altitude / 8000.0).exp();
    let fh2 = (-altitude / 1250.0).exp();
    let gain = 5.09e-5 * altitude + 0.868;
    let loss = 3.92e-5 * altitude + 0.0387;
    let mut ghi =
        gain * extraterrestrial_wm2 * height * (-loss * mass * (fh1 + fh2 * (haze - 1.0))).exp();
    if factor == LowSunFactor::Applied {
        ghi *= (0.01 * mass.powf(1.8)).exp();
    }
    let beam = (0.664 + 0.163 / fh1) * extraterrestrial_wm2 * (-0.09 * mass * (haze - 1.0)).exp();
    let diffuse_least = (0.1 - 0.2 * (-haze).exp()) / (0.1 + 0.882 / fh1);
    let dni = beam.min(ghi * (1.0 - diffuse_least) / height).max(0.0);
    ClearSky {
        ghi_wm2: ghi,
        dni_wm2: dni,
        dhi_wm2: (ghi - dni * height).max(0.0),
    }
}

/// The paper's own correction for very clean air.
fn corrected_turbidity(turbidity: f64) -> f64 {
    let haze = turbidity.clamp(1.0, 12.0);
    if haze < 2.0 {
        haze - 0.25 * (2.0 - haze).sqrt()
    } else {
        haze
    }
}

/// What a cloudless sky gives with the sun at a position, at an altitude (m) and Linke turbidity.
///
/// Zero with the sun's centre on or below the apparent horizon. Below five degrees the flat
/// irradiance falls as Haurwitz's does and the beam keeps its share of it. [`model_band`] says how
/// far to trust it.
pub fn clear_sky(sun: &SunPosition, altitude_m: f64, turbidity: f64) -> ClearSky {
    let up = sun.apparent_elevation_deg;
    if up <= 0.0 {
        return ClearSky::default();
    }
    let outside = extraterrestrial(sun.distance_au);
    let model = |elevation: f64| {
        ineichen_perez(
            90.0 - elevation,
            altitude_m,
            turbidity,
            outside,
            LowSunFactor::Applied,
        )
    };
    if up >= FADE_DEG {
        return model(up);
    }
    let edge = model(FADE_DEG);
    let flat = haurwitz(up) / haurwitz(FADE_DEG);
    let beam = flat * FADE_DEG.to_radians().sin() / up.to_radians().sin();
    ClearSky {
        ghi_wm2: edge.ghi_wm2 * flat,
        // Dividing by a sine that underflowed would not be a number.
        dni_wm2: if beam.is_finite() {
            edge.dni_wm2 * beam
        } else {
            0.0
        },
        dhi_wm2: edge.dhi_wm2 * flat,
    }
}

/// The simplified Solis model of Ineichen 2008, a second opinion: for an elevation (degrees),
/// aerosol optical depth at 700 nm (valid to 0.45), water column (cm), pressure relative to sea
/// level and extraterrestrial irradiance (W/m2).
pub fn solis(
    elevation_deg: f64,
    optical_depth: f64,
    water_cm: f64,
    pressure_ratio: f64,
    extraterrestrial_wm2: f64,
) -> ClearSky {
    let height = elevation_deg.clamp(-90.0, 90.0).to_radians().sin();
    if height <= 0.0 {
        return ClearSky::default();
    }
    let a = optical_depth.clamp(0.0, 0.45);
    let w = water_cm.clamp(0.2, 10.0);
    let lw = w.ln();
    let lp = pressure_ratio.clamp(0.2, 1.2).ln();
    let enhanced = extraterrestrial_wm2
        * (0.12 * w.powf(0.56) * a * a
            + 0.97 * w.powf(0.032) * a
            + 1.08 * w.powf(0.0051)
            + 0.071 * lp);
    let beam_depth = (1.82 + 0.056 * lw + 0.0071 * lw * lw) * a
        + (0.33 + 0.045 * lw + 0.0096 * lw * lw)
        + (0.0089 * w + 0.13) * lp;
    let beam_power =
        (0.009_25 * a * a + 0.0148 * a - 0.0172) * lw + (-0.7565 * a * a + 0.5057 * a + 0.4557);
    let flat_depth = (1.24 + 0.047 * lw + 0.0061 * lw * lw) * a
        + (0.27 + 0.043 * lw + 0.0090 * lw * lw)
        + (0.0079 * w + 0.1) * lp;
    let flat_power = -0.0147 * lw - 0.3079 * a * a + 0.2846 * a + 0.3798;
    let dni = enhanced * (-beam_depth / height.powf(beam_power)).exp();
    let ghi = enhanced * (-flat_depth / height.powf(flat_power)).exp() * height;
    ClearSky {
        ghi_wm2: ghi,
        dni_wm2: dni,
        dhi_wm2: (ghi - dni * height).max(0.0),
    }
}

/// Share of flat irradiance that is diffuse for an hourly clearness index (held at 0 to 1): Erbs,
/// Klein & Duffie 1982. The small step at 0.8 is in the original.
pub fn erbs(clearness: f64) -> f64 {
    let k = clearness.clamp(0.0, 1.0);
    if k <= 0.22 {
        1.0 - 0.09 * k
    } else if k <= 0.8 {
        0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)))
    } else {
        0.165
    }
}

/// How far clear-sky models stand apart at an elevation (degrees), as a share of the irradiance:
/// 5 % above 30 degrees, 10 % from 15 to 30, 20 % below.
pub fn model_band(elevation_deg: f64) -> f64 {
    if elevation_deg > 30.0 {
        0.05
    } else if elevation_deg >= 15.0 {
        0.10
    } else {
        0.20
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(apparent_elevation_deg: f64) -> SunPosition {
        SunPosition {
            elevation_deg: apparent_elevation_deg,
            azimuth_deg: 180.0,
            apparent_elevation_deg,
            declination_deg: 0.0,
            equation_of_time_min: 0.0,
            distance_au: 1.0,
        }
    }

    #[test]
    fn the_sky_darkens_steadily_to_the_horizon() {
        let mut last = 0.0;
        for step in 0..=900 {
            let sky = clear_sky(&at(f64::from(step) * 0.1), 50.0, 3.0);
            assert!(sky.ghi_wm2 >= last, "at step {step}");
            assert!(sky.ghi_wm2 - last < 3.0, "a jump at step {step}");
            last = sky.ghi_wm2;
        }
        assert_eq!(clear_sky(&at(-0.1), 50.0, 3.0), ClearSky::default());
    }

    #[test]
    fn clean_air_and_altitude_give_more() {
        let sun = at(40.0);
        let base = clear_sky(&sun, 0.0, 3.0).ghi_wm2;
        assert!(clear_sky(&sun, 2000.0, 3.0).ghi_wm2 > base);
        assert!(clear_sky(&sun, 0.0, 1.5).ghi_wm2 > base);
        assert!(clear_sky(&sun, 0.0, 5.0).ghi_wm2 < base);
    }

    #[test]
    fn the_band_widens_towards_the_horizon() {
        assert_eq!(model_band(31.0), 0.05);
        assert_eq!(model_band(30.0), 0.10);
        assert_eq!(model_band(15.0), 0.10);
        assert_eq!(model_band(14.9), 0.20);
    }

    proptest! {
        #[test]
        fn parts_make_the_whole_and_stay_finite(
            up in -95.0..95.0f64, altitude in proptest::num::f64::NORMAL,
            low in -500.0..6000.0f64, haze in -2.0..20.0f64,
        ) {
            for altitude in [altitude, low] {
                let sky = clear_sky(&at(up), altitude, haze);
                let parts = sky.dni_wm2 * up.to_radians().sin() + sky.dhi_wm2;
                prop_assert!(sky.ghi_wm2.is_finite() && sky.ghi_wm2 >= 0.0);
                if up <= 90.0 {
                    prop_assert!((parts - sky.ghi_wm2).abs() < 1e-6 || up <= 0.0);
                }
            }
            prop_assert!((0.0..=1.0).contains(&erbs(haze)));
            let second = solis(up, haze, haze, haze, SOLAR_CONSTANT_WM2);
            prop_assert!(second.ghi_wm2.is_finite() && second.dni_wm2.is_finite());
        }
    }
}
