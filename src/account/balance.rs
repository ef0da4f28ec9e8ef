//! Charge between true full charges: what the bank's meter counted in and out must differ by the bank's
//! own loss and the meter's zero error alone.
//!
//! Counted from a first full charge, (in - out) = loss x in + zero error x hours, up to how alike two
//! full charges are (trade reference 6.7). Loss and zero error can be told apart only where days differ
//! in their charge; where they don't, what is usual for one of them (a prior) bounds the other.

use crate::account::Charge;
use crate::design::{Chemistry, Design};
use crate::expect::{Expectation, STEP_S};
use crate::quantity::Interval;
use crate::stats::student::t95;

/// A chain is broken where more than this share of the time between two fulls was not logged.
const UNCOVERED: f64 = 0.005;
/// Degrees of freedom that the usual likeness of full charges is worth beside the likeness seen.
const PRIOR_DEGREES: f64 = 2.0;
/// Charge put in before this share of capacity was taken out still belongs to the full charge before.
const TOP_SHARE: f64 = 0.02;

/// What was counted at one full charge since the first of its chain.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Point {
    chain: usize,
    hours: f64,
    in_ah: f64,
    net_ah: f64,
}

/// Counts between true fulls.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    points: Vec<Point>,
    /// Standard deviation of the charge at which a bank counts as full, Ah.
    alike_ah: f64,
    /// Spans between neighbouring fulls that were logged throughout.
    pub spans: usize,
    /// Their hours together.
    pub hours: f64,
    /// Charge put in during them, Ah.
    pub in_ah: f64,
    /// Charge taken out during them, Ah.
    pub out_ah: f64,
    /// Instant of the first and the last of those fulls, Unix seconds.
    pub period: Option<(i64, i64)>,
}

/// What is usual for a quantity: centre and half of a 90 % range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Centre.
    pub centre: f64,
    /// Half of the 90 % range.
    pub half: f64,
}

impl Prior {
    /// From the ends of a range.
    pub fn between(low: f64, high: f64) -> Self {
        Self {
            centre: f64::midpoint(low, high),
            half: (high - low) / 2.0,
        }
    }
}

impl Balance {
    /// Counts between the fulls of a log. `without_top` leaves out what was put in on top of a full
    /// charge before the bank was used again: lead turns that into gas, which says nothing of its cycles.
    pub fn new(
        design: &Design,
        expected: &Expectation,
        charge: &Charge,
        without_top: bool,
    ) -> Self {
        let capacity = design.battery.capacity_ah;
        let mut balance = Self {
            points: Vec::new(),
            alike_ah: alike_share(design.battery.chemistry) * capacity,
            spans: 0,
            hours: 0.0,
            in_ah: 0.0,
            out_ah: 0.0,
            period: None,
        };
        let mut chain = 0;
        for pair in charge.fulls.windows(2) {
            let Some(span) = span(expected, pair[0], pair[1], without_top, capacity) else {
                chain += 1;
                continue;
            };
            balance.add(chain, &span, (pair[0], pair[1]));
        }
        balance
    }

    fn add(&mut self, chain: usize, span: &Span, ends: (i64, i64)) {
        let before = self
            .points
            .last()
            .filter(|p| p.chain == chain)
            .copied()
            .unwrap_or(Point {
                chain,
                hours: 0.0,
                in_ah: 0.0,
                net_ah: 0.0,
            });
        if before.hours == 0.0 {
            self.points.push(before);
        }
        self.points.push(Point {
            chain,
            hours: before.hours + span.hours,
            in_ah: before.in_ah + span.in_ah,
            net_ah: before.net_ah + span.in_ah - span.out_ah,
        });
        self.spans += 1;
        self.hours += span.hours;
        self.in_ah += span.in_ah;
        self.out_ah += span.out_ah;
        self.period = Some((self.period.map_or(ends.0, |p| p.0), ends.1));
    }

    /// The meter's zero error (meter minus truth), A, for what is thought of the bank's loss (share of
    /// the charge put in). `None` with fewer than two spans.
    pub fn offset_a(&self, loss: Prior) -> Option<Interval> {
        let fit = self.solve([Some(loss), None])?;
        Some(fit[1])
    }

    /// The share of the charge put in that does not come out again, for what is thought of the meter's
    /// zero error (A). `None` with fewer than two spans.
    pub fn loss(&self, offset: Prior) -> Option<Interval> {
        let fit = self.solve([None, Some(offset)])?;
        Some(fit[0])
    }

    /// By how much the counts fit a loss better than a zero error, in squared standard deviations: the loss
    /// free and the meter right, against the zero error free and the loss usual. Above 0 they fit a loss.
    /// A loss grows with the charge put in, a zero error with the hours; days that are all alike fit both.
    pub fn favours_loss(&self, usual_loss: f64) -> Option<f64> {
        if self.spans < 2 {
            return None;
        }
        let (rows, chains) = self.centred();
        let rest = |k: usize, other: f64| {
            let y = |(x, y): &([f64; 2], f64)| y - other * x[1 - k];
            let xx: f64 = rows.iter().map(|(x, _)| x[k] * x[k]).sum();
            let slope = rows.iter().map(|r| r.0[k] * y(r)).sum::<f64>() / xx.max(1e-9);
            rows.iter()
                .map(|r| (y(r) - slope * r.0[k]).powi(2))
                .sum::<f64>()
        };
        let (loss, offset) = (rest(0, 0.0), rest(1, usual_loss));
        let degrees = (rows.len() - chains).saturating_sub(1) as f64;
        let variance =
            (PRIOR_DEGREES * self.alike_ah.powi(2) + loss.min(offset)) / (PRIOR_DEGREES + degrees);
        Some((offset - loss) / variance.max(1e-12))
    }

    /// Least squares of the counted difference on charge and hours, each chain about its own mean, with
    /// priors as further observations. The spread about the fit joins the usual likeness of full charges.
    fn solve(&self, priors: [Option<Prior>; 2]) -> Option<[Interval; 2]> {
        if self.spans < 2 {
            return None;
        }
        let (rows, chains) = self.centred();
        let degrees = (rows.len() - chains).saturating_sub(1) as f64;
        let mut sigma = self.alike_ah;
        let mut fit = normal(&rows, priors, sigma)?;
        let rest: f64 = rows
            .iter()
            .map(|(x, y)| (y - fit.0[0] * x[0] - fit.0[1] * x[1]).powi(2))
            .sum();
        sigma = ((PRIOR_DEGREES * self.alike_ah.powi(2) + rest) / (PRIOR_DEGREES + degrees)).sqrt();
        fit = normal(&rows, priors, sigma)?;
        let t = t95(PRIOR_DEGREES + degrees);
        let interval = |k: usize| {
            let half = t * fit.1[k].sqrt();
            Interval::new(fit.0[k], fit.0[k] - half, fit.0[k] + half)
        };
        Some([interval(0), interval(1)])
    }

    fn centred(&self) -> (Vec<([f64; 2], f64)>, usize) {
        let mut rows = Vec::new();
        let mut chains = 0;
        for chain in self.points.chunk_by(|a, b| a.chain == b.chain) {
            chains += 1;
            let n = chain.len() as f64;
            let mean = |pick: fn(&Point) -> f64| chain.iter().map(pick).sum::<f64>() / n;
            let (i, h, net) = (mean(|p| p.in_ah), mean(|p| p.hours), mean(|p| p.net_ah));
            rows.extend(
                chain
                    .iter()
                    .map(|p| ([p.in_ah - i, p.hours - h], p.net_ah - net)),
            );
        }
        (rows, chains)
    }
}

/// Standard deviation of the state of charge at which a bank is confirmed full, share: lead creeps up
/// for hours after its current has become small.
fn alike_share(chemistry: Chemistry) -> f64 {
    if chemistry.is_lead() { 0.02 } else { 0.01 }
}

/// Estimates and variances of two parameters.
fn normal(
    rows: &[([f64; 2], f64)],
    priors: [Option<Prior>; 2],
    sigma: f64,
) -> Option<([f64; 2], [f64; 2])> {
    let weight = 1.0 / sigma.max(1e-9).powi(2);
    let mut a = [[0.0; 2]; 2];
    let mut b = [0.0; 2];
    for (x, y) in rows {
        for j in 0..2 {
            b[j] += weight * x[j] * y;
            for k in 0..2 {
                a[j][k] += weight * x[j] * x[k];
            }
        }
    }
    for (j, prior) in priors.iter().enumerate() {
        if let Some(prior) = prior {
            // Half a 90 % range is 1.645 standard deviations.
            let weight = (1.645 / prior.half.max(1e-9)).powi(2);
            a[j][j] += weight;
            b[j] += weight * prior.centre;
        }
    }
    let det = a[0][0] * a[1][1] - a[0][1] * a[1][0];
    if !(det.is_finite() && det > 1e-9 * a[0][0] * a[1][1]) {
        return None;
    }
    let value = [
        (b[0] * a[1][1] - b[1] * a[0][1]) / det,
        (b[1] * a[0][0] - b[0] * a[1][0]) / det,
    ];
    let variance = [a[1][1] / det, a[0][0] / det];
    let fine = value.iter().chain(&variance).all(|v| v.is_finite());
    fine.then_some((value, variance))
}

/// One span between fulls.
struct Span {
    hours: f64,
    in_ah: f64,
    out_ah: f64,
}

fn span(
    expected: &Expectation,
    from: i64,
    to: i64,
    without_top: bool,
    capacity_ah: f64,
) -> Option<Span> {
    let amps = expected.signals.bank_a.as_ref()?;
    let grid = &expected.grid;
    let moment = |at: i64| usize::try_from((at - grid.start).div_euclid(STEP_S)).ok();
    let (first, last) = (moment(from)?, moment(to)?.min(grid.moments));
    let mut made = Span {
        hours: 0.0,
        in_ah: 0.0,
        out_ah: 0.0,
    };
    let (mut covered_s, mut top, mut taken) = (0.0, 0.0, 0.0f64);
    for m in first..last {
        covered_s += amps.covered(m);
        made.in_ah += amps.in_h[m];
        made.out_ah += amps.out_h[m];
        if taken < TOP_SHARE * capacity_ah {
            taken += amps.out_h[m] - amps.in_h[m];
            if taken < 0.0 {
                top -= taken;
                taken = 0.0;
            }
        }
    }
    made.hours = (last - first) as f64 * grid.step_h();
    if without_top {
        made.in_ah -= top;
    }
    (covered_s >= (1.0 - UNCOVERED) * made.hours * 3600.0 && made.hours > 0.0).then_some(made)
}
