//! Rows of days, 24 hours left to right: what the hour charts have in common.

use super::axis::Scale;
use super::canvas::{Anchor, Canvas};
use super::clock::{self, ProfileDay};
use super::style::{Ink, SMALL, WIDTH};
use crate::report::model::{LongHours, Report};
use crate::report::spans::{self, MOST_ROWS};

pub(super) const LEFT: f64 = 58.0;
pub(super) const RIGHT: f64 = WIDTH - 10.0;
pub(super) const PITCH: f64 = 15.0;

/// The days shown, and a remark where some are not.
pub(super) fn days(report: &Report) -> (Vec<ProfileDay>, String) {
    let mut days = clock::profile_days(report.series.fine());
    let all = days.len();
    if all > MOST_ROWS {
        days.drain(..all - MOST_ROWS);
        return (
            days,
            format!(" The last {MOST_ROWS} of {all} days are shown."),
        );
    }
    (days, String::new())
}

/// The names of the rows of a long period, and what they are.
pub(super) fn long_rows(report: &Report, long: &LongHours) -> (Vec<String>, String) {
    let spans = spans::of_days(&report.days);
    let labels = long
        .rows
        .iter()
        .take(MOST_ROWS)
        .map(|row| {
            let named = spans.rows.iter().find(|s| {
                report
                    .days
                    .get(s.days.start)
                    .is_some_and(|d| d.date == row.from)
            });
            named.map_or_else(|| row.from.clone(), |s| s.label.clone())
        })
        .collect();
    (labels, spans.remark)
}

/// The scale of the hours.
pub(super) fn hours() -> Scale {
    Scale::new(0.0, 24.0, LEFT, RIGHT)
}

/// Hour figures above the rows and the rows' names beside them.
pub(super) fn frame(canvas: &mut Canvas<'_>, rows: &[String], top: f64) {
    for hour in [0, 6, 12, 18, 24] {
        let x = hours().at(f64::from(hour));
        let label = format!("{hour:02}:00");
        let anchor = if hour == 24 {
            Anchor::Right
        } else {
            Anchor::Middle
        };
        canvas.text(
            &label,
            x.min(WIDTH - 1.0),
            top - 9.0,
            anchor,
            Ink::Muted,
            SMALL,
        );
    }
    for (i, label) in rows.iter().enumerate() {
        let y = top + PITCH * (i as f64 + 0.5);
        canvas.text(label, LEFT - 8.0, y, Anchor::Right, Ink::Text, SMALL);
    }
}

/// Clock times below a chart whose scale counts hours, those past midnight from 24 on.
pub(super) fn clock(canvas: &mut Canvas<'_>, hours: &Scale, at: &[u32], bottom: f64) {
    for hour in at {
        let x = hours.at(f64::from(*hour));
        canvas.path(&[(x, bottom), (x, bottom + 4.0)], Ink::Muted, 0.8);
        let label = format!("{:02}:00", if *hour > 24 { hour - 24 } else { *hour });
        let (x, anchor) = if x > WIDTH - 20.0 {
            (WIDTH - 1.0, Anchor::Right)
        } else {
            (x, Anchor::Middle)
        };
        canvas.text(&label, x, bottom + 13.0, anchor, Ink::Muted, SMALL);
    }
}

/// Light lines at the quarters of the day, over the rows.
pub(super) fn quarters(canvas: &mut Canvas<'_>, rows: usize, top: f64) {
    for hour in [6.0, 12.0, 18.0] {
        let x = hours().at(hour);
        canvas.path(
            &[(x, top - 3.0), (x, top + PITCH * rows as f64)],
            Ink::Muted,
            0.4,
        );
    }
}
