//! The design on its own, before any log: what it should harvest and use, how long the bank lasts, and
//! its wires and ratings against their limits. It uses the same arithmetic as the findings.

mod months;
mod protection;
mod sheet;
mod wires;

use crate::design::Design;
use crate::design::budget::{budget, items, usable_wh};
use crate::design::checks::ARITHMETIC_ONLY;
use crate::physics::bank;
use crate::quantity::trim;
use crate::report::planning::{LoadLine, Planning, SCHEMA};
use sheet::Sheet;

/// Reckons a design on its own. Where safety hangs on something the design does not state, the check is
/// left open and the figure asked for; everything else that is missing has its stated default.
pub fn plan(design: &Design) -> Planning {
    let budget = budget(design);
    let need = (budget.total_wh > 0.0).then(|| need(design, budget.day_wh, budget.night_wh));
    let months = months::months(design, need.as_ref().map(|n| n.0));
    let (autonomy_h, autonomy_why) = autonomy(design, budget.total_wh);
    let harvest_why = months::why(design, &months);
    let mut sheet = Sheet::new(design);
    protection::check(&mut sheet);
    wires::check(&mut sheet);
    if months::is_over_clear_sky(design, &months) {
        sheet.ask(
            "what the darker months bring: the plan holds more than a clear sky gives then",
            "plan.sun_hours as twelve monthly values",
        );
    }
    Planning {
        schema: SCHEMA.to_owned(),
        name: design.system.name.clone(),
        summary: summary(design),
        months,
        harvest_why,
        load_day_wh: budget.day_wh,
        load_night_wh: budget.night_wh,
        loads: items(design)
            .into_iter()
            .map(|item| LoadLine {
                name: item.name,
                day_wh: item.day_wh,
                night_wh: item.night_wh,
                arithmetic: item.arithmetic,
            })
            .collect(),
        need_wh: need.as_ref().map(|n| n.0),
        need_why: need.map_or_else(
            || "the design holds no load budget: add a [[load]] with power and hours".to_owned(),
            |n| n.1,
        ),
        autonomy_h,
        autonomy_why,
        checks: sheet.checks,
        asked: sheet.asked,
        assumed: design.assumed.clone(),
        caution: format!(
            "{ARITHMETIC_ONLY} It sees no workmanship, no heat and no place: who works on the system checks every figure against the labels first."
        ),
    }
}

fn summary(design: &Design) -> String {
    let volts = match design.system.nominal_v {
        Some(v) => format!("{} V", trim(v)),
        None => "a voltage the design does not state".to_owned(),
    };
    format!(
        "{} W of panels, {} Ah {} at {volts}",
        trim(design.array_w()),
        trim(design.battery.capacity_ah),
        design.battery.chemistry.name()
    )
}

/// Harvest that the loads take, Wh a day, and how it is reckoned: what is used in the dark goes by way
/// of the bank, which gives back less than it takes.
fn need(design: &Design, day_wh: f64, night_wh: f64) -> (f64, String) {
    let kept = bank::energy_efficiency(design.battery.chemistry).value;
    let wh = day_wh + night_wh / kept;
    let why = format!(
        "{day_wh:.0} Wh by day + {night_wh:.0} Wh at night / {kept:.2} that {} gives back = {wh:.0} Wh a day of harvest",
        design.battery.chemistry.name()
    );
    (wh, why)
}

fn autonomy(design: &Design, load_wh: f64) -> (Option<f64>, String) {
    let Some(nominal_v) = design.system.nominal_v else {
        let why = "not known: the design does not state system.nominal";
        return (None, why.to_owned());
    };
    if load_wh <= 0.0 {
        let why = "not known: the design holds no load budget";
        return (None, why.to_owned());
    }
    let hours = usable_wh(design) / (load_wh / 24.0);
    let why = format!(
        "{} Ah x {} V x (1 - {} % reserve) = {:.0} Wh; / ({load_wh:.0} Wh a day / 24 h) = {hours:.0} h. A bank that is old or cold holds less.",
        trim(design.battery.capacity_ah),
        trim(nominal_v),
        trim(design.battery.reserve_pct),
        usable_wh(design)
    );
    (Some(hours), why)
}
