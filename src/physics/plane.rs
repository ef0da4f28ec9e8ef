//! What falls on a tilted surface, and what of it gets through the glass.

use super::sky::{ClearSky, extraterrestrial};
use super::sun::SunPosition;

/// Angular loss coefficient of clean glass, Martin & Ruiz 2001 (0.14 to 0.20).
pub const MARTIN_RUIZ_AR: f64 = 0.16;
/// Share of diffuse light that passes the glass: the hemispherical mean of the same formula.
pub const DIFFUSE_MODIFIER: f64 = 0.95;
/// Share of light that ordinary ground sends back.
pub const DEFAULT_ALBEDO: f64 = 0.2;
/// The sine of one degree: below it the beam ratio of Hay & Davies is not let grow further.
const LEAST_HEIGHT: f64 = 0.017_45;

/// Irradiance on a surface by where it comes from, W/m2.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlaneIrradiance {
    /// From the sun's disc.
    pub beam_wm2: f64,
    /// From the sky.
    pub diffuse_wm2: f64,
    /// From the ground.
    pub ground_wm2: f64,
    /// Angle between the sun and the surface's normal, degrees.
    pub aoi_deg: f64,
}

impl PlaneIrradiance {
    /// All that falls on the surface, W/m2. On a flat surface: the sky's `ghi_wm2`.
    pub fn total(&self) -> f64 {
        self.beam_wm2 + self.diffuse_wm2 + self.ground_wm2
    }

    /// What passes the glass compared with light that falls square on it, W/m2.
    pub fn effective(&self) -> f64 {
        self.beam_wm2 * martin_ruiz(self.aoi_deg, MARTIN_RUIZ_AR)
            + (self.diffuse_wm2 + self.ground_wm2) * DIFFUSE_MODIFIER
    }
}

/// Cosine of the angle between the sun and the normal of a surface tilted from flat and facing a
/// bearing, all degrees; the elevation is the apparent one.
pub fn cos_incidence(sun: &SunPosition, tilt_deg: f64, facing_deg: f64) -> f64 {
    let up = sun.apparent_elevation_deg.clamp(-90.0, 90.0).to_radians();
    let tilt = tilt_deg.to_radians();
    let turn = (sun.azimuth_deg - facing_deg).to_radians();
    (up.sin() * tilt.cos() + up.cos() * tilt.sin() * turn.cos()).clamp(-1.0, 1.0)
}

/// Irradiance on a surface tilted from flat and facing a bearing (degrees clockwise from north)
/// over ground of the given albedo: Hay & Davies 1980. On a flat surface this is the flat
/// irradiance itself, whatever its split.
pub fn irradiance(
    sky: &ClearSky,
    sun: &SunPosition,
    tilt_deg: f64,
    facing_deg: f64,
    albedo: f64,
) -> PlaneIrradiance {
    let cosine = cos_incidence(sun, tilt_deg, facing_deg);
    let facing_sun = cosine.max(0.0);
    let height = sun
        .apparent_elevation_deg
        .clamp(-90.0, 90.0)
        .to_radians()
        .sin();
    let beam_wm2 = if height > 0.0 {
        sky.dni_wm2 * facing_sun
    } else {
        0.0
    };
    // The part of the diffuse light that comes from around the sun fades out over the last degree
    // above the horizon; its ratio to the flat surface is then still bounded.
    let fade = (height / LEAST_HEIGHT).clamp(0.0, 1.0);
    let around = (sky.dni_wm2 / extraterrestrial(sun.distance_au)).clamp(0.0, 1.0) * fade;
    let ratio = if height > 0.0 {
        facing_sun / height
    } else {
        0.0
    };
    let circumsolar = if around > 0.0 { around * ratio } else { 0.0 };
    PlaneIrradiance {
        beam_wm2,
        diffuse_wm2: sky.dhi_wm2 * circumsolar + (1.0 - around) * isotropic(sky.dhi_wm2, tilt_deg),
        ground_wm2: albedo.clamp(0.0, 1.0) * sky.ghi_wm2 * (1.0 - tilt_deg.to_radians().cos())
            / 2.0,
        aoi_deg: cosine.acos().to_degrees(),
    }
}

/// Sky light on a tilted surface if the sky were equally bright all over, W/m2: Liu & Jordan.
pub fn isotropic(dhi_wm2: f64, tilt_deg: f64) -> f64 {
    dhi_wm2 * f64::midpoint(1.0, tilt_deg.to_radians().cos())
}

/// Incidence modifier of Martin & Ruiz 2001 for an angle (degrees) and coefficient; 0 to 1.
pub fn martin_ruiz(aoi_deg: f64, ar: f64) -> f64 {
    if aoi_deg >= 90.0 {
        return 0.0;
    }
    let ar = ar.clamp(0.01, 1.0);
    (1.0 - (-aoi_deg.to_radians().cos() / ar).exp()).max(0.0) / (1.0 - (-1.0 / ar).exp())
}

/// Incidence modifier of Souka & Safwat 1966 with coefficient `b0` (usually 0.05); 0 to 1.
pub fn souka_safwat(aoi_deg: f64, b0: f64) -> f64 {
    let cosine = aoi_deg.to_radians().cos();
    if aoi_deg >= 90.0 || cosine <= 0.0 {
        return 0.0;
    }
    (1.0 - b0 * (1.0 / cosine - 1.0)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::sky::clear_sky;
    use crate::physics::sun::position;
    use proptest::prelude::*;

    #[test]
    fn a_surface_turned_away_gets_no_beam() {
        let sun = position(1_718_971_200.0, 50.0, 0.0); // noon in June, sun in the south
        let sky = clear_sky(&sun, 0.0, 3.0);
        let away = irradiance(&sky, &sun, 90.0, 0.0, 0.2);
        assert_eq!(away.beam_wm2, 0.0);
        assert!(away.total() > 0.0 && away.effective() < away.total());
    }

    proptest! {
        #[test]
        fn a_flat_surface_gets_the_flat_irradiance(
            t in 0.0..2e9f64, lat in -90.0..90.0f64, lon in -180.0..180.0f64,
            facing in 0.0..360.0f64, tilt in 0.0..90.0f64, haze in 1.0..6.0f64,
        ) {
            let sun = position(t, lat, lon);
            let sky = clear_sky(&sun, 100.0, haze);
            let flat = irradiance(&sky, &sun, 0.0, facing, 0.2);
            prop_assert!((flat.total() - sky.ghi_wm2).abs() < 1e-6, "{flat:?} {sky:?}");
            let leaning = irradiance(&sky, &sun, tilt, facing, 0.2);
            prop_assert!(leaning.total().is_finite() && leaning.total() >= 0.0);
            prop_assert!(leaning.total() < 1600.0, "{leaning:?} {sky:?}");
            prop_assert!(leaning.effective() <= leaning.total() + 1e-9);
        }
    }
}
