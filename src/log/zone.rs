//! Which zone stamps are in: what they carry, what was said of them, where the log was written.

use super::Request;
use super::abbreviation;
use super::clock::{Form, Zone};
use super::layout::Layout;
use super::stamp;
use crate::mapping::{LogEntry, StampZone};

/// The zone of a file's stamps.
pub(crate) struct Found {
    /// For stamps that carry none.
    pub(crate) zone: Zone,
    /// What the stamps themselves carry, for `inspect`.
    pub(crate) written: Option<String>,
    /// What a design would say for stamps that carry none.
    pub(crate) to_say: Option<StampZone>,
}

/// Finds the zone.
pub(crate) fn find(
    columns: &[usize],
    layout: &Layout,
    form: &Form,
    entry: Option<&LogEntry>,
    request: &Request,
    notes: &mut Vec<String>,
) -> Found {
    let written = written_zone(layout, columns, form);
    let carries = written.is_some() || matches!(form, Form::Epoch(_));
    if let (true, Some(stated)) = (carries, entry.and_then(|e| e.timezone.as_ref())) {
        notes.push(zone_not_needed(stated, written.is_some()));
    }
    // Single stamps without the offset the others carry still need a zone.
    let zone = match carries {
        true => zone_of(columns, layout, entry, request, &mut Vec::new()),
        false => zone_of(columns, layout, entry, request, notes),
    };
    let says = |c: &usize| {
        layout
            .titles
            .get(*c)
            .and_then(|t| abbreviation::in_title(t))
    };
    let guessed = unknown_zone(entry, request)
        && titled(columns, layout).is_none()
        && columns.iter().find_map(says).is_none();
    let to_say = match &zone {
        _ if carries || guessed => None,
        Zone::Named(zone) => Some(StampZone::Named(*zone)),
        Zone::Local(_) => Some(StampZone::Local),
    };
    Found {
        zone,
        written,
        to_say,
    }
}

/// The zone written in the stamps: `UTC`, an offset, or that each carries its own.
fn written_zone(layout: &Layout, columns: &[usize], form: &Form) -> Option<String> {
    if !matches!(form, Form::Calendar(_)) {
        return None;
    }
    let mut offsets: Vec<i32> = layout
        .sample
        .iter()
        .filter_map(|row| stamp::parse(row.joined(columns)?.as_bytes())?.offset)
        .collect();
    if offsets.len() * 2 < layout.sample.len() {
        return None;
    }
    offsets.sort_unstable();
    offsets.dedup();
    match offsets[..] {
        [] => None,
        [0] => Some("UTC".to_owned()),
        [one] => Some(format!(
            "{}{:02}:{:02}",
            if one < 0 { '-' } else { '+' },
            one.abs() / 3600,
            one.abs() / 60 % 60
        )),
        _ => Some("the offset each carries".to_owned()),
    }
}

fn zone_not_needed(stated: &StampZone, written: bool) -> String {
    let zone = match stated {
        StampZone::Named(zone) => zone.name(),
        StampZone::Local => "local",
    };
    let why = if written {
        "the stamps carry their own offset"
    } else {
        "seconds since 1970 count from Greenwich"
    };
    format!(
        "timezone \"{zone}\" is not used: {why}; if the logger's clock was set wrong, say clock_shift"
    )
}

/// Without a design, an option or an entry nobody said which zone the stamps are in.
fn unknown_zone(entry: Option<&LogEntry>, request: &Request) -> bool {
    request.folder.is_none() && request.zone.is_none() && entry.is_none()
}

/// The zone of stamps without one: the command line's, the entry's, the title's, the place's.
fn zone_of(
    columns: &[usize],
    layout: &Layout,
    entry: Option<&LogEntry>,
    request: &Request,
    notes: &mut Vec<String>,
) -> Zone {
    let zone_entry = entry.and_then(|e| e.timezone.clone());
    match (request.zone, zone_entry) {
        (Some(zone), _) | (None, Some(StampZone::Named(zone))) => {
            if let Some((_, shown)) = titled(columns, layout)
                && shown != zone.name()
            {
                notes.push(format!(
                    "the title of the time column says {shown}; read as {} all the same, as stated",
                    zone.name()
                ));
            }
            Zone::Named(zone)
        }
        (None, Some(StampZone::Local)) => Zone::Local(request.calendar.clone()),
        (None, None) => {
            if let Some((zone, shown)) = titled(columns, layout) {
                notes.push(format!("stamps are {shown}: the column's title says so"));
                return zone;
            }
            let abbreviated = columns
                .iter()
                .filter_map(|c| abbreviation::in_title(layout.titles.get(*c)?))
                // Where a design says the place, the name of its standard time is said all year round.
                .find(|found| found.1.summer || unknown_zone(entry, request));
            if let Some((word, found)) = abbreviated
                && let Some(zone) = fixed(found.hours)
            {
                notes.push(format!(
                    "stamps are UTC{:+} throughout: the column's title says {word}",
                    found.hours
                ));
                return zone;
            }
            if unknown_zone(entry, request) {
                notes.push("the stamps carry no zone and none is known: taken as UTC; give --timezone or --design".to_owned());
            }
            Zone::Named(request.calendar.zone_at(i64::MIN))
        }
    }
}

/// A zone the title of a time column names: UTC or GMT, with an offset or without.
fn titled(columns: &[usize], layout: &Layout) -> Option<(Zone, String)> {
    let titles = columns.iter().filter_map(|c| layout.titles.get(*c));
    titles.into_iter().find_map(|title| {
        let upper = title.to_uppercase();
        let at = upper.find("UTC").or_else(|| upper.find("GMT"))?;
        let lone = |c: Option<char>| c.is_none_or(|c| !c.is_alphabetic());
        if !lone(upper[..at].chars().next_back()) || !lone(upper[at + 3..].chars().next()) {
            return None;
        }
        let hours = whole_hours(&upper[at + 3..])?;
        let zone = fixed(hours)?;
        let shown = match hours {
            0 => "UTC".to_owned(),
            h => format!("UTC{h:+}"),
        };
        Some((zone, shown))
    })
}

/// The zone so many hours east of Greenwich.
fn fixed(hours: i32) -> Option<Zone> {
    // These zones are named the other way round: west is plus.
    let name = match hours {
        0 => "UTC".to_owned(),
        h => format!("Etc/GMT{}{}", if h > 0 { '-' } else { '+' }, h.abs()),
    };
    name.parse().ok().map(Zone::Named)
}

/// Hours east of Greenwich behind `UTC` in a title, 0 where none stand there; `None` where it is no
/// number of whole hours.
fn whole_hours(rest: &str) -> Option<i32> {
    let rest = rest.trim_start().trim_end_matches([')', ']', ' ']);
    let Some(sign) = rest.chars().next().filter(|c| matches!(c, '+' | '-')) else {
        return Some(0);
    };
    let digits = rest[1..].trim_start().trim_end_matches(":00");
    let hours: i32 = match digits.len() {
        4 => digits.strip_suffix("00")?.parse().ok()?,
        _ => digits.parse().ok()?,
    };
    (hours <= 12).then_some(if sign == '-' { -hours } else { hours })
}
