//! Where the energy went: moment by moment, by day, and in the two accounts of the period.

pub mod agreement;
pub mod balance;
pub mod branch;
pub mod charge;
pub mod charging_temperature;
pub mod day;
pub mod episode;
pub mod flat;
pub mod harvest;
pub mod holds;
pub mod instrument;
pub mod lean;
pub mod ledger;
pub mod load_hours;
pub mod loads;
pub mod long_hours;
pub mod low_charge;
pub mod low_point;
pub mod meter;
pub mod night;
pub mod night_course;
pub mod nightly_low;
pub mod part;
pub mod performance;
pub mod planes;
pub mod range;
pub mod rolling;
pub mod sampling;
pub mod set_point;
pub mod sky;
pub mod steps;
pub mod stored;
pub mod stretches;
pub mod sun_clock;
pub mod swings;
pub mod table;
pub mod totals;
pub mod two_clocks;
pub mod weak_branch;
pub mod wire;
pub mod wire_change;

use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::Expectation;
use crate::log::DayTotal;
use crate::report::model;
use crate::timeline::Timeline;

pub use charge::Charge;
pub use episode::Reduction;
pub use harvest::Attribution;
pub use loads::Loads;
pub use totals::Totals;
pub use wire::RunFit;

/// The accounts of a period and what they rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct Accounts {
    /// Resistance of each controller's run to the bank, where it can be measured.
    pub runs: Vec<Result<RunFit, wire::NotMeasurable>>,
    /// Of those the one that has most beyond its design.
    pub run: Result<RunFit, wire::NotMeasurable>,
    /// What the loads took and other charging gave.
    pub loads: Loads,
    /// When the array was reduced, and to what.
    pub reductions: Vec<Reduction>,
    /// Where each moment's offer went.
    pub attribution: Attribution,
    /// Full charges, and charge counted anew.
    pub charge: Charge,
    /// The days.
    pub days: Vec<model::Day>,
    /// The two accounts.
    pub account: model::Account,
    /// Yields and ratios.
    pub performance: model::Performance,
    /// What is worth a job and what can be seen.
    pub yardsticks: model::Yardsticks,
}

impl Accounts {
    /// Draws up the accounts of what was logged row by row.
    pub fn new(
        design: &Design,
        calendar: &Calendar,
        timeline: &Timeline,
        expected: &Expectation,
    ) -> Self {
        Self::with_totals(design, calendar, timeline, expected, &[])
    }

    /// Draws up the accounts, with the totals of days on which no rows were logged.
    pub fn with_totals(
        design: &Design,
        calendar: &Calendar,
        timeline: &Timeline,
        expected: &Expectation,
        day_totals: &[DayTotal],
    ) -> Self {
        let runs = wire::measure(design, timeline, expected);
        let loads = Loads::new(design, timeline, expected, &runs);
        let reductions = part::settled(design, expected, episode::find(design, calendar, expected));
        let sky = sky::Sky::new(design, expected, &loads, &reductions);
        let totals = Totals::new(expected, day_totals);
        let mut attribution =
            harvest::attribute(design, calendar, expected, &loads, &sky, &reductions);
        totals.carry(expected, &mut attribution);
        let charge = Charge::new(design, calendar, timeline, expected);
        let yardsticks = ledger::yardsticks(design, expected, &loads, &attribution);
        let inputs = day::Inputs {
            design,
            calendar,
            expected,
            loads: &loads,
            attribution: &attribution,
            charge: &charge,
            yardsticks: &yardsticks,
            totals: &totals,
        };
        let days = day::days(&inputs);
        let account = ledger::account(design, expected, &loads, &attribution, &charge, &days);
        let performance = performance::performance(design, expected, &loads, &charge, &days);
        Self {
            run: wire::worst(&runs),
            runs,
            loads,
            reductions,
            attribution,
            charge,
            days,
            account,
            performance,
            yardsticks,
        }
    }
}
