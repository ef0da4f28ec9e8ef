//! Faults of the bank: what it holds, loses, resists and goes through.

use super::charging::{deep_yard, lead_yard};
use super::healthy_banks::healthy_busy;
use crate::sample::draw::Draw;
use crate::sample::fit;
use crate::sample::parts::{busy, day, lithium, load, roomy_barge};
use crate::sample::scenario::{Pattern, Scenario};
use crate::smallest::LITHIUM_LOSS_SHARE;

fn fortnight(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s
}

/// What a worn bank holds of its label.
fn worn_ah(rated_ah: f64, draw: &Draw) -> f64 {
    (rated_ah * (1.0 - draw.fault("capacity-low")).max(0.25)).round()
}

/// A lithium bank that holds far less than its label: full on clear days, at its lower end after grey ones.
pub(super) fn capacity_low(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    busy(&mut s, 120.0, 5.0);
    s.weather = "ccoocccooccoocc".into();
    s.bank = lithium(200.0, 0.9);
    s.bank.true_ah = worn_ah(s.bank.rated_ah, draw);
    s
}

/// A lead bank that holds far less than its label. Nothing but a router runs by night, so that it rests.
pub(super) fn capacity_low_lead(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.weather = "ccooccccooccf".into();
    s.bank.start_soc = 0.95;
    s.loads[0] = load(
        "work lamps and extractor",
        72.0,
        7.0,
        "day",
        Pattern::Block(9.0, 14.0),
    );
    s.bank.true_ah = worn_ah(s.bank.rated_ah, draw);
    s
}

/// A lithium bank with far more resistance than such a bank has: 8 mohm for 100 Ah and 12 V at most.
pub(super) fn bank_resistance(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    busy(&mut s, 150.0, 5.0);
    s.bank = lithium(200.0, 0.9);
    s.bank.r0_ohm = s.bank.highest_usual_ohm() * (1.0 + draw.fault("battery-resistance-high"));
    s
}

/// A lead bank with far more resistance than such a bank has.
pub(super) fn bank_resistance_lead(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.bank.r0_ohm = s.bank.highest_usual_ohm() * (1.0 + draw.fault("battery-resistance-high"));
    s
}

/// A lithium bank that leaks: something draws from it beside the shunt, or a cell is bad. It is small
/// and goes deep each night, and the crew is away for some days: a shunt that is off loses as much then,
/// a leak does not.
pub(super) fn leaky_bank(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = healthy_busy(case, draw);
    s.bank = lithium(80.0, 0.9);
    s.quiet = (5, 9, 0.1);
    let lost = LITHIUM_LOSS_SHARE * draw.fault("charge-loss-high");
    s.faults.leak = Some(leak_of(&s, lost));
    s
}

/// An AGM bank that gives back far less than it takes. It is cycled deep: one that is kept full gives
/// back little of the last few percent anyway.
pub(super) fn leaky_bank_lead(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = deep_yard(case, draw);
    s.quiet = (5, 9, 0.1);
    s.faults.leak = Some(leak_of(&s, draw.fault("charge-loss-high")));
    s
}

/// The leak that takes a bank below the usual range's low end by so much.
fn leak_of(s: &Scenario, lost: f64) -> f64 {
    1.0 - (s.bank.lowest_usual_efficiency() - lost) / s.bank.sound_share
}

/// A lead bank taken below the reserve its owner set.
pub(super) fn drained_bank(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.weather = "cfoobccoobcf".into();
    s.bank.start_soc = 0.95;
    s.loads[0].power_w = 70.0;
    reserve_above_lowest(&mut s, draw);
    s
}

/// A lithium bank taken below the reserve its owner set.
pub(super) fn drained_lithium(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    s.weather = "ccoobcccoobccf".into();
    s.bank = lithium(220.0, 0.95);
    busy(&mut s, 150.0, 5.0);
    reserve_above_lowest(&mut s, draw);
    s
}

/// The reserve lies above the lowest state of charge of the trip by the size asked for.
fn reserve_above_lowest(s: &mut Scenario, draw: &Draw) {
    let reserve = fit::lowest_pct(s) + draw.fault("bank-drained");
    s.bank.reserve_pct = reserve.clamp(1.0, 95.0).round();
}

/// A lithium bank that loads take below its cells' lowest voltage, and that is charged again.
pub(super) fn emptied_cells(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    s.weather = "cooocccooocccc".into();
    s.bank = lithium(120.0, 0.8);
    busy(&mut s, 150.0, 5.0);
    s.faults.cut_off_v = Some(s.bank.cell_limit_v() - draw.fault("cell-limit-passed"));
    s
}

/// A frosty March: the bank stands in an unheated locker.
pub(super) fn cold_charge(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    s.first_day = day(2026, 3, 3);
    s.weather = "ccfcbc".into();
    s.air_c = (-4.0, 4.0);
    s.plan_air_c = 2.0;
    s.sun_hours = 2.2;
    let limit_c = s.bank.charge_limits_c().0;
    fit::shift_air(&mut s, limit_c - draw.fault("cold-charge"), true);
    s
}

/// A bank beside the engine in a hot summer.
pub(super) fn hot_charge(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    s.first_day = day(2026, 7, 14);
    s.air_c = (27.0, 6.0);
    s.plan_air_c = 25.0;
    s.locker_c = 15.0;
    s.sun_hours = 5.2;
    let limit_c = s.bank.charge_limits_c().1;
    fit::shift_air(&mut s, limit_c + draw.fault("hot-charge"), false);
    s
}

/// An old AGM bank that gasses at its charging voltage, warms by it, and takes more the warmer it gets.
pub(super) fn runaway(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.days = 7;
    s.weather = "ccccccc".into();
    s.air_c = (25.0, 6.0);
    s.plan_air_c = 23.0;
    s.locker_c = 5.0;
    s.bank.start_soc = 0.95;
    s.controller.compensation_mv = 0.0;
    s.controller.absorption_h = 8.0;
    // The fridge's budget was made for this heat.
    s.loads[0].factor = 0.8;
    let rise_a = draw.fault("runaway-signs") * s.bank.rated_ah;
    s.faults.gassing_a = Some(fit::first_reaching(
        &s,
        2.0,
        rise_a,
        |s, amps| s.faults.gassing_a = Some(amps),
        |o| o.extremes.rise.0,
    ));
    s
}

/// A lead bank under a grey sky for as many days as asked for: never full.
pub(super) fn never_full(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.days = draw.fault("never-full").round().clamp(1.0, 60.0) as u32;
    s.first_day = day(2026, 10, 12);
    s.weather = "oobooooboo".into();
    s.air_c = (10.0, 3.0);
    s.plan_air_c = 10.0;
    s.bank.start_soc = 0.7;
    fit::scale_to_deficit(&mut s, -0.02);
    fit::plan_sun(&mut s, 0.6);
    s
}
