//! The two accounts of the period, and what is worth a job.

use std::ops::Range;

use crate::account::instrument::GAIN;
use crate::account::range::{self, AT_LIMIT, BESIDE, GAPS, METERED, ON_LABEL, REDUCED, SHARED};
use crate::account::stored::{self, Stored};
use crate::account::stretches::Stretches;
use crate::account::{Attribution, Charge, Loads};
use crate::design::{Design, budget};
use crate::expect::{Expectation, Regime, offer};
use crate::physics::cell;
use crate::quantity::{How, Interval};
use crate::report::model::{Account, Day, Entry, Yardsticks};

/// Half the 90 % range of a panel's temperature as reckoned without its wind, degrees: the mean over a trip.
const CELL_C: f64 = 3.0;

/// What is worth a job and what this log can show.
pub fn yardsticks(
    design: &Design,
    expected: &Expectation,
    loads: &Loads,
    attribution: &Attribution,
) -> Yardsticks {
    let need = daily_need_wh(design, expected, loads);
    let days = expected.grid.dates.len().max(1) as f64;
    let offered = attribution.offered.iter().map(|i| i.value).sum::<f64>() / days;
    let bands: Vec<f64> = expected
        .clear
        .days
        .iter()
        .flatten()
        .map(|d| d.band)
        .collect();
    let visible = expected.clear.calibrated.then(|| {
        let band = bands.iter().sum::<f64>() / bands.len().max(1) as f64;
        // A spell is called only beyond the haze band and the slack on top of it.
        (band + 0.07) * offered
    });
    Yardsticks {
        worth_a_job_wh: (design.judging.worth_a_job_share * need)
            .max(design.judging.worth_a_job_wh),
        smallest_visible_wh: visible,
    }
}

/// Daily need, Wh: the load budget, else the mean measured load of days with readings.
fn daily_need_wh(design: &Design, expected: &Expectation, loads: &Loads) -> f64 {
    let budgeted = budget::budget(design).total_wh;
    if budgeted > 0.0 {
        return budgeted;
    }
    let covered_h: f64 = (0..expected.grid.moments)
        .map(|m| expected.signals.coverage(m) * expected.grid.step_h())
        .sum();
    match &loads.load {
        Some(load) if covered_h > 1.0 => load.iter().sum::<f64>() * 24.0 / covered_h,
        _ => 0.0,
    }
}

/// The harvest account and the bank's account.
pub fn account(
    design: &Design,
    expected: &Expectation,
    loads: &Loads,
    attribution: &Attribution,
    charge: &Charge,
    days: &[Day],
) -> Account {
    Account {
        harvest: harvest_account(design, expected, attribution, days),
        bank: bank_account(design, expected, loads, attribution, charge, days),
    }
}

fn harvest_account(
    design: &Design,
    expected: &Expectation,
    attribution: &Attribution,
    days: &[Day],
) -> Vec<Entry> {
    let planned: f64 = days.iter().filter_map(|d| d.planned_wh).sum();
    let grid = &expected.grid;
    let clear_of = |days: &mut dyn Iterator<Item = Range<usize>>| -> f64 {
        days.flatten()
            .map(|m| expected.offers[m].output_w)
            .sum::<f64>()
            * grid.step_h()
    };
    let dates = || told(expected, days, true);
    let clear = clear_of(&mut dates());
    // Of days without a harvest only the clear sky is known: all that became of it is unexplained.
    let untold = clear_of(&mut told(expected, days, false));
    let total = |parts: &Stretches<Interval>, shared: f64| {
        range::trip(dates().map(|day| range::together(parts, day)), shared)
    };
    let of_days = |of: fn(&Attribution, Range<usize>, f64) -> Interval| {
        let days = dates().map(|day| of(attribution, day, grid.step_h()));
        range::trip(days, if attribution.metered { METERED } else { SHARED })
    };
    let (offered, held) = (of_days(range::offered), of_days(range::held));
    let heat: f64 = dates().flatten().map(|m| attribution.heat[m]).sum();
    let array = total(
        &attribution.array,
        if expected.clear.rests_on_label() {
            ON_LABEL
        } else {
            REDUCED
        },
    );
    let limit = total(&attribution.limit, AT_LIMIT);
    let shade = total(&attribution.shade, BESIDE);
    let gap = total(&attribution.unmeasured, GAPS);
    let conversion: f64 = attribution.conversion.iter().sum();
    let (harvest, harvest_how) = harvest_range(expected, attribution, days);
    let harvested = harvest.value;
    let lost = array.value + shade.value + conversion + limit.value;
    let rest = harvested - (offered.value - lost - held.value - gap.value) - untold;
    let season = clear + untold - planned;
    let weather = offered.value - clear - heat;
    // Where the array's own level was never seen, what was reckoned with the same clear sky is wrong by as
    // much, and so no weather.
    let reckoned = match expected.clear.calibrated {
        true => 0.0,
        false => (held.value + gap.value).min(clear),
    };
    let planned_how = if design.plan.harvest_wh.is_some() || design.plan.sun_hours.is_some() {
        How::Modelled
    } else {
        How::Assumed
    };
    // What goes into the controller has to be logged as well as what comes out: else it is the design's.
    let conversion_how = match (&expected.signals.array, &expected.signals.harvest) {
        (Some(_), Some(_)) => How::Measured,
        _ => How::Assumed,
    };
    let per_degree = design.arrays.iter().map(|a| a.panel.power_per_degree.abs());
    let air = expected.air;
    // Air that lets less light through leaves the cells cooler, as far as there was light.
    let lit = (offered.value / clear.max(1.0)).min(1.0);
    let cell_c = CELL_C.hypot(air.below.max(air.above) * lit * warming(design, expected));
    let cell = per_degree.fold(0.0, f64::max) * cell_c * offered.value;
    let heat_error = (0.5 * heat).hypot(cell);
    let season_range = Interval::new(
        season,
        season - air.below * (clear + untold),
        season + air.above * (clear + untold),
    );
    // A hazier place has less of a clear sky, and what is missing of it is less weather.
    let weather_range = Interval::new(
        weather,
        weather - (air.above * (clear - reckoned)).hypot(offered.value - offered.low) - untold,
        weather + (air.below * (clear - reckoned)).hypot(offered.high - offered.value),
    );
    vec![
        entry("planned", Interval::exact(planned), planned_how),
        entry("season", season_range, How::Modelled),
        entry("weather", weather_range, How::Inferred),
        entry("heat", around(heat, heat_error), How::Modelled),
        entry("array", array.scale(-1.0), How::Inferred),
        entry("shade", shade.scale(-1.0), How::Inferred),
        entry("array_cable", Interval::exact(0.0), How::Modelled),
        entry(
            "conversion",
            around(-conversion, 0.3 * conversion),
            conversion_how,
        ),
        entry("controller_limit", limit.scale(-1.0), How::Inferred),
        entry("held_back", held.scale(-1.0), How::Inferred),
        entry(
            "unmeasured",
            Interval::new(-gap.value, -gap.high - untold, -gap.low),
            How::Inferred,
        ),
        entry(
            "unexplained",
            Interval::new(
                rest,
                rest - (harvested - harvest.low),
                rest + (harvest.high - harvested).max(untold),
            ),
            How::Inferred,
        ),
        entry("harvested", harvest, harvest_how),
    ]
}

/// The days of which the account can tell what became of the offer, or the others: those without a harvest.
fn told<'a>(
    expected: &'a Expectation,
    days: &'a [Day],
    is_told: bool,
) -> impl Iterator<Item = Range<usize>> + 'a {
    days.iter()
        .enumerate()
        .filter(move |(_, day)| day.offered_wh.is_some() == is_told)
        .map(|(day, _)| expected.grid.day(day))
}

/// Degrees by which a clear sky warms the cells above the air, weighted with what they then give.
fn warming(design: &Design, expected: &Expectation) -> f64 {
    let Some(array) = design.arrays.first() else {
        return 0.0;
    };
    let warmer = |light: f64| cell::noct_temperature(0.0, light, array.panel.noct_c);
    let clear: f64 = expected.offers.iter().map(|o| o.output_w).sum();
    let sum: f64 = expected
        .offers
        .iter()
        .map(|o| o.output_w * warmer(o.plane_wm2))
        .sum();
    sum / clear.max(1.0)
}

/// What was harvested, with its error and where it comes from. The load by day that an estimate rests on
/// is wrong on every day alike.
fn harvest_range(
    expected: &Expectation,
    attribution: &Attribution,
    days: &[Day],
) -> (Interval, How) {
    let harvested: f64 = attribution.harvest.iter().sum();
    if !attribution.estimated {
        let measured = around(harvested, GAIN * harvested.abs());
        // On a day of which nothing tells the harvest it was anything up to all that was on offer.
        let most: f64 = told(expected, days, false)
            .map(|day| range::together(&attribution.offered, day).high)
            .sum();
        let measured = Interval::new(measured.value, measured.low, measured.high + most);
        return (measured, expected.signals.harvest_how);
    }
    let by_day = (0..expected.grid.moments).filter(|m| expected.regimes[*m] != Regime::Dark);
    let hours: f64 = by_day
        .map(|m| expected.signals.harvest_coverage(m) * expected.grid.step_h())
        .sum();
    let [below, above] = attribution.hidden_w.map(|watts| watts * hours);
    let estimate = Interval::new(harvested, (harvested - below).max(0.0), harvested + above);
    (estimate, How::Inferred)
}

fn bank_account(
    design: &Design,
    expected: &Expectation,
    loads: &Loads,
    attribution: &Attribution,
    charge: &Charge,
    days: &[Day],
) -> Vec<Entry> {
    let (harvest, harvest_how) = harvest_range(expected, attribution, days);
    let harvested = harvest.value;
    let other: f64 = loads.other.iter().sum();
    let load: f64 = days.iter().filter_map(|d| d.load_wh).sum();
    let cable: f64 = loads.cable.iter().sum();
    let Stored { change, loss, how } = stored::stored(design, expected, charge);
    let (into, out) = expected.signals.bank_w.as_ref().map_or((0.0, 0.0), |bank| {
        (
            bank.in_h.iter().sum::<f64>(),
            bank.out_h.iter().sum::<f64>(),
        )
    });
    let rest = load + cable + change.value + loss.value - harvested - other;
    let meter = GAIN * (into + out + harvested.abs());
    let zero = if loads.load_how == How::Measured {
        0.0
    } else {
        stored::zero_error(expected)
    };
    // Where the harvest is an estimate from the bank's side, it is wrong by what the loads are wrong by.
    let loads_range = Interval::new(
        load,
        load - meter.max(harvested - harvest.low).hypot(zero),
        load + meter.max(harvest.high - harvested).hypot(zero),
    );
    let loads_how = if loads.load.is_some() {
        loads.load_how
    } else {
        How::Assumed
    };
    let (loads_range, rest_range) = if loads.load.is_some() {
        (loads_range, around(rest, meter))
    } else {
        // Without a log of the bank nothing says what became of the harvest: the loads may have had all of it.
        let most = harvest.high + other;
        (
            Interval::new(load, load, load.max(most)),
            Interval::new(rest, rest, rest.max(0.0)),
        )
    };
    vec![
        entry("harvested", harvest, harvest_how),
        entry("other_charge", other_range(other, loads), loads.other_how),
        entry("unexplained", rest_range, How::Inferred),
        entry("loads", loads_range, loads_how),
        entry(
            "bank_cable",
            around(cable, loads.cable_error * cable),
            How::Inferred,
        ),
        entry("bank_change", change, how),
        entry("bank_loss", loss, how),
    ]
}

/// Charging that no meter of its own shows is known by what the bank gained; the loads it fed meanwhile
/// are taken to be the night's, and may have been any the trip knows. More hours may be hidden: a charger
/// beside a bank that takes no more feeds the loads alone, whatever they are, and nothing shows of it.
fn other_range(wh: f64, loads: &Loads) -> Interval {
    let meter = GAIN * wh;
    if loads.other_how == How::Measured {
        return around(wh, meter);
    }
    let hours = loads.other_h;
    let [usual, least, most] = loads.beside_w;
    Interval::new(
        wh,
        wh - meter.hypot((usual - least).max(0.0) * hours),
        wh + meter
            .hypot((most - usual).max(0.0) * hours)
            .hypot(most.max(usual) * loads.hidden_h),
    )
}

fn around(value: f64, error: f64) -> Interval {
    Interval::new(value, value - error.abs(), value + error.abs())
}

fn entry(name: &str, wh: Interval, how: How) -> Entry {
    Entry {
        name: name.to_owned(),
        // An exact 0 reads better than -0.
        wh: wh.value + 0.0,
        low: wh.low + 0.0,
        high: wh.high + 0.0,
        how,
    }
}

/// The planned figure in words, for the report's assumptions.
pub fn planned_how(design: &Design) -> &'static str {
    if design.plan.harvest_wh.is_some() {
        "given in the plan"
    } else if design.plan.sun_hours.is_some() {
        "label power x planned sun hours x the design's own losses"
    } else {
        offer::UNPLANNED
    }
}
