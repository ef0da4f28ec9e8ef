//! Whether a spell of a reduced array is a part of it gone: its level against what the array's strings,
//! panels and groups would leave, and the array's voltage against its usual one.

use crate::account::episode::{ASKEW, Of, Reduction};
use crate::account::lean;
use crate::account::planes::Plane;
use crate::design::{Array, Design, Method};
use crate::expect::clear::{ALLOWANCE_RANGE, BENT, WELL, about_line, mean_allowance};
use crate::expect::{DayScale, Expectation, stop_of_day};
use crate::quantity::Interval;
use crate::stats::quantile::{median, quantile};

/// Share of a day's unheld moments at high sun that must be clear: a grey sky is smooth now and then, not all day.
const STEADY: f64 = 0.5;
/// Days of intact shape that a part needs,
const LEAST_DAYS: usize = 2;
/// or clear hours on one.
const LEAST_H: f64 = 3.0;
/// How far a level may lie from a part's, whatever its own interval: the parts of an array differ by that.
const MATCH: f64 = 0.04;
/// Without a day on which the array was well, only a level below this share of label power speaks of a
/// part gone: 90 % of the label less 25 %, the most that dirt is known to take (trade reference 2.8 and 3.2).
const BEYOND_DIRT: f64 = 0.675;
/// Array voltage above this share of the usual is the usual one.
const SAME_VOLTS: f64 = 0.9;

/// A part of the array that gave nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct PartOut {
    /// Share of the array that is out, by its make-up.
    pub fraction_out: f64,
    /// Which part, in words: `one of two strings`.
    pub what: String,
    /// What was left, share of what the array gave when well.
    pub level: Interval,
    /// The spell it explains, index into the reductions.
    pub spell: usize,
    /// Whether no day of the log saw the array well.
    pub from_start: bool,
    /// Whether it is all that a controller has, seen beside another's.
    pub branch: bool,
    /// Scatter of the level of the clear hours against what the rest gives, and against the whole array,
    /// where the part looks elsewhere than the rest, shares.
    pub shape: Option<(f64, f64)>,
    /// Its array, by its place in the design, where that is known.
    pub array: Option<usize>,
    /// Array voltage against the usual one, share, where it was logged.
    pub volts: Option<f64>,
    /// Days of intact shape that show it.
    pub shown_on: Vec<usize>,
    /// Clear hours of those days.
    pub clear_h: f64,
}

/// A controller's output fell where it kept less than this share of what the others kept.
const FALLEN: f64 = 0.85;
/// Parts whose loss leaves levels this close look alike.
const ALIKE: f64 = 0.05;

/// A part and what the array gives without it.
#[derive(Clone)]
struct Part {
    left: f64,
    what: String,
    /// Array voltage without it, share; `None` where it can't be told.
    volts: Option<f64>,
    /// The controller it is all of, where it is that.
    controller: Option<usize>,
    /// The array it is of, by its place in the design.
    array: usize,
}

/// Whether a controller's own output was logged: then it shows by itself whether it gave anything.
fn is_logged_apart(expected: &Expectation, controller: usize) -> bool {
    let mut branches = expected.branches.iter();
    branches.any(|branch| branch.controller == controller)
}

/// The parts gone, by spell.
pub fn find(design: &Design, expected: &Expectation, reductions: &[Reduction]) -> Vec<PartOut> {
    let parts: Vec<Part> = parts(design)
        .into_iter()
        .filter(|part| {
            part.controller
                .is_none_or(|one| !is_logged_apart(expected, one))
        })
        .collect();
    let well = well_days(expected, reductions);
    reductions
        .iter()
        .enumerate()
        .filter_map(|(spell, reduction)| {
            let found = match &reduction.of {
                Of::Branch(dark) => Some(whole_branch(design, reduction, dark.controller)),
                Of::Plane(plane) => Some(of_plane(design, reduction, plane)),
                Of::Whole => explain(design, expected, reduction, &well, &parts),
                // What is weak is not gone.
                Of::Weak(_) => None,
            };
            found.map(|found| PartOut { spell, ..found })
        })
        .collect()
}

/// Half the 90 % range of what an array without a known part gives of the whole, share: its panels are not all
/// alike.
const PARTS_DIFFER: f64 = 0.05;

/// Spells of a part that was gone before the log began leave what the rest has of the array: no well day shows
/// more of the whole, and the label's low end, which stands in for one, makes too little of it.
pub fn settled(
    design: &Design,
    expected: &Expectation,
    mut reductions: Vec<Reduction>,
) -> Vec<Reduction> {
    for part in find(design, expected, &reductions) {
        let spell = &mut reductions[part.spell];
        if part.from_start && part.shape.is_none() && !part.branch {
            spell.left = around(1.0 - part.fraction_out, PARTS_DIFFER);
        }
    }
    reductions
}

/// Shares of the output that the array's make-up leaves without one of its parts, ascending.
pub fn levels_left(design: &Design) -> Vec<f64> {
    let mut levels: Vec<f64> = parts(design).iter().map(|p| p.left).collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    levels
}

/// Days with clear hours that no spell touches, and that show the array's own level: an even grey is smooth
/// too, and no spell.
fn well_days(expected: &Expectation, reductions: &[Reduction]) -> Vec<usize> {
    let in_spell = |day: &usize| reductions.iter().any(|r| (r.first..=r.last).contains(day));
    let is_well = |day: &usize| {
        expected.clear.days[*day]
            .is_some_and(|scale| scale.ratio * (1.0 + scale.band) >= WELL * expected.clear.healthy)
    };
    (0..expected.clear.days.len())
        .filter(|day| is_well(day) && !in_spell(day))
        .collect()
}

/// All arrays of a controller that gave nothing beside the others.
fn whole_branch(design: &Design, reduction: &Reduction, controller: usize) -> PartOut {
    let of = &design.controllers[controller];
    let name = of.name.as_deref().unwrap_or("beside the others");
    PartOut {
        fraction_out: 1.0 - reduction.left.value,
        what: format!("the array on controller {name}"),
        level: reduction.left,
        spell: 0,
        from_start: reduction.earliest == 0,
        branch: true,
        shape: None,
        array: None,
        volts: None,
        shown_on: reduction.shown_on.clone(),
        clear_h: reduction.clear_h,
    }
}

/// An array, or strings of it, that looks elsewhere than the rest.
fn of_plane(design: &Design, reduction: &Reduction, plane: &Plane) -> PartOut {
    let array = &design.arrays[plane.array];
    let gone = f64::from(plane.strings) / f64::from(array.strings_in_parallel.max(1));
    PartOut {
        fraction_out: gone * array.power_w() / design.array_w(),
        what: if plane.strings == array.strings_in_parallel {
            whole_array(array)
        } else {
            strings_of(design, array, plane.strings)
        },
        level: reduction.left,
        spell: 0,
        // Days before the first shown may have been well: then it is since that one at the latest.
        from_start: reduction.first == 0,
        branch: false,
        shape: Some((plane.scatter, plane.bent)),
        array: Some(plane.array),
        volts: None,
        shown_on: reduction.shown_on.clone(),
        clear_h: reduction.clear_h,
    }
}

/// Some strings of an array, in words.
fn strings_of(design: &Design, array: &Array, out: u32) -> String {
    let strings = array.strings_in_parallel;
    format!(
        "{} of {} strings{}",
        number(out),
        number(strings),
        of_array(design, array)
    )
}

/// Its name behind a part of it, where there are several.
fn of_array(design: &Design, array: &Array) -> String {
    match (&array.name, design.arrays.len()) {
        (Some(name), 2..) => format!(" of the array {name}"),
        _ => String::new(),
    }
}

fn explain(
    design: &Design,
    expected: &Expectation,
    reduction: &Reduction,
    well: &[usize],
    parts: &[Part],
) -> Option<PartOut> {
    let all = parts;
    let shown: Vec<usize> = reduction
        .shown_on
        .iter()
        .copied()
        .filter(|day| has_clear_shape(design, expected, *day))
        .collect();
    let clear_h = scales(expected, &shown)
        .iter()
        .map(|s| s.clear_h)
        .sum::<f64>();
    if shown.len() < LEAST_DAYS && clear_h < LEAST_H {
        return None;
    }
    // Controllers logged apart show whose arrays it is.
    let fallen = fallen(expected, &shown, well);
    let of_fallen =
        |part: &&Part| fallen.is_none_or(|one| design.arrays[part.array].controller == one);
    let parts: &[Part] = &all.iter().filter(of_fallen).cloned().collect::<Vec<_>>();
    let own = median(&ratios(expected, &shown))?;
    let usual = median(&ratios(expected, well));
    let unsure = usual_error(&scales(expected, well));
    let volts = volts_share(design, expected, &shown, well);
    let half = reduction.left.half_width() / reduction.left.value.max(0.01);
    let (level, part) = match usual {
        Some(usual) => {
            let half = half
                .hypot(unsure)
                .hypot(lean_between(design, expected, &shown, well));
            let level = around(own / usual, half);
            (level, step(&level, parts, volts)?)
        }
        None => {
            let label = own * mean_allowance(design);
            (around(own, half), whole_trip(label, parts, volts)?)
        }
    };
    let any = fallen.is_none() && looks_like_another(part, all);
    Some(PartOut {
        fraction_out: 1.0 - part.left,
        what: if any {
            part.of_any()
        } else {
            part.what.clone()
        },
        level,
        spell: 0,
        from_start: usual.is_none(),
        branch: false,
        shape: None,
        array: (!any).then_some(part.array),
        volts,
        shown_on: shown,
        clear_h,
    })
}

/// The controller whose output fell against the others' between well days and a spell's, where they were
/// logged apart.
fn fallen(expected: &Expectation, shown: &[usize], well: &[usize]) -> Option<usize> {
    let level = |power: &crate::expect::Folded, days: &[usize]| -> Option<f64> {
        let (mut came, mut offered) = (0.0, 0.0);
        for m in days.iter().flat_map(|d| clear_moments(expected, *d)) {
            came += power.mean(m)?;
            offered += expected.offers[m].output_w;
        }
        (offered > 0.0).then(|| came / offered)
    };
    let mut kept: Vec<(usize, f64)> = expected
        .branches
        .iter()
        .filter_map(|branch| {
            let usual = level(&branch.gave, well).filter(|l| *l > 0.0)?;
            Some((branch.controller, level(&branch.gave, shown)? / usual))
        })
        .collect();
    kept.sort_by(|a, b| a.1.total_cmp(&b.1));
    let (least, most) = (kept.first()?, kept.last()?);
    (least.1 < FALLEN * most.1).then_some(least.0)
}

/// Whether a part of another array would leave the same: then nothing says which of them it is.
fn looks_like_another(part: &Part, all: &[Part]) -> bool {
    all.iter()
        .any(|other| other.array != part.array && (other.left - part.left).abs() < ALIKE)
}

fn around(value: f64, half_share: f64) -> Interval {
    Interval::new(
        value,
        value * (1.0 - half_share),
        value * (1.0 + half_share),
    )
}

fn scales(expected: &Expectation, days: &[usize]) -> Vec<DayScale> {
    days.iter()
        .filter_map(|d| expected.clear.days[*d])
        .collect()
}

fn ratios(expected: &Expectation, days: &[usize]) -> Vec<f64> {
    scales(expected, days).iter().map(|s| s.ratio).collect()
}

/// Where the well days were at other stops than the spell's, a lean stands between them.
fn lean_between(design: &Design, expected: &Expectation, shown: &[usize], well: &[usize]) -> f64 {
    let stop = |day: &usize| stop_of_day(design, &expected.grid, *day);
    let shared = well
        .iter()
        .any(|w| shown.iter().any(|s| stop(s) == stop(w)));
    if shared {
        return 0.0;
    }
    let moments: Vec<usize> = shown
        .iter()
        .flat_map(|d| clear_moments(expected, *d))
        .collect();
    lean::band(design, expected, &moments)
}

/// Clear moments of a day in the upper half of its sun, as its scale is judged by.
pub fn clear_moments(expected: &Expectation, day: usize) -> Vec<usize> {
    high_sun(expected, day)
        .into_iter()
        .filter(|m| expected.clear.clear[*m])
        .collect()
}

fn high_sun(expected: &Expectation, day: usize) -> Vec<usize> {
    let height = |m: usize| expected.offers[m].elevation_deg;
    let highest = expected.grid.day(day).map(height).fold(0.0, f64::max);
    expected
        .grid
        .day(day)
        .filter(|m| height(*m) >= 0.5 * highest)
        .collect()
}

/// Whether a day's clear hours keep one level through the day, or a straight line as panels do that stand
/// askew: a clock that is wrong by hours bends it otherwise.
fn is_level(expected: &Expectation, day: usize, apart: bool) -> bool {
    let Some(harvest) = &expected.signals.harvest else {
        return false;
    };
    let (hours, seen): (Vec<f64>, Vec<f64>) = clear_moments(expected, day)
        .into_iter()
        .filter_map(|m| {
            let ratio = harvest.mean(m)? / expected.offers[m].output_w;
            Some((m as f64, ratio))
        })
        .unzip();
    let Some(middle) = median(&seen) else {
        return false;
    };
    let (rise, about) = match apart {
        true => (0.0, seen),
        false => about_line(&hours, &seen),
    };
    let (Some(low), Some(high)) = (quantile(&about, 0.16), quantile(&about, 0.84)) else {
        return false;
    };
    (high - low) / 2.0 <= BENT * middle && rise <= ASKEW * middle
}

/// Whether a day's clear hours keep the clear shape: one level, and hardly a moment in between that is
/// not clear.
pub fn has_clear_shape(design: &Design, expected: &Expectation, day: usize) -> bool {
    let free = high_sun(expected, day)
        .into_iter()
        .filter(|m| expected.regimes[*m].measures_sun() && expected.shade.over(*m).is_none())
        .count();
    let clear = clear_moments(expected, day).len();
    clear as f64 >= STEADY * free as f64 && is_level(expected, day, design.arrays_look_apart())
}

/// Half the 90 % range of the level of well days, share: each has a haze of its own.
fn usual_error(well: &[DayScale]) -> f64 {
    let n = well.len().max(1) as f64;
    well.iter().map(|day| day.band).sum::<f64>() / n / n.sqrt()
}

/// The one part whose loss leaves that level; `None` where none or several do. Where the next one is far
/// off, as of two or three strings, it may lie twice as far beside.
fn step<'a>(level: &Interval, parts: &'a [Part], volts: Option<f64>) -> Option<&'a Part> {
    let reach = level.half_width().max(MATCH);
    let within = |reach: f64| {
        let near = move |p: &&Part| (p.left - level.value).abs() <= reach && p.fits(volts);
        parts.iter().filter(near)
    };
    only(within(reach)).or_else(|| {
        only(within(4.0 * MATCH))
            .filter(|p| within(2.0 * MATCH).any(|near| near.left.to_bits() == p.left.to_bits()))
    })
}

/// The one part without which an array inside its allowance gives that share of its label.
fn whole_trip(label: f64, parts: &[Part], volts: Option<f64>) -> Option<&Part> {
    if label > BEYOND_DIRT {
        return None;
    }
    let range = ALLOWANCE_RANGE.0..=ALLOWANCE_RANGE.1;
    only(
        parts
            .iter()
            .filter(|p| range.contains(&(label / p.left)) && p.fits(volts)),
    )
}

fn only<'a>(mut fitting: impl Iterator<Item = &'a Part>) -> Option<&'a Part> {
    let first = fitting.next()?;
    fitting
        .all(|other| (other.left - first.left).abs() < 1e-6)
        .then_some(first)
}

impl Part {
    /// What it is where nothing says of which array.
    fn of_any(&self) -> String {
        let part = self.what.split(" of the array ").next().unwrap_or_default();
        if part == self.what {
            "one of the arrays".to_owned()
        } else {
            format!("{part} of one of the arrays")
        }
    }

    fn fits(&self, volts: Option<f64>) -> bool {
        match (volts, self.volts) {
            (Some(seen), Some(expected)) if expected >= SAME_VOLTS => seen > SAME_VOLTS,
            (Some(seen), Some(expected)) => (seen - expected).abs() <= 0.5 * (1.0 - expected),
            _ => true,
        }
    }
}

/// Every part whose loss shows as a level of its own.
fn parts(design: &Design) -> Vec<Part> {
    let whole = design.array_w();
    let mut list = Vec::new();
    for (place, array) in design.arrays.iter().enumerate() {
        let share = array.power_w() / whole;
        let of = of_array(design, array);
        let (strings, series) = (array.strings_in_parallel, array.panels_in_series);
        for out in 1..strings {
            list.push(Part {
                left: 1.0 - share * f64::from(out) / f64::from(strings),
                what: strings_of(design, array, out),
                volts: Some(1.0),
                controller: None,
                array: place,
            });
        }
        let converts = design.controllers[array.controller].method == Method::Mppt;
        for out in 1..if strings == 1 && converts { series } else { 1 } {
            let gone = f64::from(out) / f64::from(series);
            list.push(Part {
                left: 1.0 - share * gone,
                what: format!("{} of {} panels in series{of}", number(out), number(series)),
                volts: (design.arrays.len() == 1).then_some(1.0 - gone),
                controller: None,
                array: place,
            });
        }
        if design.arrays.len() > 1 {
            list.push(Part {
                left: 1.0 - share,
                what: whole_array(array),
                volts: None,
                controller: alone(design, array),
                array: place,
            });
        }
    }
    list
}

/// The controller of an array that has it to itself.
fn alone(design: &Design, array: &Array) -> Option<usize> {
    let on_it = design
        .arrays
        .iter()
        .filter(|a| a.controller == array.controller);
    (on_it.count() == 1).then_some(array.controller)
}

fn whole_array(array: &Array) -> String {
    array.name.as_ref().map_or_else(
        || "one of the arrays".to_owned(),
        |name| format!("the array {name}"),
    )
}

fn number(n: u32) -> String {
    const WORDS: [&str; 7] = ["none", "one", "two", "three", "four", "five", "six"];
    WORDS
        .get(n as usize)
        .map_or_else(|| n.to_string(), |w| (*w).to_owned())
}

/// Array voltage in the spell's clear hours over that of well days, or over the label's at that heat.
fn volts_share(
    design: &Design,
    expected: &Expectation,
    shown: &[usize],
    well: &[usize],
) -> Option<f64> {
    let volts = expected.signals.array_v.as_ref()?;
    let array = design.arrays.first()?;
    if design.arrays.len() > 1 || design.controllers[array.controller].method == Method::Pwm {
        return None;
    }
    let over_label = |days: &[usize]| -> Option<f64> {
        let label = array.panel.vmp_v? * f64::from(array.panels_in_series);
        let seen: Vec<f64> = days
            .iter()
            .flat_map(|d| clear_moments(expected, *d))
            .filter_map(|m| {
                // Best voltage falls with heat a little faster than the open one does.
                let heat = 1.2 * array.panel.voc_per_degree * (expected.offers[m].cell_c - 25.0);
                Some(volts.mean(m)? / (label * (1.0 + heat)))
            })
            .collect();
        median(&seen)
    };
    let own = over_label(shown)?;
    Some(over_label(well).map_or(own, |usual| own / usual))
}
