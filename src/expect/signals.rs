//! What was measured, on the grid, under the names the judging uses, with what stands in where a
//! signal was not logged.

use crate::design::{Controller, Design, Run, wiring};
use crate::expect::grid::{Folded, Grid, STEP_S};
use crate::expect::route::Route;
use crate::mapping::Role;
use crate::quantity::How;
use crate::timeline::Timeline;

/// The signals of a system on the grid; `None` where neither logged nor derivable.
#[derive(Debug, Clone, PartialEq)]
pub struct Signals {
    /// Power at the controller's output terminals, W, all controllers together.
    pub harvest: Option<Folded>,
    /// How the harvest came about.
    pub harvest_how: How,
    /// Median step of the rows that show the harvest, or what the bank took where nothing else does, s.
    pub step_s: f64,
    /// Controllers of the design, by their place in it, whose side nothing shows while another's is.
    pub unwatched: Vec<usize>,
    /// Power at the array's terminals, W.
    pub array: Option<Folded>,
    /// Array voltage, V.
    pub array_v: Option<Folded>,
    /// Array current, A.
    pub array_a: Option<Folded>,
    /// Voltage at the controller's output terminals, V.
    pub charge_v: Option<Folded>,
    /// The same reckoned from the bank's by the design's run, where it was not logged and the harvest was.
    pub(super) reckoned_v: Option<Folded>,
    /// Current at the controller's output terminals, A.
    pub charge_a: Option<Folded>,
    /// Charging stage code.
    pub stage: Option<Folded>,
    /// Voltage at the bank, V.
    pub bank_v: Option<Folded>,
    /// Current into the bank, A; by power and voltage where it was not logged.
    pub bank_a: Option<Folded>,
    /// Power into the bank, W.
    pub bank_w: Option<Folded>,
    /// State of charge as the meter says, %.
    pub soc: Option<Folded>,
    /// Bank temperature, C.
    pub bank_c: Option<Folded>,
    /// Air temperature, C.
    pub air_c: Option<Folded>,
    /// Irradiation as an instrument beside the array shows it, W/m2, in whatever plane that lies.
    pub irradiance: Option<Folded>,
    /// Where the system was.
    pub route: Option<Route>,
    /// Load power as logged, W.
    pub load_w: Option<Folded>,
    /// Other charging current as logged, A.
    pub other_a: Option<Folded>,
}

impl Signals {
    /// Puts the timeline's channels on the grid.
    pub fn new(design: &Design, timeline: &Timeline, grid: &Grid) -> Self {
        let one = |role| timeline.series(role).map(|s| grid.fold(timeline, s));
        let lead = lead(timeline);
        let of_lead = |role| {
            let own = lead.and_then(|name| timeline.channel_of(role, Some(name)));
            let found = own.or_else(|| timeline.channel(role))?;
            Some(grid.fold(timeline, &found.series))
        };
        let unwatched = unwatched(design, timeline);
        // A part of the harvest is none: the bank shows what all of them gave.
        let whole = unwatched.is_empty() || timeline.series(Role::BatteryPower).is_none();
        let sum = |role| sum_of(timeline, grid, role);
        let of_all = |role| sum(role).filter(|_| whole);
        let array = of_all(Role::ArrayPower);
        let (harvest, harvest_how) = match (of_all(Role::ChargePower), &array) {
            (Some(measured), _) => (Some(measured), How::Measured),
            (None, Some(array)) => (
                Some(converted(array, mean_efficiency(design))),
                How::Inferred,
            ),
            (None, None) => (None, How::Inferred),
        };
        let bank_v = one(Role::BatteryVoltage).or_else(|| of_lead(Role::ChargeVoltage));
        let bank_w = one(Role::BatteryPower);
        let bank_a =
            one(Role::BatteryCurrent).or_else(|| Some(amps_of(bank_w.as_ref()?, bank_v.as_ref()?)));
        let charge_v = of_lead(Role::ChargeVoltage);
        let run_mohm = match design.controllers.len() {
            1 => wiring::run_mohm(design, Run::ControllerBattery, 0),
            _ => None,
        };
        let reckoned_v = match (&charge_v, &bank_v, &harvest, run_mohm) {
            (None, Some(bank_v), Some(harvest), Some(mohm)) => {
                Some(beyond_the_run(bank_v, harvest, mohm / 1000.0))
            }
            _ => None,
        };
        Self {
            harvest,
            harvest_how,
            reckoned_v,
            step_s: step_s(timeline),
            unwatched,
            array,
            array_v: of_lead(Role::ArrayVoltage),
            array_a: of_all(Role::ArrayCurrent),
            charge_v,
            charge_a: of_all(Role::ChargeCurrent),
            stage: of_lead(Role::Stage),
            bank_v,
            bank_a,
            bank_w,
            soc: one(Role::Soc),
            bank_c: one(Role::BatteryTemperature),
            air_c: one(Role::AirTemperature),
            irradiance: one(Role::Irradiance),
            route: one(Role::Latitude)
                .zip(one(Role::Longitude))
                .and_then(|(north, east)| Route::new(grid, &north, &east)),
            load_w: one(Role::LoadPower),
            other_a: one(Role::OtherCurrent),
        }
    }

    /// The same with one controller's own side in place of what all of them show together; `gave` is its power, W.
    pub fn of_controller(
        &self,
        timeline: &Timeline,
        grid: &Grid,
        name: &str,
        gave: Folded,
    ) -> Self {
        let own = |role| {
            let channel = timeline.channel_of(role, Some(name))?;
            Some(grid.fold(timeline, &channel.series))
        };
        Self {
            harvest: Some(gave),
            array: own(Role::ArrayPower),
            array_v: own(Role::ArrayVoltage),
            array_a: own(Role::ArrayCurrent),
            charge_v: own(Role::ChargeVoltage),
            charge_a: own(Role::ChargeCurrent),
            stage: own(Role::Stage),
            ..self.clone()
        }
    }

    /// Moments over which the line between two rows mixes what they show: one at least.
    pub fn reach(&self) -> usize {
        (self.step_s / STEP_S as f64).ceil().max(1.0) as usize
    }

    /// The voltage that shows what the controller regulates: its own, else the bank's.
    pub fn regulated_v(&self) -> Option<&Folded> {
        self.charge_v.as_ref().or(self.bank_v.as_ref())
    }

    /// The voltage at the controller's output terminals, which is what it holds: logged, else reckoned from the
    /// bank's, else the bank's.
    pub fn terminal_v(&self) -> Option<&Folded> {
        let own = self.charge_v.as_ref().or(self.reckoned_v.as_ref());
        own.or(self.bank_v.as_ref())
    }

    /// Share of a moment in which anything about the system was read.
    pub fn coverage(&self, moment: usize) -> f64 {
        [&self.harvest, &self.bank_w, &self.bank_v, &self.array]
            .into_iter()
            .flatten()
            .map(|f| f.coverage(moment))
            .fold(0.0, f64::max)
    }

    /// Share of a moment in which the harvest was read (or the bank's power, where that stands in).
    pub fn harvest_coverage(&self, moment: usize) -> f64 {
        self.harvest
            .as_ref()
            .or(self.bank_w.as_ref())
            .map_or(0.0, |f| f.coverage(moment))
    }
}

/// The controller whose voltage and stage stand for all where several were logged: the one that gave most, for
/// one that gives nothing may have no bank to show.
pub fn lead(timeline: &Timeline) -> Option<&str> {
    let gave = |role: Role| {
        let channels = timeline.channels.iter().filter(move |c| c.role == role);
        let of = channels.filter_map(|c| Some((c.controller.as_deref()?, &c.series.in_h)));
        of.map(|(name, in_h)| (name, in_h.iter().sum::<f64>()))
    };
    let most = |role: Role| gave(role).max_by(|a, b| a.1.total_cmp(&b.1));
    let found = most(Role::ChargePower).or_else(|| most(Role::ArrayPower));
    found
        .or_else(|| most(Role::ChargeCurrent))
        .map(|found| found.0)
}

/// The longest step among the rows that show the harvest, else the bank's, s.
fn step_s(timeline: &Timeline) -> f64 {
    let of = |role: Role| {
        let steps = timeline.channels.iter().filter(|c| c.role == role);
        steps.map(|c| c.step_s).max_by(f64::total_cmp)
    };
    let roles = [Role::ChargePower, Role::ArrayPower, Role::BatteryPower];
    roles.into_iter().find_map(of).unwrap_or(0.0)
}

fn sum_of(timeline: &Timeline, grid: &Grid, role: Role) -> Option<Folded> {
    let mut total: Option<Folded> = None;
    for channel in timeline.channels.iter().filter(|c| c.role == role) {
        let folded = grid.fold(timeline, &channel.series);
        match &mut total {
            Some(sum) => sum.add(&folded),
            None => total = Some(folded),
        }
    }
    total
}

/// Controllers without a current or power of their own in the log, where every one that is there is some
/// named controller's; none where a log may be of all of them.
pub fn unwatched(design: &Design, timeline: &Timeline) -> Vec<usize> {
    let shows = |role: Role| {
        matches!(
            role,
            Role::ChargePower | Role::ChargeCurrent | Role::ArrayPower | Role::ArrayCurrent
        )
    };
    let logged: Option<Vec<&str>> = timeline
        .channels
        .iter()
        .filter(|c| shows(c.role))
        .map(|c| c.controller.as_deref())
        .collect();
    let of_some = logged.filter(|names| !names.is_empty() && design.controllers.len() > 1);
    let Some(logged) = of_some else {
        return Vec::new();
    };
    let missing = |c: &Controller| c.name.as_deref().is_none_or(|name| !logged.contains(&name));
    (0..design.controllers.len())
        .filter(|k| missing(&design.controllers[*k]))
        .collect()
}

/// A current by power and voltage; nothing covered where no voltage was read.
fn amps_of(watts: &Folded, volts: &Folded) -> Folded {
    let mut amps = watts.clone();
    for m in 0..amps.covered_s.len() {
        let per_volt = volts.mean(m).filter(|v| *v > 0.0).map_or(0.0, f64::recip);
        amps.in_h[m] *= per_volt;
        amps.out_h[m] *= per_volt;
        if per_volt > 0.0 {
            amps.min[m] *= per_volt as f32;
            amps.max[m] *= per_volt as f32;
        } else {
            (amps.covered_s[m], amps.min[m], amps.max[m]) = (0.0, f32::INFINITY, f32::NEG_INFINITY);
        }
    }
    amps
}

/// A bank's voltage with what a run of so many ohm takes on the way there from the controller.
fn beyond_the_run(bank_v: &Folded, watts: &Folded, ohm: f64) -> Folded {
    let mut volts = bank_v.clone();
    for m in 0..volts.covered_s.len() {
        let (Some(here), Some(watts)) = (bank_v.mean(m), watts.mean(m)) else {
            continue;
        };
        let drop = ohm * watts.max(0.0) / here.max(1.0);
        volts.in_h[m] += drop * f64::from(volts.covered_s[m]) / 3600.0;
        volts.min[m] += drop as f32;
        volts.max[m] += drop as f32;
    }
    volts
}

fn converted(array: &Folded, efficiency: f64) -> Folded {
    let mut out = array.clone();
    for value in out.in_h.iter_mut().chain(out.out_h.iter_mut()) {
        *value *= efficiency;
    }
    out
}

fn mean_efficiency(design: &Design) -> f64 {
    let sum: f64 = design.controllers.iter().map(|c| c.efficiency).sum();
    sum / design.controllers.len().max(1) as f64
}
