//! Where each moment's offer went, in the contract's order of attribution.

use crate::account::episode::{self, Reduction, left_at, left_on};
use crate::account::instrument::GAIN;
use crate::account::loads::Loads;
use crate::account::sky::{CAP, Sky};
use crate::account::stretches::Stretches;
use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::limit::AtLimit;
use crate::expect::offer::air_at;
use crate::expect::{Expectation, Regime};
use crate::physics::cell;
use crate::physics::sky::model_band;
use crate::quantity::Interval;

/// What the run from the panels and the controller may take beyond the design's own, without the array's side
/// in the log to show it: share of what was offered.
const UNTOLD: f64 = 0.015;
/// Beyond this the ratio of controller output to array input is a loss of its own rather than the
/// difference of two meters, share.
const CONVERSION_SLACK: f64 = 0.05;

/// The parts of every moment's offer, Wh: one figure of each for every moment of the grid.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Attribution {
    /// What the real sky and heat offered to the array as designed.
    pub offered: Stretches<Interval>,
    /// Part of the offer that comes from real heat against planned heat (negative: hotter).
    pub heat: Stretches<f64>,
    /// Taken by the array beyond its allowance's range.
    pub array: Stretches<Interval>,
    /// Taken by shade that comes back with the sun.
    pub shade: Stretches<Interval>,
    /// Taken by the conversion beyond the design's own.
    pub conversion: Stretches<f64>,
    /// Taken by the controller's limit.
    pub limit: Stretches<Interval>,
    /// Not taken by the bank.
    pub held: Stretches<Interval>,
    /// Offered during gaps.
    pub unmeasured: Stretches<Interval>,
    /// Harvested, measured or inferred.
    pub harvest: Stretches<f64>,
    /// Whether the harvest is an estimate from the bank's side alone.
    pub estimated: bool,
    /// What such an estimate may be too high by, and too low by, W.
    pub hidden_w: [f64; 2],
    /// Conversion against the design's, 1 where as designed or not measurable.
    pub conversion_level: f64,
    /// Whether an instrument shows the sky: what is wrong with its scale is wrong throughout.
    pub metered: bool,
}

/// One moment's parts.
#[derive(Debug, Clone, Copy, Default)]
struct Parts {
    offered: Option<Interval>,
    array: Option<Interval>,
    shade: Option<Interval>,
    conversion: f64,
    limit: Option<Interval>,
    held: Option<Interval>,
    unmeasured: Option<Interval>,
}

/// What is known of one measured stretch of a moment.
struct Stretch {
    /// Clear-sky energy of the healthy array over the stretch, Wh.
    clear: f64,
    /// Harvest, Wh.
    harvest: f64,
    /// What is left of the healthy output.
    left: Interval,
    /// Conversion against the design's.
    conversion: f64,
    /// The sky's share of the clear sky.
    sky: Interval,
    /// Half the 90 % range of the clear sky's curve there, share.
    curve: f64,
    /// Shortfall of a clear day beyond the band of haze that no spell explains, as a factor >= 1.
    doubt: f64,
    /// What a shadow over this moment leaves of a clear sky's output.
    shadow: Option<Interval>,
    /// Whether the controller held its voltage.
    held: bool,
    /// What an estimated harvest may be too high by, and too low by, Wh.
    hidden: [f64; 2],
    /// Where a controller was at its limit for some of the time: what is known of that.
    limit: Option<Limit>,
    /// Of each controller that held its voltage and whose limit is known: that limit and the clear-sky energy of
    /// its arrays when well, Wh.
    most: Vec<(f64, f64)>,
}

impl Stretch {
    /// What the controllers' limits keep back of what a sky of some share offers, while they hold, Wh.
    fn over_most(&self, share: f64) -> f64 {
        let passes = share * self.left.value * self.conversion;
        let over = |(most, clear): &(f64, f64)| (clear * passes - most).max(0.0);
        self.most.iter().map(over).sum()
    }
}

/// A stretch in which some controllers reached their limit.
#[derive(Debug, Clone, Copy)]
struct Limit {
    /// What they give at it, Wh.
    limit_wh: f64,
    /// Clear-sky energy of their arrays when well, Wh.
    clear_wh: f64,
    /// The sky's share while they are at it.
    sky: Interval,
}

/// Attributes every moment.
pub fn attribute(
    design: &Design,
    calendar: &Calendar,
    expected: &Expectation,
    loads: &Loads,
    sky: &Sky,
    reductions: &[Reduction],
) -> Attribution {
    let mut out = Attribution {
        estimated: loads.harvest_estimate.is_some(),
        hidden_w: {
            let load = &loads.by_day_w;
            [load.value - load.low, load.high - load.value]
        },
        conversion_level: conversion_level(design, expected),
        metered: sky.is_metered(),
        ..Attribution::default()
    };
    for moment in 0..expected.grid.moments {
        let day = expected.grid.day_of(moment);
        let harvest = harvest_wh(expected, loads, moment);
        let parts = parts_of(expected, &out, sky, reductions, day, moment, harvest);
        let zero = Interval::exact(0.0);
        let offered = parts.offered.unwrap_or(zero);
        out.heat
            .push(heat_part(design, calendar, expected, moment, offered.value));
        out.offered.push(offered);
        out.array.push(parts.array.unwrap_or(zero));
        out.shade.push(parts.shade.unwrap_or(zero));
        out.conversion.push(parts.conversion);
        out.limit.push(parts.limit.unwrap_or(zero));
        out.held.push(parts.held.unwrap_or(zero));
        out.unmeasured.push(parts.unmeasured.unwrap_or(zero));
        out.harvest.push(harvest);
    }
    out
}

fn harvest_wh(expected: &Expectation, loads: &Loads, moment: usize) -> f64 {
    match (&expected.signals.harvest, &loads.harvest_estimate) {
        (Some(measured), _) => measured.net(moment),
        (None, Some(estimate)) => estimate[moment],
        (None, None) => 0.0,
    }
}

fn parts_of(
    expected: &Expectation,
    so_far: &Attribution,
    sky: &Sky,
    reductions: &[Reduction],
    day: usize,
    moment: usize,
    harvest: f64,
) -> Parts {
    let offer = &expected.offers[moment];
    let full_clear = offer.output_w * expected.grid.step_h() * expected.clear.healthy;
    let covered = expected.signals.harvest_coverage(moment);
    let share = sky.share(moment);
    let curve = curve_off(expected, sky, moment);
    let mut parts = Parts::default();
    let missing = full_clear * (1.0 - covered);
    if missing > 0.0 {
        parts.unmeasured = Some(with_curve(&share, curve).scale(missing));
    }
    let stretch = Stretch {
        clear: full_clear * covered,
        harvest,
        left: left_at(reductions, day, moment),
        conversion: so_far.conversion_level,
        sky: share,
        curve,
        doubt: doubt_of(expected, reductions, day),
        shadow: expected
            .shade
            .over(moment)
            .map(|i| expected.shade.shadows[i].left),
        held: expected.regimes[moment] == Regime::Held,
        hidden: so_far
            .hidden_w
            .map(|watts| watts * expected.grid.step_h() * covered),
        limit: at_limit(
            expected,
            sky,
            reductions,
            so_far.conversion_level,
            (day, moment),
        ),
        most: most_while_held(expected, moment),
    };
    let measured = match expected.regimes[moment] {
        Regime::Gap => Parts::default(),
        Regime::Dark => dark(&stretch),
        Regime::Following | Regime::Unknown if so_far.estimated => estimated(&stretch),
        Regime::Following | Regime::Held if stretch.shadow.is_some() => shaded(&stretch),
        Regime::Following | Regime::Unknown => following(&stretch),
        Regime::Held | Regime::Refused => held(&stretch),
        Regime::Limited => limited(&stretch),
        Regime::Disconnected => disconnected(&stretch),
    };
    let gap_offer = parts.unmeasured.unwrap_or(Interval::exact(0.0));
    let offered = measured.offered.unwrap_or(Interval::exact(0.0));
    parts.offered = Some(Interval::new(
        offered.value + gap_offer.value,
        offered.low + gap_offer.low,
        offered.high + gap_offer.high,
    ));
    Parts {
        array: measured.array,
        shade: measured.shade,
        conversion: measured.conversion,
        limit: measured.limit,
        held: measured.held,
        ..parts
    }
}

/// Half the 90 % range of the clear sky's curve in a moment beside the moments that its sky was read off, share:
/// what it is wrong by there and not here, and, where the sun stood lower then, what a low sun's is wrong by
/// more.
fn curve_off(expected: &Expectation, sky: &Sky, moment: usize) -> f64 {
    let band = |m: usize| model_band(expected.offers[m].elevation_deg);
    let here = band(moment);
    let read = sky.read_from(moment).map(band).min_by(f64::total_cmp);
    let lower_sun = read.map_or(0.0, |read| (read - here).max(0.0));
    (here * sky.apart(moment)).hypot(lower_sun)
}

/// What the controllers that reached their limit in a moment give there over the measured part.
fn at_limit(
    expected: &Expectation,
    sky: &Sky,
    reductions: &[Reduction],
    conversion: f64,
    (day, moment): (usize, usize),
) -> Option<Limit> {
    let limit = expected.at_limit(moment)?;
    let hours = expected.grid.step_h() * expected.signals.harvest_coverage(moment);
    let passes = left_at(reductions, day, moment).value * conversion;
    let least = (limit.least_sky / passes.max(1e-9)).min(CAP);
    Some(Limit {
        limit_wh: limit.limit_w * hours,
        clear_wh: limit.clear_w * expected.clear.healthy * hours,
        sky: sky.above(moment, least),
    })
}

/// What each controller that held its voltage could have given at most over the measured part, and the clear-sky
/// energy of its arrays when well, Wh. Under a shadow no limit is reached.
fn most_while_held(expected: &Expectation, moment: usize) -> Vec<(f64, f64)> {
    if expected.regimes[moment] != Regime::Held || expected.shade.over(moment).is_some() {
        return Vec::new();
    }
    let hours = expected.grid.step_h() * expected.signals.harvest_coverage(moment);
    let of = |most: AtLimit| {
        let clear_w = most.clear_w * expected.clear.healthy;
        (most.limit_w * hours, clear_w * hours)
    };
    let most = expected.most_while_held(moment);
    most.into_iter().map(of).collect()
}

/// With the sun too low to count the little that comes is what was offered; a controller's own draw is not.
fn dark(s: &Stretch) -> Parts {
    Parts {
        offered: Some(Interval::exact(s.harvest.max(0.0))),
        ..Parts::default()
    }
}

fn following(s: &Stretch) -> Parts {
    let got = s.harvest.max(0.0);
    let whole = got / (s.left.value * s.conversion) * s.doubt;
    let value = whole.min(CAP * s.clear.max(got)).max(got);
    let spread = |left: f64| (got / (left * s.conversion)).max(got);
    let offered = Interval::new(
        value,
        spread(s.left.high) * (1.0 - GAIN),
        // However little may be left of the array, no sky gives more than a cloud's edge does.
        (spread(s.left.low) * s.doubt).min(CAP * s.clear).max(value) * (1.0 + GAIN + UNTOLD),
    );
    let array = lost_to_array(&offered, s);
    let conversion = (offered.value - array.value) * (1.0 - s.conversion);
    let limit = for_a_while(s);
    let offered = Interval::new(
        offered.value + limit.value,
        offered.low + limit.low,
        offered.high + limit.high,
    );
    Parts {
        offered: Some(offered),
        array: Some(array),
        conversion,
        limit: Some(limit),
        ..Parts::default()
    }
}

/// Lost at the controller's limit in a moment that was there for some of the time: nobody says how long,
/// none to all of it.
fn for_a_while(s: &Stretch) -> Interval {
    let Some(limit) = &s.limit else {
        return Interval::exact(0.0);
    };
    let passes = s.left.value * s.conversion;
    let over = |share: f64| (limit.clear_wh * share * passes - limit.limit_wh).max(0.0);
    Interval::new(over(limit.sky.value) / 2.0, 0.0, over(limit.sky.high))
}

/// Harvest known only from the bank's side: array and sky can't be told apart by it, so nothing is called
/// a loss. It is at least what the bank took beyond the loads, and no more than a clear sky offers or a
/// larger load hid.
fn estimated(s: &Stretch) -> Parts {
    let got = s.harvest.max(0.0);
    Parts {
        offered: Some(Interval::new(
            got,
            (got - s.hidden[0]).max(0.0),
            (s.clear * s.sky.high.max(1.0)).max(got + s.hidden[1]),
        )),
        ..Parts::default()
    }
}

fn lost_to_array(offered: &Interval, s: &Stretch) -> Interval {
    if s.left.low >= 1.0 {
        return Interval::exact(0.0);
    }
    offered_times(offered.value, &s.left)
}

fn offered_times(offered: f64, left: &Interval) -> Interval {
    Interval::new(
        offered * (1.0 - left.value).max(0.0),
        offered * (1.0 - left.high).max(0.0),
        offered * (1.0 - left.low).max(0.0),
    )
}

/// The share of the clear sky with the error of the clear-sky curve: the two are wrong for reasons of their
/// own and do not add up.
fn with_curve(sky: &Interval, curve: f64) -> Interval {
    let curve = curve * sky.value;
    Interval::new(
        sky.value,
        sky.value - curve.hypot(sky.value - sky.low),
        sky.value + curve.hypot(sky.high - sky.value),
    )
}

fn held(s: &Stretch) -> Parts {
    let got = s.harvest.max(0.0);
    let passes = s.left.value * s.conversion;
    let potential = |share: f64| (s.clear * share).max(got / passes);
    let sky = with_curve(&s.limit.map_or(s.sky, |limit| limit.sky), s.curve);
    let offered = Interval::new(
        potential(sky.value),
        potential(sky.low),
        potential(sky.high),
    );
    let array = offered_times(offered.value, &s.left);
    let conversion = (offered.value - array.value) * (1.0 - s.conversion);
    let over = |offer: f64| s.over_most(offer / s.clear.max(1e-9));
    let left_over = |offer: f64, got: f64| (offer * passes - over(offer) - got).max(0.0);
    Parts {
        offered: Some(offered),
        array: Some(array),
        conversion,
        limit: Some(Interval::new(
            over(offered.value),
            over(offered.low),
            over(offered.high),
        )),
        held: Some(Interval::new(
            left_over(offered.value, got),
            left_over(offered.low, got + s.hidden[1]),
            left_over(offered.high, (got - s.hidden[0]).max(0.0)),
        )),
        ..Parts::default()
    }
}

/// Under a shadow the sky is read off the hours beside it. What the shadow lets through of a clear sky
/// is there under any brighter one; a controller that held its voltage took less than even that.
fn shaded(s: &Stretch) -> Parts {
    let whole = held(s);
    let (Some(left), Some(rest)) = (s.shadow, whole.held) else {
        return whole;
    };
    let got = s.harvest.max(0.0);
    let passes = s.left.value * s.conversion;
    let through = |rest: f64, left: f64| (s.clear * left * passes - got).clamp(0.0, rest);
    let held_back = if s.held {
        Interval::new(
            through(rest.value, left.value),
            through(rest.low, left.low),
            through(rest.high, left.high),
        )
    } else {
        Interval::exact(0.0)
    };
    Parts {
        shade: Some(Interval::new(
            rest.value - held_back.value,
            (rest.low - held_back.high).max(0.0),
            rest.high - held_back.low,
        )),
        held: Some(held_back),
        ..whole
    }
}

fn limited(s: &Stretch) -> Parts {
    let moved = held(s);
    Parts {
        limit: moved.held,
        held: None,
        ..moved
    }
}

fn disconnected(s: &Stretch) -> Parts {
    let got = s.harvest.max(0.0);
    let offered = Interval::new(
        (s.clear * s.sky.value).max(got),
        (s.clear * s.sky.low).max(got),
        (s.clear * s.sky.high).max(got),
    );
    Parts {
        offered: Some(offered),
        array: Some(Interval::new(
            offered.value - got,
            offered.low - got,
            offered.high - got,
        )),
        ..Parts::default()
    }
}

/// A clear day that fell short by more than haze and lean can explain, on which no spell was found:
/// the shortfall is neither called a loss nor hidden in the sky; it stays unexplained.
fn doubt_of(expected: &Expectation, reductions: &[Reduction], day: usize) -> f64 {
    if left_on(reductions, day).value < 1.0 || episode::is_hazy(expected, day) {
        return 1.0;
    }
    let Some(scale) = expected.clear.days[day].filter(|d| !episode::is_grey(expected, d)) else {
        return 1.0;
    };
    let level = scale.ratio / expected.clear.healthy * (1.0 + scale.band);
    if level < 1.0 {
        1.0 / level.max(0.5)
    } else {
        1.0
    }
}

/// Output over input of the controllers in following moments at a tenth of label power or more,
/// against the design's efficiency; 1 where not measurable or within the difference of two meters.
fn conversion_level(design: &Design, expected: &Expectation) -> f64 {
    let (Some(harvest), Some(array)) = (&expected.signals.harvest, &expected.signals.array) else {
        return 1.0;
    };
    let least = 0.1 * design.array_w();
    let (mut output, mut input) = (0.0, 0.0);
    for moment in 0..expected.grid.moments {
        if expected.regimes[moment] == Regime::Following
            && array.mean(moment).is_some_and(|w| w > least)
        {
            output += harvest.net(moment);
            input += array.net(moment);
        }
    }
    let designed = design.controllers.iter().map(|c| c.efficiency).sum::<f64>()
        / design.controllers.len().max(1) as f64;
    if input < 50.0 || output <= 0.0 {
        return 1.0;
    }
    let level = output / input / designed;
    if level < 1.0 - CONVERSION_SLACK {
        level
    } else {
        1.0
    }
}

/// How much of an offer real cell temperature gave or took against the planned one.
fn heat_part(
    design: &Design,
    calendar: &Calendar,
    expected: &Expectation,
    moment: usize,
    offered: f64,
) -> f64 {
    let offer = &expected.offers[moment];
    let Some(array) = design.arrays.first() else {
        return 0.0;
    };
    if offer.output_w <= 0.0 || offered <= 0.0 {
        return 0.0;
    }
    let clear = offer.output_w * expected.grid.step_h();
    let share = (offered / clear).clamp(0.0, CAP);
    let planned_air = air_at(design, calendar.date(expected.grid.time_of(moment)));
    let air = expected
        .signals
        .air_c
        .as_ref()
        .and_then(|c| c.mean(moment))
        .unwrap_or(planned_air);
    let real = cell::noct_temperature(air, offer.plane_wm2 * share, array.panel.noct_c);
    let gamma = array.panel.power_per_degree;
    let factor = |c: f64| (1.0 + gamma * (c - 25.0)).max(0.1);
    offered * (1.0 - factor(offer.cell_c) / factor(real))
}
