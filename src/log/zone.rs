//! Which zone stamps are in: what they carry, what was said of them, where the log was written.

use super::Request;
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
    let guessed = unknown_zone(entry, request) && !utc_in_title(columns, layout);
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
        .filter_map(|row| {
            let cells: Vec<&str> = columns
                .iter()
                .filter_map(|c| row.get(*c))
                .map(String::as_str)
                .collect();
            stamp::parse(cells.join(" ").as_bytes())?.offset
        })
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
    match (request.zone, &zone_entry) {
        (Some(zone), _) => Zone::Named(zone),
        (None, Some(StampZone::Named(zone))) => Zone::Named(*zone),
        (None, Some(StampZone::Local)) => Zone::Local(request.calendar.clone()),
        (None, None) if utc_in_title(columns, layout) => {
            notes.push("stamps are UTC: the column's title says so".to_owned());
            Zone::Named(chrono_tz::UTC)
        }
        (None, None) => {
            if unknown_zone(entry, request) {
                notes.push("the stamps carry no zone and none is known: taken as UTC; give --timezone or --design".to_owned());
            }
            Zone::Named(request.calendar.zone_at(i64::MIN))
        }
    }
}

fn utc_in_title(columns: &[usize], layout: &Layout) -> bool {
    columns
        .iter()
        .filter_map(|c| layout.titles.get(*c))
        .any(|t| {
            let folded = super::words::fold(t);
            folded.contains(" utc ") || folded.contains(" gmt ")
        })
}
