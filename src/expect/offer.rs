//! What the array as designed would give at the controller's output under a clear sky: moment by
//! moment, by day, and for a month.

use chrono::{Datelike, NaiveDate};

use crate::calendar::Calendar;
use crate::design::{Array, Design, Method, Run, Spot};
use crate::expect::grid::Grid;
use crate::expect::route::Route;
use crate::physics::{cell, conductor, converter, panel, plane, sky, sun};

/// Below this height of the sun an array gives nothing worth judging, degrees.
pub const PRODUCTIVE_DEG: f64 = 5.0;

/// The clear-sky offer at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Offer {
    /// At the controller's output, as designed, W.
    pub output_w: f64,
    /// What the labels promise in that light with cells at 25 C, W.
    pub label_w: f64,
    /// Irradiation in the plane of the largest array, W/m2.
    pub plane_wm2: f64,
    /// Irradiation on a flat surface, W/m2.
    pub flat_wm2: f64,
    /// Sun's height, degrees.
    pub elevation_deg: f64,
    /// Sun's bearing, degrees clockwise from north.
    pub azimuth_deg: f64,
    /// Cell temperature of the largest array, C.
    pub cell_c: f64,
}

/// The offer at `unix_s` in a place, with the air at `air_c` and the bank at `bank_v`.
pub fn clear_offer(design: &Design, spot: &Spot, unix_s: f64, air_c: f64, bank_v: f64) -> Offer {
    offer_through(sky::DEFAULT_TURBIDITY, design, spot, unix_s, air_c, bank_v)
}

/// The same through air of some turbidity.
fn offer_through(
    turbidity: f64,
    design: &Design,
    spot: &Spot,
    unix_s: f64,
    air_c: f64,
    bank_v: f64,
) -> Offer {
    let sun = sun::position(unix_s, spot.latitude_deg, spot.longitude_deg);
    let clear = sky::clear_sky(&sun, spot.altitude_m, turbidity);
    let mut offer = Offer {
        elevation_deg: sun.elevation_deg,
        azimuth_deg: sun.azimuth_deg,
        cell_c: air_c,
        ..Offer::default()
    };
    if sun.elevation_deg <= 0.0 {
        return offer;
    }
    offer.flat_wm2 = clear.ghi_wm2;
    let mut largest_w = 0.0;
    for array in &design.arrays {
        let tilt = spot.tilt_deg.unwrap_or(array.tilt_deg);
        let facing = spot.facing_deg.unwrap_or(array.facing_deg);
        let irradiance = plane::irradiance(&clear, &sun, tilt, facing, plane::DEFAULT_ALBEDO);
        let effective = irradiance.effective();
        let cell_c = cell::noct_temperature(air_c, irradiance.total(), array.panel.noct_c);
        offer.output_w += output_w(design, array, effective, cell_c, bank_v);
        let label_w = array.power_w();
        offer.label_w += panel::mpp_power_w(
            label_w,
            effective,
            panel::LABEL_C,
            array.panel.power_per_degree,
        );
        if array.power_w() > largest_w {
            largest_w = array.power_w();
            offer.plane_wm2 = irradiance.total();
            offer.cell_c = cell_c;
        }
    }
    offer
}

/// What one array as designed gives at its controller's output, W, with its allowance, its cable and
/// the conversion taken off and no limit of the controller applied.
pub fn output_w(
    design: &Design,
    array: &Array,
    effective_wm2: f64,
    cell_c: f64,
    bank_v: f64,
) -> f64 {
    let controller = &design.controllers[array.controller];
    match (controller.method, pwm_curve(array)) {
        (Method::Pwm, Some(curve)) => {
            let strings = f64::from(array.strings_in_parallel);
            let amps =
                curve.current_at(bank_v + converter::PWM_DROP_V, effective_wm2, cell_c) * strings;
            amps * bank_v * array.allowance
        }
        _ => {
            let dc_w = panel::mpp_power_w(
                array.power_w(),
                effective_wm2,
                cell_c,
                array.panel.power_per_degree,
            ) * array.allowance;
            let after_cable = dc_w - cable_loss_w(design, array, dc_w);
            after_cable.max(0.0) * controller.efficiency
        }
    }
}

/// The current-voltage curve of a whole string, where the data sheet gives its four points.
fn pwm_curve(array: &Array) -> Option<panel::Curve> {
    let p = &array.panel;
    let one = panel::Curve::new(
        p.vmp_v?,
        p.imp_a?,
        p.voc_v?,
        p.isc_a?,
        p.voc_per_degree,
        panel::DEFAULT_ISC_PER_DEGREE,
    )?;
    Some(one.in_series(array.panels_in_series))
}

/// What the array's own cable takes at `dc_w`, W.
fn cable_loss_w(design: &Design, array: &Array, dc_w: f64) -> f64 {
    let Some(cable) = design.cable(Run::ArrayController, array.controller) else {
        return 0.0;
    };
    let string_v = array.panel.vmp_v.map_or_else(
        || design.nominal_v() * 1.5,
        |v| v * f64::from(array.panels_in_series),
    );
    let ohm = (conductor::resistance_mohm(
        cable.length_m,
        cable.size,
        cable.material,
        30.0,
        cable.chassis_return,
    ) + cable.joints_mohm)
        / 1000.0;
    let amps = dc_w / string_v.max(1.0);
    // A run longer than sense would take more than it gets; it can't take all.
    (amps * amps * ohm).min(dc_w * 0.9)
}

/// Clear-sky offers for every moment of a grid, with the air as planned.
/// Where a position was logged, that is where the sun is seen from.
pub fn clear_offers(
    design: &Design,
    calendar: &Calendar,
    grid: &Grid,
    route: Option<&Route>,
) -> Vec<Offer> {
    (0..grid.moments)
        .map(|moment| {
            in_moment(
                design,
                calendar,
                grid,
                route,
                moment,
                sky::DEFAULT_TURBIDITY,
            )
        })
        .collect()
}

/// The offer in one moment of a grid through air of some turbidity.
pub(super) fn in_moment(
    design: &Design,
    calendar: &Calendar,
    grid: &Grid,
    route: Option<&Route>,
    moment: usize,
    turbidity: f64,
) -> Offer {
    let middle = grid.middle_of(moment);
    let designed = design.place.at(middle as i64);
    let logged = route.and_then(|route| route.spot(moment, designed));
    let spot = logged.as_ref().unwrap_or(designed);
    let air = air_at(design, calendar.date(middle as i64));
    let bank_v = typical_bank_v(design);
    offer_through(turbidity, design, spot, middle, air, bank_v)
}

/// The planned air temperature of a date's month, C.
pub fn air_at(design: &Design, date: NaiveDate) -> f64 {
    design.plan.air_c[date.month0() as usize]
}

/// The voltage a bank is usually charged at: 13.3 V on a 12 V system.
pub fn typical_bank_v(design: &Design) -> f64 {
    design.nominal_v() * 13.3 / 12.0
}

/// Clear-sky energy of one date at the controller's output and as the labels promise, Wh.
pub fn clear_day(design: &Design, calendar: &Calendar, date: NaiveDate) -> (f64, f64) {
    const STEP: i64 = 900;
    let (start, end) = calendar.bounds(date);
    let air = air_at(design, date);
    let bank_v = typical_bank_v(design);
    let mut sums = (0.0, 0.0);
    let mut at = start;
    while at < end {
        let middle = at + STEP / 2;
        let spot = design.place.at(middle);
        let offer = clear_offer(design, spot, middle as f64, air, bank_v);
        let hours = STEP.min(end - at) as f64 / 3600.0;
        sums.0 += offer.output_w * hours;
        sums.1 += offer.label_w * hours;
        at += STEP;
    }
    sums
}

/// Share of a clear day that is planned with where the design holds no plan.
pub const UNPLANNED_SHARE: f64 = 0.6;
/// How the plan comes about where the design holds none.
pub const UNPLANNED: &str = "0.6 of the month's mean clear day";

/// The planned harvest of a date at the controller's output, Wh.
pub fn planned_day(design: &Design, calendar: &Calendar, date: NaiveDate) -> f64 {
    if let Some(given) = design.plan.harvest_wh {
        return given;
    }
    if let Some(hours) = design.plan.sun_hours {
        let (clear_wh, label_wh) = clear_day(design, calendar, date);
        // The design factor is what allowance, heat, cable and conversion leave of what the labels promise;
        // where the sun does not rise no factor can be had and nothing is planned.
        let factor = if label_wh > 0.0 {
            clear_wh / label_wh
        } else {
            0.0
        };
        return design.array_w() * hours[date.month0() as usize] * factor;
    }
    UNPLANNED_SHARE * month_mean_clear(design, calendar, date)
}

/// The planned harvest of every date, Wh: what depends on the month alone is reckoned once a month.
pub fn planned_days(design: &Design, calendar: &Calendar, dates: &[NaiveDate]) -> Vec<f64> {
    let by_month = design.plan.harvest_wh.is_none() && design.plan.sun_hours.is_none();
    let mut last: Option<(i32, u32, f64)> = None;
    dates
        .iter()
        .map(|date| match last {
            Some((year, month, planned))
                if by_month && (date.year(), date.month()) == (year, month) =>
            {
                planned
            }
            _ => {
                let planned = planned_day(design, calendar, *date);
                last = Some((date.year(), date.month(), planned));
                planned
            }
        })
        .collect()
}

/// Mean clear-sky day of a date's month, Wh, from every third day of it.
pub fn month_mean_clear(design: &Design, calendar: &Calendar, date: NaiveDate) -> f64 {
    let days: Vec<f64> = (1..=28)
        .step_by(3)
        .filter_map(|day| date.with_day(day))
        .map(|day| clear_day(design, calendar, day).0)
        .collect();
    days.iter().sum::<f64>() / days.len().max(1) as f64
}
