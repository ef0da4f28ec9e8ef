//! What every rule may look at.

use crate::account::Accounts;
use crate::account::holds::{self, Hold};
use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::{Expectation, Regime};
use crate::mapping::Role;
use crate::quantity::Interval;
use crate::report::model::{Day, DayState, Severity};
use crate::timeline::Timeline;
use crate::words::{ranged, with_unit};

/// The result so far.
pub struct Evidence<'a> {
    /// The design.
    pub design: &'a Design,
    /// Local days.
    pub calendar: &'a Calendar,
    /// What was expected and measured.
    pub expected: &'a Expectation,
    /// The accounts.
    pub accounts: &'a Accounts,
    /// What was measured, in the finest step there is.
    pub timeline: &'a Timeline,
}

/// What happened while the controller held its voltage although the bank was neither near it nor tapering.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeldShort {
    /// How long, h.
    pub hours: f64,
    /// On how many days.
    pub days: usize,
    /// Offered and not taken meanwhile, Wh.
    pub wh: f64,
    /// Mean of controller's minus bank's voltage meanwhile, V.
    pub drop_v: f64,
}

/// Share of what all gave that one gave alone.
const ALONE: f64 = 0.95;

impl Evidence<'_> {
    /// System voltage over 12.
    pub fn volts_per_12(&self) -> f64 {
        self.design.nominal_v() / 12.0
    }

    /// Days that can be judged.
    pub fn judged(&self) -> impl Iterator<Item = &Day> {
        self.accounts.days.iter().filter(|d| d.judged)
    }

    /// Days with enough daylight read to tell a full charge and the use by, whether or not the array can
    /// be judged on them.
    pub fn readable(&self) -> impl Iterator<Item = &Day> {
        self.accounts
            .days
            .iter()
            .filter(|d| d.state != DayState::Unmeasured)
    }

    /// Days in a state.
    pub fn in_state(&self, state: DayState) -> Vec<&Day> {
        self.accounts
            .days
            .iter()
            .filter(|d| d.state == state)
            .collect()
    }

    /// Short days of which the controller's limit does not take most of what is missing.
    pub fn short_beside_the_limit(&self) -> Vec<&Day> {
        let limit = |place: usize| -> f64 {
            let moments = self.expected.grid.day(place);
            let parts = &self.accounts.attribution.limit;
            moments.map(|m| parts[m].value).sum()
        };
        let days = self.accounts.days.iter().enumerate();
        days.filter(|(_, day)| day.state == DayState::Short)
            .filter(|(place, day)| limit(*place) <= 0.5 * day.lost_wh.unwrap_or(0.0))
            .map(|(_, day)| day)
            .collect()
    }

    /// Median step of the log the harvest comes from, the finest where there are several, s; `None` without one.
    pub fn harvest_step_s(&self) -> Option<f64> {
        self.timeline
            .channels
            .iter()
            .filter(|c| matches!(c.role, Role::ChargePower | Role::ArrayPower))
            .map(|c| c.step_s)
            .min_by(f64::total_cmp)
    }

    /// An amount over the period as a mean over judged days.
    pub fn per_judged_day(&self, total: Interval) -> Interval {
        total.scale(1.0 / self.judged().count().max(1) as f64)
    }

    /// What a loss asks of the owner: a job where it is worth one by the mean day, or where it made one of
    /// these days short.
    pub fn severity_of_loss(&self, a_day: Interval, days: &[String]) -> Severity {
        let short = |d: &Day| d.state == DayState::Short && days.contains(&d.date);
        if a_day.value >= self.accounts.yardsticks.worth_a_job_wh
            || self.accounts.days.iter().any(short)
        {
            Severity::Fix
        } else {
            Severity::Watch
        }
    }

    /// A daily loss in words: the mean over the trip, and before it what each of the days that have it
    /// lost, where those are clearly fewer than all that were judged.
    pub fn lost_told(&self, mean: &Interval, days: &[String]) -> String {
        let judged = self.judged().count();
        let struck = self.judged().filter(|d| days.contains(&d.date)).count();
        let over_all = ranged(mean, "Wh");
        if struck == 0 || struck * 10 > judged * 9 {
            return format!("{over_all} a day lost over the trip");
        }
        let each = mean.value * judged as f64 / struck as f64;
        format!(
            "about {} lost on each such day, {over_all} as a mean of all days",
            with_unit(each, "Wh")
        )
    }

    /// What moments hold of an amount, as a mean over judged days, or over readable ones where none can be
    /// judged; moments of other days are left out.
    pub fn mean_over_judged(&self, of: impl Fn(usize) -> Option<Interval>) -> Interval {
        let grid = &self.expected.grid;
        let days = &self.accounts.days;
        // A few judged days among many do not stand for them.
        let few = 2 * self.judged().count() < self.readable().count();
        let counts = |day: &Day| match few {
            false => day.judged,
            true => day.state != DayState::Unmeasured,
        };
        let counted: Vec<bool> = days.iter().map(counts).collect();
        let parts: Vec<Interval> = (0..grid.moments)
            .filter(|m| counted.get(grid.day_of(*m)) == Some(&true))
            .filter_map(of)
            .collect();
        let n = counted.iter().filter(|c| **c).count().max(1) as f64;
        let mean = |pick: fn(&Interval) -> f64| parts.iter().map(pick).sum::<f64>() / n;
        Interval::new(mean(|i| i.value), mean(|i| i.low), mean(|i| i.high))
    }

    /// The dates of days by their index.
    pub fn dates_of(&self, days: &[usize]) -> Vec<String> {
        days.iter()
            .filter_map(|day| self.expected.grid.dates.get(*day))
            .map(ToString::to_string)
            .collect()
    }

    /// The day (index) a bin of the timeline belongs to, where it lies inside the period.
    pub fn day_of_bin(&self, bin: usize) -> Option<usize> {
        let grid = &self.expected.grid;
        let offset = self.timeline.time_of(bin) - grid.start;
        let moment = usize::try_from(offset.div_euclid(crate::expect::STEP_S)).ok()?;
        (moment < grid.moments).then(|| grid.day_of(moment))
    }

    /// How long, in minutes, and on which days (by index) marked bins of the timeline lie in the period.
    pub fn time_in(&self, marked: &[bool]) -> (f64, Vec<usize>) {
        let mut days: Vec<usize> = marked
            .iter()
            .enumerate()
            .filter(|(_, is)| **is)
            .filter_map(|(bin, _)| self.day_of_bin(bin))
            .collect();
        let minutes = days.len() as f64 * self.timeline.bin_s as f64 / 60.0;
        days.dedup();
        (minutes, days)
    }

    /// Stays at a voltage that the array's controller held.
    pub fn holds(&self) -> Vec<Hold> {
        holds::find(
            self.design,
            self.timeline,
            self.expected,
            &self.accounts.loads,
        )
    }

    /// Unexplained energy as a share of the offer over the period.
    pub fn unexplained_share(&self) -> f64 {
        let sum = |pick: fn(&Day) -> Option<f64>| -> f64 {
            self.accounts.days.iter().filter_map(pick).sum()
        };
        let offered = sum(|d| d.offered_wh);
        if offered <= 0.0 {
            return 0.0;
        }
        (sum(|d| d.unexplained_wh) / offered).abs()
    }

    /// The only controller that gave anything worth the name in some moments, by its name; `None` where several did
    /// or they were not logged apart.
    pub fn only_giver(&self, moments: impl Iterator<Item = usize> + Clone) -> Option<&str> {
        let branches = &self.expected.branches;
        let gave = |k: usize| {
            moments
                .clone()
                .map(|m| branches[k].gave.net(m))
                .sum::<f64>()
        };
        let each: Vec<f64> = (0..branches.len()).map(gave).collect();
        let all: f64 = each.iter().sum();
        let most = (0..each.len()).max_by(|a, b| each[*a].total_cmp(&each[*b]))?;
        let controller = &self.design.controllers[branches[most].controller];
        (all > 0.0 && each[most] >= ALONE * all)
            .then_some(controller.name.as_deref())
            .flatten()
    }

    /// What a pack that took nothing at a voltage held for it kept out, Wh.
    pub fn refused_wh(&self) -> f64 {
        let held = &self.accounts.attribution.held;
        let refused = |m: &usize| self.expected.regimes[*m] == Regime::Refused;
        let moments = (0..self.expected.grid.moments).filter(refused);
        moments.map(|m| held[m].value).sum()
    }

    /// Moments in which the controller held its voltage while the bank was more than the full margin
    /// below it and still took more than its full current.
    pub fn held_short(&self) -> HeldShort {
        let signals = &self.expected.signals;
        let grid = &self.expected.grid;
        let (Some(bank_v), Some(bank_a), Some(_)) =
            (&signals.bank_v, &signals.bank_a, &signals.charge_v)
        else {
            return HeldShort::default();
        };
        let mut sum = HeldShort::default();
        let mut days = vec![false; grid.dates.len()];
        let mut moments = 0.0;
        for m in 0..grid.moments {
            if self.expected.regimes[m] != Regime::Held {
                continue;
            }
            let (Some(low), Some(amps), Some(high)) =
                (bank_v.mean(m), bank_a.mean(m), self.expected.held_v(m))
            else {
                continue;
            };
            let full_v =
                crate::account::charge::full_above_v(self.design, self.expected, grid.time_of(m));
            if high > full_v && low < full_v && amps > self.design.battery.full_current_a {
                sum.hours += grid.step_h();
                sum.wh += self.accounts.attribution.held[m].value;
                sum.drop_v += high - low;
                moments += 1.0;
                days[grid.day_of(m)] = true;
            }
        }
        if moments > 0.0 {
            sum.drop_v /= moments;
        }
        sum.days = days.iter().filter(|d| **d).count();
        sum
    }
}
