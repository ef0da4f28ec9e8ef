//! Where the system stood in the period, leg by leg.

use crate::calendar::Calendar;
use crate::design::{Place, Spot};
use crate::report::model::Stop;

/// The design's places between two instants (Unix seconds), in order; nothing where it was one place all along.
pub(super) fn stops(place: &Place, calendar: &Calendar, from: i64, to: i64) -> Vec<Stop> {
    let later = place.legs.iter().map(|(since, spot)| (*since, spot));
    let begun: Vec<(i64, &Spot)> = std::iter::once((i64::MIN, &place.base))
        .chain(later)
        .collect();
    let ends = begun.iter().skip(1).map(|(since, _)| *since);
    let ends: Vec<i64> = ends.chain([i64::MAX]).collect();
    let stops: Vec<Stop> = begun
        .into_iter()
        .zip(ends)
        .map(|((since, spot), until)| (since.max(from), until.min(to), spot))
        .filter(|(since, until, _)| since < until)
        .map(|(since, until, spot)| Stop {
            from: calendar.date(since).to_string(),
            to: calendar.date(until - 1).to_string(),
            place: in_words(spot),
            note: spot.note.clone(),
        })
        .collect();
    if stops.len() > 1 { stops } else { Vec::new() }
}

/// A spot as reports print it: rounded to a tenth of a degree, with its zone.
pub(super) fn in_words(spot: &Spot) -> String {
    let side = |value: f64, plus: char, minus: char| {
        format!(
            "{:.1} {}",
            value.abs(),
            if value < 0.0 { minus } else { plus }
        )
    };
    format!(
        "{}, {}, {}",
        side(spot.latitude_deg, 'N', 'S'),
        side(spot.longitude_deg, 'E', 'W'),
        spot.timezone.name()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::Tz;

    const DAY: i64 = 86_400;

    fn spot(latitude_deg: f64, timezone: Tz) -> Spot {
        Spot {
            latitude_deg,
            longitude_deg: -9.94,
            altitude_m: 0.0,
            timezone,
            tilt_deg: None,
            facing_deg: None,
            note: None,
        }
    }

    fn two_legs() -> Place {
        Place {
            base: spot(57.0, Tz::UTC),
            legs: vec![
                (4 * DAY, spot(58.0, Tz::UTC)),
                (8 * DAY, spot(-1.0, Tz::Europe__Vilnius)),
            ],
        }
    }

    #[test]
    fn each_leg_has_its_days_and_its_zone() {
        let place = two_legs();
        let stops = stops(&place, &place.calendar(), DAY, 10 * DAY);
        let told: Vec<String> = stops
            .iter()
            .map(|s| format!("{} {} {}", s.from, s.to, s.place))
            .collect();
        assert_eq!(
            told,
            [
                "1970-01-02 1970-01-04 57.0 N, 9.9 W, UTC",
                "1970-01-05 1970-01-08 58.0 N, 9.9 W, UTC",
                "1970-01-09 1970-01-11 1.0 S, 9.9 W, Europe/Vilnius",
            ]
        );
    }

    #[test]
    fn legs_outside_the_period_are_not_told() {
        let place = two_legs();
        assert!(stops(&place, &place.calendar(), 5 * DAY, 7 * DAY).is_empty());
    }
}
