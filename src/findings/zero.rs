//! What is thought of the bank meter's zero error, by those rules that count its current.

use crate::account::balance::{Balance, Prior};
use crate::account::sampling;
use crate::account::swings::Zero;
use crate::findings::Evidence;
use crate::mapping::Role;
use crate::physics::bank::coulombic_efficiency;
use crate::quantity::Interval;

/// Half the 90 % range of a shunt's zero error that nothing in the log tells (trade reference 11: 0.05 A,
/// taken as a standard deviation).
const USUAL_A: f64 = 0.08;

/// The counts speak for one of two causes where they fit it better by this, in squared standard
/// deviations: one in a hundred by chance.
const CLEARLY: f64 = 6.6;

/// Whether what goes missing between full charges clearly grows with the charge put in, as a loss of the
/// bank does, rather than with the hours, as a zero error of the meter does.
pub(super) fn is_loss(evidence: &Evidence, balance: &Balance) -> bool {
    let usual = coulombic_efficiency(evidence.design.battery.chemistry);
    balance
        .favours_loss(1.0 - usual.value)
        .is_some_and(|by| by > CLEARLY)
}

/// What a shunt's zero error usually is, A.
pub(super) fn usual_offset() -> Prior {
    Prior::between(-USUAL_A, USUAL_A)
}

/// Loss of charge that is possible at all, share of the charge put in: what is usual for the chemistry,
/// widened to what a bank in poor health shows, and for lithium by the meter's two directions (1 %
/// of gain between them).
pub(super) fn possible_loss(evidence: &Evidence) -> Prior {
    if evidence.design.battery.chemistry.is_lead() {
        Prior::between(0.01, 0.40)
    } else {
        Prior::between(-0.015, 0.025)
    }
}

/// The zero error (meter minus truth) solved from true full charges, A, and what it was solved from;
/// `None` with fewer than three of them.
///
/// Lead turns what is put in on top of a full charge into gas, all of it or a part: counted in it makes
/// the error too large, left out too small. The interval takes in both, and what rows that stand far
/// apart leave open.
pub(super) fn solved(evidence: &Evidence) -> Option<(Interval, Balance)> {
    let (offset, balance) = counted(evidence)?;
    let timeline = evidence.timeline;
    let rows = timeline
        .channel(Role::BatteryCurrent)
        .map_or(0.0, |channel| sampling::half_a(timeline, channel));
    let half = |to: f64| (to - offset.value).hypot(rows);
    let (down, up) = (half(offset.low), half(offset.high));
    Some((
        Interval::new(offset.value, offset.value - down, offset.value + up),
        balance,
    ))
}

/// The zero error, A, where it is beyond doubt whatever the bank loses.
pub(super) fn beyond_doubt(evidence: &Evidence) -> Option<Interval> {
    let offset = solved(evidence)?.0;
    (offset.low > 0.0 || offset.high < 0.0)
        .then_some(offset)
        .filter(|o| o.value.abs() > evidence.design.judging.zero_error_a)
}

fn counted(evidence: &Evidence) -> Option<(Interval, Balance)> {
    let (charge, loss) = (&evidence.accounts.charge, possible_loss(evidence));
    let balance =
        |without_top| Balance::new(evidence.design, evidence.expected, charge, without_top);
    let all = balance(false);
    let offset = all.offset_a(loss)?;
    if !evidence.design.battery.chemistry.is_lead() {
        return Some((offset, all));
    }
    let less = balance(true).offset_a(loss)?;
    let both = Interval::new(
        f64::midpoint(offset.value, less.value),
        offset.low.min(less.low),
        offset.high.max(less.high),
    );
    Some((both, all))
}

/// The zero error by which counted charge is corrected: solved, where that tells more than what is usual
/// for a shunt, or contradicts it.
pub(super) fn of(evidence: &Evidence) -> Zero {
    solved(evidence)
        .filter(|(_, balance)| !is_loss(evidence, balance))
        .map(|s| s.0)
        .filter(|o| o.half_width() < USUAL_A || o.low > USUAL_A || o.high < -USUAL_A)
        .map_or(
            Zero {
                value: 0.0,
                half: USUAL_A,
            },
            |o| Zero {
                value: o.value,
                half: o.half_width(),
            },
        )
}
