//! `[place]` and its legs.

use chrono::NaiveDateTime;
use chrono_tz::Tz;
use toml::de::DeTable;

use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::{Moment, Place, Spot};
use crate::calendar::Calendar;
use crate::mapping::StampZone;

pub(super) fn read(root: &DeTable<'_>, notes: &mut Notes) -> Place {
    let section = Section::single(root, "place", notes);
    let latitude_deg = section.required("latitude", notes);
    let longitude_deg = section.required("longitude", notes);
    let base = Spot {
        latitude_deg,
        longitude_deg,
        altitude_m: section.number_or(
            "altitude",
            0.0,
            "sea level; each 1000 m adds about a tenth to a clear sky's sun",
            notes,
        ),
        timezone: zone(&section, "timezone", notes)
            .unwrap_or_else(|| zone_by_longitude(&section, longitude_deg, notes)),
        tilt_deg: None,
        facing_deg: None,
        note: None,
    };
    let legs = legs(&section, &base, notes);
    Place { base, legs }
}

fn zone(section: &Section<'_>, word: &str, notes: &mut Notes) -> Option<Tz> {
    match section.zone(word, notes)? {
        StampZone::Named(zone) => Some(zone),
        StampZone::Local => None,
    }
}

/// The whole-hour zone of a longitude: 15 degrees an hour. The `Etc` names count west of
/// Greenwich, so their sign is turned round.
fn zone_by_longitude(section: &Section<'_>, longitude_deg: f64, notes: &mut Notes) -> Tz {
    let hours = (longitude_deg / 15.0).round() as i32;
    let name = match hours {
        0 => "Etc/UTC".to_owned(),
        h => format!("Etc/GMT{:+}", -h),
    };
    if section.raw("timezone").is_none() && section.raw("longitude").is_some() {
        let shown = format!("{name} (UTC{hours:+})");
        let why = "the hour nearest to the longitude, without summer time";
        notes.assume("place.timezone".to_owned(), shown, why);
    }
    name.parse().unwrap_or(Tz::UTC)
}

/// The legs in the order of time; each takes from the one before what it does not say.
fn legs(place: &Section<'_>, base: &Spot, notes: &mut Notes) -> Vec<(i64, Spot)> {
    let Some(table) = place.table() else {
        return Vec::new();
    };
    let mut found: Vec<(Moment, Option<i16>, Section<'_>)> = Vec::new();
    for leg in Section::all(table, "place.leg") {
        if leg.raw("from").is_none() {
            leg.missing("from", notes);
        }
        if let Some((moment, offset)) = leg.moment("from", notes) {
            found.push((moment, offset, leg));
        }
    }
    found.sort_by_key(|leg| wall(leg.0));
    let mut legs: Vec<(i64, Spot)> = Vec::new();
    for (moment, offset, mut leg) in found {
        leg.name = Some(format!("from {}", wall(moment).format("%Y-%m-%d %H:%M")));
        let before = legs.last().map_or(base, |l| &l.1);
        let spot = spot(&leg, before, notes);
        let from = instant(moment, offset, spot.timezone);
        if legs.last().is_some_and(|l| l.0 >= from) {
            leg.problem(
                "from",
                "does not begin after the leg before it; give each leg its own beginning",
                notes,
            );
        }
        legs.push((from, spot));
    }
    legs
}

fn spot(leg: &Section<'_>, before: &Spot, notes: &mut Notes) -> Spot {
    Spot {
        latitude_deg: inherited(leg, "latitude", before.latitude_deg, notes),
        longitude_deg: inherited(leg, "longitude", before.longitude_deg, notes),
        altitude_m: leg.number("altitude", notes).unwrap_or(before.altitude_m),
        timezone: zone(leg, "timezone", notes).unwrap_or(before.timezone),
        tilt_deg: leg.number("tilt", notes),
        facing_deg: leg.number("facing", notes),
        note: leg.text("note", notes),
    }
}

/// A coordinate, or that of the place before, noted as assumed.
fn inherited(leg: &Section<'_>, word: &str, before: f64, notes: &mut Notes) -> f64 {
    leg.number_or(word, before, "as at the place before", notes)
}

fn wall(moment: Moment) -> NaiveDateTime {
    match moment {
        Moment::Day(day) => day.and_time(chrono::NaiveTime::MIN),
        Moment::Wall(wall) => wall,
    }
}

/// Unix seconds of a moment: by its own offset, else on the clock of the leg's own zone.
fn instant(moment: Moment, offset: Option<i16>, zone: Tz) -> i64 {
    let wall = wall(moment);
    if let Some(minutes) = offset {
        return wall.and_utc().timestamp() - i64::from(minutes) * 60;
    }
    let midnight = Calendar::fixed(zone).start_of(wall.date());
    if matches!(moment, Moment::Day(_)) {
        return midnight;
    }
    let of_clock = chrono::TimeZone::from_local_datetime(&zone, &wall);
    // A wall time that clocks skip is counted on from midnight.
    of_clock.earliest().map_or_else(
        || midnight + i64::from(chrono::Timelike::num_seconds_from_midnight(&wall)),
        |found| found.timestamp(),
    )
}
