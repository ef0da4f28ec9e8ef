//! The default case: a chain of two faults, on the main job.

use crate::sample::draw::Draw;
use crate::sample::parts::{barge, busy};
use crate::sample::scenario::{Engine, Scenario};

/// Quiet days at first that the bank fills on in spite of a poor joint; then everyday use, which it
/// no longer does; then one of two strings drops out.
pub(super) fn barge_september(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = barge(case, draw);
    s.bank.max_days_between_full = 10.0;
    s.quiet = (0, 5, 0.12);
    busy(&mut s, 110.0, 4.1);
    s.faults.joint = Some((draw.dice.range(30.0, 38.0), 0));
    s.faults.strings_out = Some((0.5, 14, u32::MAX));
    s.engine = [13, 18, 20, 22]
        .map(|day| Engine {
            day,
            start_h: 9.5,
            hours: 1.5,
            current_a: 40.0,
        })
        .to_vec();
    s.events = vec![
        (5, "crew came aboard"),
        (14, "moved to the outer berth in a gale"),
    ];
    s
}
