//! Rows of days, 24 hours left to right: what the hour charts have in common.

use super::axis::Scale;
use super::canvas::{Anchor, Canvas};
use super::clock::{self, ProfileDay};
use super::style::{Ink, SMALL, WIDTH};
use crate::report::format;
use crate::report::model::Report;

/// Most days one chart shows; a longer log shows its last.
pub(super) const MOST_DAYS: usize = 62;
pub(super) const LEFT: f64 = 58.0;
pub(super) const RIGHT: f64 = WIDTH - 10.0;
pub(super) const PITCH: f64 = 15.0;

/// The days shown, and a remark where some are not.
pub(super) fn days(report: &Report) -> (Vec<ProfileDay>, String) {
    let mut days = clock::profile_days(report);
    let all = days.len();
    if all > MOST_DAYS {
        days.drain(..all - MOST_DAYS);
        return (
            days,
            format!(" The last {MOST_DAYS} of {all} days are shown."),
        );
    }
    (days, String::new())
}

/// The scale of the hours.
pub(super) fn hours() -> Scale {
    Scale::new(0.0, 24.0, LEFT, RIGHT)
}

/// Hour figures above the rows and the days' names beside them.
pub(super) fn frame(canvas: &mut Canvas<'_>, days: &[ProfileDay], top: f64) {
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
    for (i, day) in days.iter().enumerate() {
        let y = top + PITCH * (i as f64 + 0.5);
        canvas.text(
            &format::day(&day.date),
            LEFT - 8.0,
            y,
            Anchor::Right,
            Ink::Text,
            SMALL,
        );
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
