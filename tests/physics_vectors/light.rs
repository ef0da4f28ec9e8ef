//! Sun, sky and plane.

use ampledger::physics::{plane, sky, sun};

use crate::{near, rows};

/// A sun at an apparent zenith and azimuth at the mean distance.
fn sun_at(zenith_deg: f64, azimuth_deg: f64) -> sun::SunPosition {
    sun::SunPosition {
        elevation_deg: 90.0 - zenith_deg,
        azimuth_deg,
        apparent_elevation_deg: 90.0 - zenith_deg,
        declination_deg: 0.0,
        equation_of_time_min: 0.0,
        distance_au: 1.0,
    }
}

#[test]
fn solar_position() {
    for row in rows("solar_position.csv", 46) {
        let id = row.text("id");
        let found = sun::position(
            row.instant("utc"),
            row.number("lat_deg"),
            row.number("lon_deg_east"),
        );
        let elevation = row.number("geometric_elevation_deg");
        near(found.elevation_deg, elevation, 0.02, id);
        let turn =
            (found.azimuth_deg - row.number("azimuth_deg") + 540.0).rem_euclid(360.0) - 180.0;
        near(turn * elevation.to_radians().cos(), 0.0, 0.02, id);
        near(
            found.declination_deg,
            row.number("declination_deg"),
            0.01,
            id,
        );
        near(found.equation_of_time_min, row.number("eot_min"), 0.05, id);
        near(found.distance_au, row.number("r_au"), 0.0001, id);
        let lift = sun::refraction_deg(elevation, row.number("pressure_hpa"), row.number("temp_c"));
        near(
            90.0 - elevation - lift,
            row.number("apparent_zenith_deg"),
            2e-5,
            id,
        );
    }
}

#[test]
fn sunrise_and_sunset() {
    for row in rows("sunrise_sunset.csv", 16) {
        let id = row.text("id");
        let (latitude, longitude) = (row.number("lat_deg"), row.number("lon_deg_east"));
        let date: chrono::NaiveDate = row.text("local_date").parse().unwrap();
        let midnight = date.and_time(chrono::NaiveTime::MIN).and_utc().timestamp() as f64;
        let start = midnight - longitude * 240.0;
        let tolerance = if latitude.abs() < 60.0 { 60.0 } else { 180.0 };
        let found = sun::daylight(start, start + 86_400.0, latitude, longitude);
        match (row.text("state"), found) {
            (
                "normal",
                sun::DayLight::Normal {
                    rise_s,
                    transit_s,
                    set_s,
                },
            ) => {
                near(rise_s, row.instant("sunrise_utc"), tolerance, id);
                near(transit_s, row.instant("transit_utc"), tolerance, id);
                near(set_s, row.instant("sunset_utc"), tolerance, id);
                let hours = found.length_s(86_400.0) / 3600.0;
                near(
                    hours,
                    row.number("day_length_h"),
                    2.0 * tolerance / 3600.0,
                    id,
                );
            }
            ("sun_up_all_day", sun::DayLight::AlwaysUp { transit_s }) => {
                near(transit_s, row.instant("transit_utc"), tolerance, id);
            }
            ("sun_down_all_day", sun::DayLight::AlwaysDown) => {}
            (state, found) => panic!("{id}: {state} but {found:?}"),
        }
    }
}

#[test]
fn air_mass() {
    for row in rows("air_mass.csv", 19) {
        let zenith = row.number("apparent_zenith_deg");
        let wanted = row.number("am_relative");
        near(
            sky::air_mass(zenith),
            wanted,
            1e-4 * wanted,
            &format!("zenith {zenith}"),
        );
    }
}

#[test]
fn clear_sky_models() {
    for row in rows("clear_sky.csv", 121) {
        let (model, zenith) = (row.text("model"), row.number("apparent_zenith_deg"));
        let published = |factor| {
            sky::ineichen_perez(
                zenith,
                row.number("height_m"),
                row.number("turbidity"),
                row.number("i0_wm2"),
                factor,
            )
        };
        let found = match model {
            "haurwitz_b0.057" | "haurwitz_b0.059" => {
                let absorption = if model.ends_with('7') { 0.057 } else { 0.059 };
                let flat = sky::haurwitz_with(90.0 - zenith, absorption);
                near(flat, row.number("ghi_wm2"), 0.05, model);
                continue;
            }
            "ineichen_perez_with_exp0.01AM1.8" => published(sky::LowSunFactor::Applied),
            "ineichen_perez_2002" => published(sky::LowSunFactor::Omitted),
            "solis_simplified" => {
                let (depth, water) = row.text("turbidity").split_once(';').unwrap();
                let value = |text: &str| text.split_once('=').unwrap().1.parse::<f64>().unwrap();
                sky::solis(
                    90.0 - zenith,
                    value(depth),
                    value(water),
                    1.0,
                    row.number("i0_wm2"),
                )
            }
            other => panic!("an unknown model {other}"),
        };
        let what = format!("{model} at {zenith}");
        near(found.ghi_wm2, row.number("ghi_wm2"), 0.05, &what);
        near(found.dni_wm2, row.number("dni_wm2"), 0.05, &what);
        near(found.dhi_wm2, row.number("dhi_wm2"), 0.05, &what);
    }
}

#[test]
fn the_working_sky_is_the_published_one_above_five_degrees() {
    for row in rows("clear_sky.csv", 121) {
        let zenith = row.number("apparent_zenith_deg");
        if row.text("model") == "ineichen_perez_with_exp0.01AM1.8" && zenith <= 85.0 {
            let found = sky::clear_sky(
                &sun_at(zenith, 180.0),
                row.number("height_m"),
                row.number("turbidity"),
            );
            near(found.ghi_wm2, row.number("ghi_wm2"), 0.05, "flat");
            near(found.dni_wm2, row.number("dni_wm2"), 0.05, "beam");
        }
    }
}

#[test]
fn diffuse_share() {
    for row in rows("erbs.csv", 14) {
        near(
            sky::erbs(row.number("kt")),
            row.number("diffuse_fraction"),
            1e-4,
            row.text("kt"),
        );
    }
}

#[test]
fn plane_of_array() {
    for (i, row) in rows("plane_of_array.csv", 9).iter().enumerate() {
        let what = format!("row {i}");
        let clear = sky::ClearSky {
            ghi_wm2: row.number("ghi"),
            dni_wm2: row.number("dni"),
            dhi_wm2: row.number("dhi"),
        };
        let here = sun_at(row.number("zenith_deg"), row.number("sun_az_deg"));
        let tilt = row.number("tilt_deg");
        let found = plane::irradiance(&clear, &here, tilt, row.number("surface_az_deg"), 0.2);
        near(found.aoi_deg, row.number("aoi_deg"), 0.001, &what);
        near(found.beam_wm2, row.number("beam"), 0.02, &what);
        near(found.diffuse_wm2, row.number("sky_haydavies"), 0.02, &what);
        near(found.ground_wm2, row.number("ground"), 0.02, &what);
        near(found.total(), row.number("poa_haydavies"), 0.02, &what);
        let even = plane::isotropic(clear.dhi_wm2, tilt);
        near(even, row.number("sky_iso"), 0.02, &what);
        near(
            found.beam_wm2 + even + found.ground_wm2,
            row.number("poa_iso"),
            0.02,
            &what,
        );
        if tilt == 0.0 {
            near(found.total(), clear.ghi_wm2, 0.001, "flat");
        }
    }
}

#[test]
fn incidence_modifiers() {
    let (old, new) = ("iam_ashrae_b0_0.05", "iam_martin_ruiz_ar_0.16");
    for row in rows("iam.csv", 14) {
        let wanted = (row.number(old), row.number(new));
        let found = if row.text("aoi_deg") == "diffuse_hemisphere_flat" {
            (
                hemisphere(|a| plane::souka_safwat(a, 0.05)),
                hemisphere(|a| plane::martin_ruiz(a, 0.16)),
            )
        } else {
            let angle = row.number("aoi_deg");
            (
                plane::souka_safwat(angle, 0.05),
                plane::martin_ruiz(angle, plane::MARTIN_RUIZ_AR),
            )
        };
        near(found.0, wanted.0, 1e-3, row.text("aoi_deg"));
        near(found.1, wanted.1, 1e-3, row.text("aoi_deg"));
    }
    near(
        plane::DIFFUSE_MODIFIER,
        hemisphere(|a| plane::martin_ruiz(a, 0.16)),
        0.002,
        "diffuse",
    );
}

/// Mean of a modifier over an evenly bright sky on a flat surface.
fn hemisphere(modifier: impl Fn(f64) -> f64) -> f64 {
    let (mut passed, mut all) = (0.0, 0.0);
    for step in 0..9000 {
        let angle = (f64::from(step) + 0.5) * 0.01;
        let weight = angle.to_radians().cos() * angle.to_radians().sin();
        passed += modifier(angle) * weight;
        all += weight;
    }
    passed / all
}
