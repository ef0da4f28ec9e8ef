//! What first and last light say of a logger's clock.
//!
//! An array gives nothing while the sun is well below the horizon, whatever its lean, the shade, the
//! sky or a full bank: those can only make first light later and last light earlier. So each day bounds
//! the clock's error from both sides, and light in the dark proves an error.

use chrono_tz::Tz;

use crate::calendar::Calendar;
use crate::design::{Design, Spot};
use crate::expect::{Expectation, Regime, STEP_S, offer};
use crate::mapping::Role;
use crate::physics::sun;
use crate::quantity::Interval;
use crate::timeline::{Channel, Series, Timeline};

/// Share of the label power that counts as light: some 10 W/m2 on the array, several times what
/// twilight gives once the sun is a degree below the horizon.
const LIT_SHARE: f64 = 0.01;
/// The sun's centre this far below the horizon gives no light that counts, even to an array that faces
/// it squarely through a clear sky, degrees.
const DARK_DEG: f64 = -0.3;
/// Sight beyond the horizon from a height, degrees for the root of a metre (dip of the horizon).
const DIP_DEG: f64 = 0.0293;
/// A day must reach this share of the label power to count.
const BRIGHT_SHARE: f64 = 0.05;
/// Dark for this long ends a day's light, s.
const DARK_S: i64 = 1800;
/// Fewest days (trade reference 1.5).
pub const LEAST_DAYS: usize = 3;

/// What the light of some days says of one log's clock.
#[derive(Debug, Clone, PartialEq)]
pub struct SunClock {
    /// The log.
    pub source: String,
    /// To be added to the stamps, minutes: bounds that hold whatever the weather, and between them the
    /// value at which first and last light are equally far from a clear sky's.
    pub shift_min: Interval,
    /// The same bounds by a clear sky's first and last light on the array as designed: narrower, and
    /// good to what lean moves.
    pub by_clear_sky_min: (f64, f64),
    /// Share of the label power that counted as light: more than a little of it comes only with a higher
    /// sun, whose hour lean and slope move.
    pub lit_share: f64,
    /// What the log's step leaves open, minutes.
    pub step_min: f64,
    /// Days used (index into the grid's dates).
    pub days: Vec<usize>,
}

impl SunClock {
    /// By how much the clock is off beyond doubt, minutes, signed like the shift; 0 where right is possible.
    pub fn surely_min(&self) -> f64 {
        if self.shift_min.low > 0.0 {
            (self.shift_min.low - self.step_min).max(0.0)
        } else {
            (self.shift_min.high + self.step_min).min(0.0)
        }
    }

    /// By how much light shows beyond a clear sky's, minutes, signed like the shift; 0 where it does not.
    pub fn beyond_clear_min(&self) -> f64 {
        let (low, high) = self.by_clear_sky_min;
        if low > 0.0 { low } else { high.min(0.0) }
    }
}

/// First and last light of one day against the design's clear sky, minutes.
#[derive(Debug, Clone, Copy)]
struct Ends {
    day: usize,
    /// First light after the end of darkness; negative: light in the dark.
    after_dark: f64,
    /// Last light before the beginning of darkness; negative: light in the dark.
    before_dark: f64,
    /// The same two under a clear sky with a right clock.
    clear: (f64, f64),
}

/// Every log with the array's or the controller's power or current, each by its own clock. Days are
/// taken together and, for a system that moves, by place and zone apart: the bounds furthest from zero
/// are kept.
pub fn by_the_sun(
    design: &Design,
    calendar: &Calendar,
    timeline: &Timeline,
    expected: &Expectation,
) -> Vec<SunClock> {
    let logs = sources(timeline);
    logs.iter()
        .filter_map(|channel| one_log(design, calendar, timeline, expected, channel))
        .collect()
}

/// One channel a log, the one nearest the array.
fn sources(timeline: &Timeline) -> Vec<&Channel> {
    let mut kept: Vec<&Channel> = Vec::new();
    for role in [
        Role::ArrayPower,
        Role::ChargePower,
        Role::ArrayCurrent,
        Role::ChargeCurrent,
    ] {
        for channel in timeline.channels.iter().filter(|c| c.role == role) {
            if kept.iter().all(|k| k.source != channel.source) {
                kept.push(channel);
            }
        }
    }
    kept
}

fn one_log(
    design: &Design,
    calendar: &Calendar,
    timeline: &Timeline,
    expected: &Expectation,
    channel: &Channel,
) -> Option<SunClock> {
    let lit = Lit::new(design, channel);
    let mut groups: Vec<((usize, Tz, i32), Vec<Ends>)> = Vec::new();
    let mut all = Vec::new();
    for (day, date) in expected.grid.dates.iter().enumerate() {
        let bounds = calendar.bounds(*date);
        let middle = (bounds.0 + bounds.1) / 2;
        let moments = expected.grid.day(day);
        let spot = expected.spot(design, usize::midpoint(moments.start, moments.end));
        let Some(ends) = ends(design, timeline, expected, &lit, (bounds, &spot), day) else {
            continue;
        };
        let key = (
            design.place.stop_at(middle),
            calendar.zone_at(middle),
            calendar.offset_s(middle),
        );
        match groups.iter_mut().find(|g| g.0 == key) {
            Some(group) => group.1.push(ends),
            None => groups.push((key, vec![ends])),
        }
        all.push(ends);
    }
    let lit_share = lit.least_w / design.array_w().max(1e-9);
    let whole = shift(&all, channel, lit_share);
    groups
        .iter()
        .filter_map(|group| shift(&group.1, channel, lit_share))
        .chain(whole.clone())
        .filter(|clock| clock.surely_min() != 0.0)
        .max_by(|a, b| a.surely_min().abs().total_cmp(&b.surely_min().abs()))
        .or(whole)
}

/// The bounds of several days: the third closest on either side, so that no odd day decides. The value
/// goes by the clearest morning and the clearest evening.
fn shift(days: &[Ends], channel: &Channel, lit_share: f64) -> Option<SunClock> {
    if days.len() < LEAST_DAYS {
        return None;
    }
    let sorted = |pick: fn(&Ends) -> f64| -> Vec<f64> {
        let mut values: Vec<f64> = days.iter().map(pick).collect();
        values.sort_by(f64::total_cmp);
        values
    };
    let third = |pick: fn(&Ends) -> f64| sorted(pick)[LEAST_DAYS - 1];
    let (low, high) = (-third(|e| e.after_dark), third(|e| e.before_dark));
    let mornings = sorted(|e| e.after_dark - e.clear.0);
    let evenings = sorted(|e| e.before_dark - e.clear.1);
    let value = (evenings[0] - mornings[0]) / 2.0;
    Some(SunClock {
        source: channel.source.clone(),
        shift_min: Interval::new(
            value.clamp(low.min(high), high.max(low)),
            low.min(high),
            high.max(low),
        ),
        by_clear_sky_min: (-mornings[LEAST_DAYS - 1], evenings[LEAST_DAYS - 1]),
        lit_share,
        step_min: channel.step_s / 60.0,
        days: days.iter().map(|e| e.day).collect(),
    })
}

/// A channel and when it counts as lit.
struct Lit<'a> {
    series: &'a Series,
    /// Value above which there is light.
    least: f64,
    /// Value a day must reach.
    bright: f64,
    /// Power at the array for `least`, W.
    least_w: f64,
}

impl<'a> Lit<'a> {
    fn new(design: &Design, channel: &'a Channel) -> Self {
        let array_w = design.array_w();
        // At least 2 W (0.15 A): what the meters' own zero may be.
        let least_w = (LIT_SHARE * array_w).max(2.0);
        let per_unit = match channel.role {
            Role::ChargeCurrent => design.nominal_v(),
            Role::ArrayCurrent => design
                .arrays
                .iter()
                .filter_map(|a| Some(a.panel.vmp_v? * f64::from(a.panels_in_series)))
                .fold(design.nominal_v(), f64::max),
            _ => 1.0,
        };
        Self {
            series: &channel.series,
            least: least_w / per_unit,
            bright: BRIGHT_SHARE * array_w / per_unit,
            least_w,
        }
    }

    /// Highest reading in a bin; `None` where no row fell into it (a line drawn across is no reading).
    fn reading(&self, bin: usize) -> Option<f64> {
        let high = f64::from(*self.series.max.get(bin)?);
        high.is_finite().then_some(high)
    }

    /// The last lit bin from a bright one on, forward or back, before half an hour without light. What a
    /// full bank silenced was no darkness.
    fn edge(
        &self,
        timeline: &Timeline,
        expected: &Expectation,
        from: usize,
        forward: bool,
    ) -> usize {
        let most = usize::try_from(DARK_S / timeline.bin_s.max(1))
            .unwrap_or(1)
            .max(1);
        let (mut edge, mut bin, mut dark) = (from, from, 0);
        loop {
            let next = if forward {
                bin.checked_add(1)
            } else {
                bin.checked_sub(1)
            };
            match next.filter(|n| *n < timeline.bins) {
                Some(n) => bin = n,
                None => return edge,
            }
            if self.reading(bin).is_some_and(|v| v > self.least) {
                (edge, dark) = (bin, 0);
            } else if !is_held(timeline, expected, bin) {
                dark += 1;
            }
            if dark > most {
                return edge;
            }
        }
    }
}

fn is_held(timeline: &Timeline, expected: &Expectation, bin: usize) -> bool {
    let since = timeline.time_of(bin) - expected.grid.start;
    usize::try_from(since.div_euclid(STEP_S))
        .ok()
        .and_then(|moment| expected.regimes.get(moment))
        == Some(&Regime::Held)
}

fn ends(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
    lit: &Lit,
    (bounds, spot): ((i64, i64), &Spot),
    day: usize,
) -> Option<Ends> {
    let light = sun::daylight(
        bounds.0 as f64,
        bounds.1 as f64,
        spot.latitude_deg,
        spot.longitude_deg,
    );
    let sun::DayLight::Normal {
        transit_s: noon, ..
    } = light
    else {
        return None;
    };
    let half = 43_200.0;
    let first = timeline.bin_at((noon - half).max(timeline.start as f64) as i64)?;
    let last = timeline.bin_at((noon + half).min(timeline.end() as f64 - 1.0) as i64)?;
    let brightest = (first..=last)
        .filter_map(|bin| Some((bin, lit.reading(bin)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|b| b.1 > lit.bright)?
        .0;
    let middle_of = |bin: usize| timeline.time_of(bin) as f64 + timeline.bin_s as f64 / 2.0;
    let seen = (
        middle_of(lit.edge(timeline, expected, brightest, false)),
        middle_of(lit.edge(timeline, expected, brightest, true)),
    );
    let dark = (dark_end(spot, noon, -1.0)?, dark_end(spot, noon, 1.0)?);
    let clear = (
        clear_edge(design, spot, noon, dark.0, lit.least_w),
        clear_edge(design, spot, noon, dark.1, lit.least_w),
    );
    Some(Ends {
        day,
        after_dark: (seen.0 - dark.0) / 60.0,
        before_dark: (dark.1 - seen.1) / 60.0,
        clear: ((clear.0 - dark.0) / 60.0, (dark.1 - clear.1) / 60.0),
    })
}

/// When darkness ends before noon (side -1) or begins after it (+1); `None` where it does not get dark.
fn dark_end(spot: &Spot, noon: f64, side: f64) -> Option<f64> {
    let level = DARK_DEG - DIP_DEG * spot.altitude_m.max(0.0).sqrt();
    let above =
        |at: f64| sun::position(at, spot.latitude_deg, spot.longitude_deg).elevation_deg > level;
    let (mut up, mut down) = (0.0, 43_200.0);
    if !above(noon) || above(noon + side * down) {
        return None;
    }
    for _ in 0..24 {
        let middle = f64::midpoint(up, down);
        if above(noon + side * middle) {
            up = middle;
        } else {
            down = middle;
        }
    }
    Some(noon + side * up)
}

/// When a clear sky's offer passes `least_w` between darkness and noon.
fn clear_edge(design: &Design, spot: &Spot, noon: f64, dark: f64, least_w: f64) -> f64 {
    let lit = |share: f64| {
        let at = dark + share * (noon - dark);
        let volts = offer::typical_bank_v(design);
        offer::clear_offer(design, spot, at, 15.0, volts).output_w > least_w
    };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..12 {
        let middle = f64::midpoint(low, high);
        if lit(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    dark + high * (noon - dark)
}
