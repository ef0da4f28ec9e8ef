//! Where the sun stands: the low-accuracy solar coordinates of Meeus, *Astronomical Algorithms*,
//! chapter 25, good to about 0.01 degrees between 1950 and 2050.
//!
//! A tenth of a degree would already be far below what tilt and horizon of a vehicle leave
//! uncertain, so the longer algorithms would buy nothing. Universal time stands for dynamical
//! time (a minute of difference moves the declination by 0.0003 degrees at most).

/// Elevation of the sun's centre at sunrise and sunset: 34' of refraction and 16' of radius.
const HORIZON_DEG: f64 = -0.8333;
/// Unix seconds of 2000-01-01 12:00 UTC.
const J2000_S: f64 = 946_728_000.0;
/// Seconds in a day.
const DAY_S: f64 = 86_400.0;
/// The series are meaningless beyond some thousands of years; instants are held within this many
/// seconds of J2000 (about 4000 years) so that no polynomial can overflow.
const REACH_S: f64 = 1.3e11;

/// Where the sun stands for an observer, and what else follows from the date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunPosition {
    /// Elevation of the centre without refraction, degrees above the horizon.
    pub elevation_deg: f64,
    /// Bearing, degrees clockwise from true north, 0 to 360.
    pub azimuth_deg: f64,
    /// Elevation with the refraction of a standard atmosphere (1010 hPa, 10 C), degrees.
    pub apparent_elevation_deg: f64,
    /// Declination, degrees.
    pub declination_deg: f64,
    /// Apparent minus mean solar time, minutes.
    pub equation_of_time_min: f64,
    /// Distance from the earth, astronomical units.
    pub distance_au: f64,
}

/// When the sun is up on one day. Instants are Unix seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DayLight {
    /// It rises and sets.
    Normal {
        /// Sunrise, not before the start of the day.
        rise_s: f64,
        /// Highest point.
        transit_s: f64,
        /// Sunset, not after the end of the day.
        set_s: f64,
    },
    /// It does not set (midnight sun).
    AlwaysUp {
        /// Highest point.
        transit_s: f64,
    },
    /// It does not rise (polar night).
    AlwaysDown,
}

impl DayLight {
    /// Seconds of daylight, given the length of the day in seconds.
    pub fn length_s(&self, day_s: f64) -> f64 {
        match *self {
            DayLight::Normal { rise_s, set_s, .. } => (set_s - rise_s).max(0.0),
            DayLight::AlwaysUp { .. } => day_s,
            DayLight::AlwaysDown => 0.0,
        }
    }
}

/// What depends on the instant alone.
struct Geocentric {
    declination_rad: f64,
    equation_of_time_min: f64,
    distance_au: f64,
}

fn geocentric(unix_s: f64) -> Geocentric {
    let t = (unix_s - J2000_S) / DAY_S / 36_525.0;
    let mean_longitude = (280.46646 + t * (36_000.769_83 + 0.000_303_2 * t)).to_radians();
    let anomaly = (357.52911 + t * (35_999.050_29 - 0.000_153_7 * t)).to_radians();
    let eccentricity = (0.016_708_634 - t * (0.000_042_037 + 0.000_000_126_7 * t)).clamp(0.0, 0.1);
    let centre = anomaly.sin() * (1.914_602 - t * (0.004_817 + 0.000_014 * t))
        + (2.0 * anomaly).sin() * (0.019_993 - 0.000_101 * t)
        + (3.0 * anomaly).sin() * 0.000_289;
    let node = (125.04 - 1934.136 * t).to_radians();
    let longitude = mean_longitude + (centre - 0.005_69 - 0.004_78 * node.sin()).to_radians();
    let obliquity_s = 21.448 - t * (46.815 + t * (0.000_59 - t * 0.001_813));
    let obliquity =
        (23.0 + (26.0 + obliquity_s / 60.0) / 60.0 + 0.002_56 * node.cos()).to_radians();
    let y = (obliquity / 2.0).tan().powi(2);
    let equation = y * (2.0 * mean_longitude).sin() - 2.0 * eccentricity * anomaly.sin()
        + 4.0 * eccentricity * y * anomaly.sin() * (2.0 * mean_longitude).cos()
        - 0.5 * y * y * (4.0 * mean_longitude).sin()
        - 1.25 * eccentricity * eccentricity * (2.0 * anomaly).sin();
    let true_anomaly = anomaly + centre.to_radians();
    Geocentric {
        declination_rad: (obliquity.sin() * longitude.sin()).clamp(-1.0, 1.0).asin(),
        equation_of_time_min: 4.0 * equation.to_degrees(),
        distance_au: 1.000_001_018 * (1.0 - eccentricity * eccentricity)
            / (1.0 + eccentricity * true_anomaly.cos()),
    }
}

/// Hour angle in degrees, -180 to 180, positive after noon.
fn hour_angle_deg(unix_s: f64, equation_of_time_min: f64, longitude_deg: f64) -> f64 {
    let utc_min = unix_s.rem_euclid(DAY_S) / 60.0;
    let solar_min = (utc_min + equation_of_time_min + 4.0 * longitude_deg).rem_euclid(1440.0);
    solar_min / 4.0 - 180.0
}

/// Latitude and longitude brought into their ranges.
fn place(latitude_deg: f64, longitude_deg: f64) -> (f64, f64) {
    let longitude = (longitude_deg % 360.0 + 540.0).rem_euclid(360.0) - 180.0;
    (latitude_deg.clamp(-90.0, 90.0), longitude)
}

/// Where the sun stands at an instant (Unix seconds) for an observer at a latitude (degrees
/// north) and longitude (degrees east). Holds to 0.02 degrees, 0.05 min and 0.0001 au from 1950
/// to 2050. At the poles, where every bearing is the same, the azimuth follows the hour angle.
///
/// ```
/// use ampledger::physics::sun::position;
///
/// // Noon of an equinox on the equator: the sun stands overhead within a few degrees.
/// let noon = position(1_774_008_000.0, 0.0, 0.0);
/// assert!(noon.elevation_deg > 87.0);
/// ```
pub fn position(unix_s: f64, latitude_deg: f64, longitude_deg: f64) -> SunPosition {
    let unix_s = unix_s.clamp(J2000_S - REACH_S, J2000_S + REACH_S);
    let (latitude_deg, longitude_deg) = place(latitude_deg, longitude_deg);
    let sun = geocentric(unix_s);
    let angle = hour_angle_deg(unix_s, sun.equation_of_time_min, longitude_deg).to_radians();
    let latitude = latitude_deg.to_radians();
    let declination = sun.declination_rad;
    let height =
        latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * angle.cos();
    let elevation_deg = height.clamp(-1.0, 1.0).asin().to_degrees();
    let azimuth = f64::atan2(
        -angle.sin(),
        declination.tan() * latitude.cos() - latitude.sin() * angle.cos(),
    );
    SunPosition {
        elevation_deg,
        azimuth_deg: azimuth.to_degrees().rem_euclid(360.0),
        apparent_elevation_deg: elevation_deg + refraction_deg(elevation_deg, 1010.0, 10.0),
        declination_deg: declination.to_degrees(),
        equation_of_time_min: sun.equation_of_time_min,
        distance_au: sun.distance_au,
    }
}

/// How far refraction lifts the sun, degrees: equation 42 of NREL/TP-560-34302. Zero where the
/// whole disc is below the refracted horizon.
pub fn refraction_deg(elevation_deg: f64, pressure_hpa: f64, air_c: f64) -> f64 {
    if elevation_deg < -(0.26667 + 0.5667) {
        return 0.0;
    }
    let elevation_deg = elevation_deg.min(90.0);
    // Colder or denser air than exists on earth is held at the edge of what does.
    let density = pressure_hpa.clamp(0.0, 1100.0) / 1010.0 * 283.0 / (273.0 + air_c.max(-100.0));
    let tangent = (elevation_deg + 10.3 / (elevation_deg + 5.11))
        .to_radians()
        .tan();
    (density * 1.02 / (60.0 * tangent)).max(0.0)
}

/// When the sun is up between two instants that bound a local day (Unix seconds).
///
/// The noon sought is the one nearest the middle of the day, so that the answer belongs to the
/// day as people on the spot count it, whatever their zone. Where clocks are so far from the sun
/// that it rises before the day begins or sets after it ends, the instant is held at that end.
pub fn daylight(
    day_start_s: f64,
    day_end_s: f64,
    latitude_deg: f64,
    longitude_deg: f64,
) -> DayLight {
    let hold = |s: f64| s.clamp(J2000_S - REACH_S, J2000_S + REACH_S);
    let (start, end) = (
        hold(day_start_s.min(day_end_s)),
        hold(day_start_s.max(day_end_s)),
    );
    let (latitude_deg, longitude_deg) = place(latitude_deg, longitude_deg);
    let transit = reach(f64::midpoint(start, end), 0.0, longitude_deg);
    let transit_s = transit.clamp(start, end);
    match half_day_deg(geocentric(transit).declination_rad, latitude_deg) {
        Arc::None => DayLight::AlwaysDown,
        Arc::Whole => DayLight::AlwaysUp { transit_s },
        Arc::Half(first) => {
            let event = |side: f64| {
                let mut half = first;
                let mut instant = transit + side * half / 360.0 * DAY_S;
                for _ in 0..4 {
                    half = match half_day_deg(geocentric(instant).declination_rad, latitude_deg) {
                        Arc::None => 0.0,
                        Arc::Half(half) => half,
                        Arc::Whole => 180.0,
                    };
                    let equation = geocentric(instant).equation_of_time_min;
                    let noon_equation = geocentric(transit).equation_of_time_min;
                    // The sundial gains or loses between noon and the event.
                    instant =
                        transit + side * half / 360.0 * DAY_S - (equation - noon_equation) * 60.0;
                }
                instant.clamp(start, end)
            };
            DayLight::Normal {
                rise_s: event(-1.0),
                transit_s,
                set_s: event(1.0),
            }
        }
    }
}

/// The instant nearest a guess at which the hour angle has the given value, degrees.
fn reach(guess_s: f64, angle_deg: f64, longitude_deg: f64) -> f64 {
    let mut instant = guess_s;
    for _ in 0..4 {
        let equation = geocentric(instant).equation_of_time_min;
        let now = hour_angle_deg(instant, equation, longitude_deg);
        let short = (angle_deg - now + 540.0).rem_euclid(360.0) - 180.0;
        instant += short / 360.0 * DAY_S;
    }
    instant
}

/// How much of its daily circle the sun spends above the horizon, counted from noon.
enum Arc {
    None,
    Half(f64),
    Whole,
}

fn half_day_deg(declination_rad: f64, latitude_deg: f64) -> Arc {
    let latitude = latitude_deg.to_radians();
    let above = HORIZON_DEG.to_radians().sin() - latitude.sin() * declination_rad.sin();
    let reach = latitude.cos() * declination_rad.cos();
    // Compared before dividing: at a pole `reach` vanishes.
    if above >= reach {
        Arc::None
    } else if above <= -reach {
        Arc::Whole
    } else {
        Arc::Half((above / reach).acos().to_degrees())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn noon_on_the_equator_at_the_equinox_is_overhead() {
        let noon = 1_710_936_480.0; // 2024-03-20 12:08 UTC
        let sun = position(noon, 0.0, 0.0);
        assert!(sun.elevation_deg > 89.5, "{sun:?}");
    }

    #[test]
    fn polar_days_are_told_apart() {
        let june = 1_718_928_000.0; // 2024-06-21 00:00 UTC
        let december = 1_734_739_200.0; // 2024-12-21 00:00 UTC
        let day = |start: f64, latitude: f64| daylight(start, start + DAY_S, latitude, 19.0);
        assert!(matches!(day(june, 80.0), DayLight::AlwaysUp { .. }));
        assert!(matches!(day(december, 80.0), DayLight::AlwaysDown));
        assert!(matches!(day(june, 90.0), DayLight::AlwaysUp { .. }));
        assert!(matches!(day(june, -90.0), DayLight::AlwaysDown));
        assert_eq!(day(december, 80.0).length_s(DAY_S), 0.0);
    }

    #[test]
    fn the_sun_stands_on_the_horizon_at_rise_and_set() {
        for day in 0..365 {
            let start = 1_704_067_200.0 + f64::from(day) * DAY_S;
            if let DayLight::Normal { rise_s, set_s, .. } =
                daylight(start, start + DAY_S, 47.0, 3.0)
            {
                for instant in [rise_s, set_s] {
                    let up = position(instant, 47.0, 3.0).elevation_deg;
                    assert!((up - HORIZON_DEG).abs() < 0.01, "day {day}: {up}");
                }
            } else {
                panic!("day {day} must be normal");
            }
        }
    }

    #[test]
    fn a_zone_far_from_the_sun_holds_the_events_inside_the_day() {
        // A clock eleven hours ahead of the sun.
        let start = 1_718_928_000.0 - 11.0 * 3600.0;
        match daylight(start, start + DAY_S, 50.0, 0.0) {
            DayLight::Normal {
                rise_s,
                transit_s,
                set_s,
            } => {
                assert!(start <= rise_s && rise_s <= transit_s);
                assert!(transit_s <= set_s && set_s <= start + DAY_S);
            }
            other => panic!("{other:?}"),
        }
    }

    proptest! {
        #[test]
        fn every_finite_input_gives_finite_numbers(
            t in proptest::num::f64::NORMAL, lat in proptest::num::f64::NORMAL,
            lon in proptest::num::f64::NORMAL, near in -4e9..4e9f64,
        ) {
            for (t, lat, lon) in [(t, lat, lon), (near, lat % 90.0, lon % 180.0), (near, 90.0, lon)] {
                let sun = position(t, lat, lon);
                for value in [sun.elevation_deg, sun.azimuth_deg, sun.apparent_elevation_deg,
                    sun.declination_deg, sun.equation_of_time_min, sun.distance_au] {
                    prop_assert!(value.is_finite());
                }
                prop_assert!((0.0..=360.0).contains(&sun.azimuth_deg));
                if let DayLight::Normal { rise_s, transit_s, set_s } = daylight(t, t + DAY_S, lat, lon) {
                    prop_assert!(rise_s.is_finite() && transit_s.is_finite() && set_s.is_finite());
                }
            }
        }
    }
}
