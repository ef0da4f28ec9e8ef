//! The types of a design: every quantity in base units, every default filled in and listed.

use std::collections::BTreeMap;
use std::path::PathBuf;

use chrono::{NaiveDate, NaiveDateTime};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

use super::defaults;
use super::judging::Judging;
use crate::calendar::Calendar;
use crate::mapping::LogEntry;

/// A whole design.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// Path as typed.
    pub file: PathBuf,
    /// Folder that relative log paths start from.
    pub folder: PathBuf,
    /// Name and nominal voltage.
    pub system: System,
    /// Where it stands, leg by leg.
    pub place: Place,
    /// The arrays; at least one.
    pub arrays: Vec<Array>,
    /// The charge controllers; at least one.
    pub controllers: Vec<Controller>,
    /// The bank.
    pub battery: Battery,
    /// Cable runs.
    pub cables: Vec<Cable>,
    /// The inverter, where there is one.
    pub inverter: Option<Inverter>,
    /// The load budget.
    pub loads: Vec<Load>,
    /// Other ways the bank is charged.
    pub chargers: Vec<Charger>,
    /// What the owner did and when.
    pub events: Vec<Event>,
    /// What the owner planned with.
    pub plan: Plan,
    /// Upgrades to weigh.
    pub options: Vec<Upgrade>,
    /// The settings by which findings are decided.
    pub judging: Judging,
    /// How the logs are to be read.
    pub logs: Vec<LogEntry>,
    /// Defaults that were filled in.
    pub assumed: Vec<Assumed>,
}

/// A default that was filled in because the design does not say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Assumed {
    /// Design key, for instance `array.allowance`.
    pub key: String,
    /// The value with its unit.
    pub value: String,
    /// Where it comes from.
    pub why: String,
}

/// Name and nominal voltage.
#[derive(Debug, Clone, PartialEq)]
pub struct System {
    /// The owner's name for the system.
    pub name: String,
    /// Nominal voltage; `None` where neither the design nor the cell count says.
    pub nominal_v: Option<f64>,
}

/// Where the system stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The place that holds until the first leg.
    pub base: Spot,
    /// Later places, ascending by the instant (Unix seconds) from which each holds.
    pub legs: Vec<(i64, Spot)>,
}

/// One place and how the array lies there.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Degrees north, -90 to 90.
    pub latitude_deg: f64,
    /// Degrees east, -180 to 180.
    pub longitude_deg: f64,
    /// Metres above the sea.
    pub altitude_m: f64,
    /// Local zone.
    pub timezone: Tz,
    /// Array tilt there, where the leg overrides the array's own, degrees from flat.
    pub tilt_deg: Option<f64>,
    /// Array bearing there, where the leg overrides the array's own, degrees clockwise from north.
    pub facing_deg: Option<f64>,
    /// The owner's remark.
    pub note: Option<String>,
}

impl Place {
    /// The spot that holds at an instant (Unix seconds).
    pub fn at(&self, instant: i64) -> &Spot {
        let i = self.legs.partition_point(|leg| leg.0 <= instant);
        match i {
            0 => &self.base,
            n => &self.legs[n - 1].1,
        }
    }

    /// Index of the spot that holds at an instant: 0 the base, then the legs.
    pub fn stop_at(&self, instant: i64) -> usize {
        self.legs.partition_point(|leg| leg.0 <= instant)
    }

    /// The local days of the trip.
    pub fn calendar(&self) -> Calendar {
        Calendar::with_changes(
            self.base.timezone,
            self.legs.iter().map(|l| (l.0, l.1.timezone)).collect(),
        )
    }
}

/// How a panel is mounted, which decides how hot it gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Mounting {
    /// Open rack.
    Rack,
    /// An air gap of at least 20 mm.
    Gap,
    /// Flush on a roof.
    Flush,
}

/// One array: equal panels in series and parallel on one controller.
#[derive(Debug, Clone, PartialEq)]
pub struct Array {
    /// Name, where there are several.
    pub name: Option<String>,
    /// Index of its controller in [`Design::controllers`].
    pub controller: usize,
    /// Panels in a string.
    pub panels_in_series: u32,
    /// Strings side by side.
    pub strings_in_parallel: u32,
    /// Degrees from flat.
    pub tilt_deg: f64,
    /// True bearing, degrees clockwise from north.
    pub facing_deg: f64,
    /// Mounting.
    pub mounting: Mounting,
    /// What a healthy array of this kind gives of its label (share).
    pub allowance: f64,
    /// The panel.
    pub panel: Panel,
}

impl Array {
    /// Label power of the whole array, W.
    pub fn power_w(&self) -> f64 {
        self.panel.power_w * f64::from(self.panels_in_series) * f64::from(self.strings_in_parallel)
    }
}

/// A panel's data sheet at standard test conditions. `None`: not stated and not derivable.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Label power, W.
    pub power_w: f64,
    /// Voltage at maximum power, V.
    pub vmp_v: Option<f64>,
    /// Current at maximum power, A.
    pub imp_a: Option<f64>,
    /// Open-circuit voltage, V.
    pub voc_v: Option<f64>,
    /// Short-circuit current, A.
    pub isc_a: Option<f64>,
    /// Power per degree, share (-0.0035 for -0.35 %).
    pub power_per_degree: f64,
    /// Open-circuit voltage per degree, share.
    pub voc_per_degree: f64,
    /// Nominal operating cell temperature as mounted, C.
    pub noct_c: f64,
    /// Largest series fuse, A.
    pub max_series_fuse_a: Option<f64>,
}

/// How a controller takes power from the array.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Method {
    /// Converts: the array works at its best voltage.
    Mppt,
    /// Connects: the array is pulled to the bank's voltage.
    Pwm,
}

/// One charge controller.
#[derive(Debug, Clone, PartialEq)]
pub struct Controller {
    /// Name, where there are several.
    pub name: Option<String>,
    /// Method.
    pub method: Method,
    /// Highest array voltage, V.
    pub max_input_v: Option<f64>,
    /// Highest array current, A.
    pub max_input_a: Option<f64>,
    /// Highest charging current, A.
    pub max_output_a: Option<f64>,
    /// Conversion and tracking, share.
    pub efficiency: f64,
    /// Absorption voltage at 25 C, V.
    pub absorption_v: f64,
    /// Absorption time, h.
    pub absorption_h: Option<f64>,
    /// Float voltage at 25 C, V.
    pub float_v: Option<f64>,
    /// Volts per degree for the system's nominal voltage (negative for lead).
    pub compensation_v_per_c: f64,
    /// Equalising voltage, V (flooded lead only).
    pub equalise_v: Option<f64>,
}

/// Cell chemistry of the bank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Chemistry {
    /// Lithium iron phosphate.
    Lfp,
    /// Lead, absorbed glass mat.
    Agm,
    /// Lead, gel.
    Gel,
    /// Lead, flooded.
    Flooded,
    /// Lithium nickel manganese cobalt.
    Nmc,
}

impl Chemistry {
    /// Lead in any form.
    pub fn is_lead(self) -> bool {
        matches!(self, Chemistry::Agm | Chemistry::Gel | Chemistry::Flooded)
    }

    /// The word used in design files.
    pub fn name(self) -> &'static str {
        match self {
            Chemistry::Lfp => "lfp",
            Chemistry::Agm => "agm",
            Chemistry::Gel => "gel",
            Chemistry::Flooded => "flooded",
            Chemistry::Nmc => "nmc",
        }
    }
}

/// The bank.
#[derive(Debug, Clone, PartialEq)]
pub struct Battery {
    /// Chemistry.
    pub chemistry: Chemistry,
    /// Whole bank at system voltage, 20 h rate, Ah.
    pub capacity_ah: f64,
    /// Cells in series; `None` until the nominal voltage is known from the log.
    pub cells_in_series: Option<u32>,
    /// State of charge the owner means to stay above, %.
    pub reserve_pct: f64,
    /// Full when held at absorption below this, A.
    pub full_current_a: f64,
    /// Longest time between full charges, days.
    pub max_days_between_full: f64,
    /// Highest charging current, A.
    pub max_charge_a: Option<f64>,
    /// Lowest cell temperature for charging, C.
    pub charge_from_c: f64,
    /// Highest cell temperature for charging, C.
    pub charge_to_c: f64,
    /// Voltage at which loads are cut off, V.
    pub load_cut_off_v: Option<f64>,
}

/// Which run a cable makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Run {
    /// Panels to controller.
    ArrayController,
    /// Controller to bank.
    ControllerBattery,
    /// Bank to loads.
    BatteryLoads,
}

impl Run {
    /// The words used in design files.
    pub fn name(self) -> &'static str {
        match self {
            Run::ArrayController => "array-controller",
            Run::ControllerBattery => "controller-battery",
            Run::BatteryLoads => "battery-loads",
        }
    }
}

/// Conductor material.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Material {
    /// Copper.
    Copper,
    /// Aluminium.
    Aluminium,
    /// Copper-clad aluminium.
    CopperCladAluminium,
}

/// A conductor's size as the trade names it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WireSize {
    /// Nominal cross-section, mm2.
    Metric(f64),
    /// American wire gauge; 0 for 1/0, -1 for 2/0, -2 for 3/0, -3 for 4/0.
    Awg(i32),
}

/// One cable run.
#[derive(Debug, Clone, PartialEq)]
pub struct Cable {
    /// Which run.
    pub run: Run,
    /// Controller (index) the run belongs to, where there are several.
    pub controller: Option<usize>,
    /// One way, m.
    pub length_m: f64,
    /// Size.
    pub size: WireSize,
    /// Material.
    pub material: Material,
    /// Fuse in the run, A.
    pub fuse_a: Option<f64>,
    /// Fuses, switches and lugs of the run, mohm.
    pub joints_mohm: f64,
    /// Whether `joints` was given rather than assumed.
    pub joints_given: bool,
    /// Ampacity from data sheet or local code, A.
    pub ampacity_a: Option<f64>,
    /// Largest drop the owner accepts, share of the voltage the contract names for the run.
    pub drop_limit: f64,
    /// Whether `drop_limit` was given rather than assumed.
    pub drop_limit_given: bool,
    /// Whether the chassis is the return conductor.
    pub chassis_return: bool,
}

/// The inverter.
#[derive(Debug, Clone, PartialEq)]
pub struct Inverter {
    /// Conversion, share.
    pub efficiency: f64,
    /// Draw with nothing connected, W.
    pub idle_w: f64,
    /// Hours a day it is switched on.
    pub hours: f64,
}

/// When a load runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum When {
    /// Spread over 24 hours.
    Always,
    /// By daylight.
    Day,
    /// In the dark.
    Night,
}

/// One line of the load budget.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Name.
    pub name: String,
    /// W while running.
    pub power_w: f64,
    /// How many.
    pub quantity: f64,
    /// Running hours a day.
    pub hours: f64,
    /// When.
    pub when: When,
    /// Whether it hangs on the inverter.
    pub through_inverter: bool,
}

/// Another way the bank is charged.
#[derive(Debug, Clone, PartialEq)]
pub struct Charger {
    /// Name.
    pub name: String,
    /// `alternator`, `shore`, `generator` or `wind`.
    pub kind: String,
    /// Charging current, A.
    pub current_a: Option<f64>,
    /// Hours a day it runs, for options that add to what was logged.
    pub hours: Option<f64>,
}

/// What the owner did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// Day.
    pub on: NaiveDate,
    /// What.
    pub note: String,
}

/// What the owner planned with.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plan {
    /// Peak sun hours a day in the array's plane, one value for each month.
    pub sun_hours: Option<[f64; 12]>,
    /// Planned harvest, Wh a day, instead of the computed one.
    pub harvest_wh: Option<f64>,
    /// Record low, C.
    pub record_low_c: Option<f64>,
    /// Air temperature by month, C.
    pub air_c: [f64; 12],
}

/// A change by design key, for instance `array.panels_in_series` to 3.
pub type Changes = BTreeMap<String, toml::Value>;

/// An upgrade to weigh.
#[derive(Debug, Clone, PartialEq)]
pub struct Upgrade {
    /// Name.
    pub name: String,
    /// Cost, in the owner's money.
    pub cost: Option<f64>,
    /// What it changes.
    pub set: Changes,
}

/// Arrays that lie flatter or steeper, or turned, by less than this look the same way, degrees: an owner's
/// own error with a level and a compass.
const ALIKE_DEG: f64 = 10.0;

impl Design {
    /// Whether any two arrays look clearly different ways.
    pub fn arrays_look_apart(&self) -> bool {
        let arrays = &self.arrays;
        arrays.iter().enumerate().any(|(k, one)| {
            arrays[..k].iter().any(|other| {
                let turned = (one.facing_deg - other.facing_deg + 540.0).rem_euclid(360.0) - 180.0;
                // A flat array looks the same way whatever it faces.
                let lean = one.tilt_deg.min(other.tilt_deg).to_radians().sin();
                (one.tilt_deg - other.tilt_deg).abs() > ALIKE_DEG || turned.abs() * lean > ALIKE_DEG
            })
        })
    }

    /// Label power of all arrays, W.
    pub fn array_w(&self) -> f64 {
        self.arrays.iter().map(Array::power_w).sum()
    }

    /// The cable of a run, for a controller where there are several.
    pub fn cable(&self, run: Run, controller: usize) -> Option<&Cable> {
        self.cables_of(run, controller).next()
    }

    /// Every cable of a run, for a controller where there are several.
    pub fn cables_of(&self, run: Run, controller: usize) -> impl Iterator<Item = &Cable> {
        self.cables
            .iter()
            .filter(move |c| c.run == run && c.controller.is_none_or(|i| i == controller))
    }

    /// The same system with one of its controllers alone, and what hangs on that.
    pub fn of_controller(&self, controller: usize) -> Self {
        let mut alone = self.clone();
        alone.controllers = vec![self.controllers[controller].clone()];
        alone.arrays.retain(|array| array.controller == controller);
        for array in &mut alone.arrays {
            array.controller = 0;
        }
        let own = |of: Option<usize>| of.is_none_or(|one| one == controller);
        alone.cables.retain(|cable| own(cable.controller));
        for cable in &mut alone.cables {
            cable.controller = None;
        }
        alone
    }

    /// Nominal voltage, 12 V where nothing says.
    pub fn nominal_v(&self) -> f64 {
        self.system.nominal_v.unwrap_or(12.0)
    }

    /// Cells of the bank in series: as stated, else the usual number for its kind and voltage.
    pub fn cells(&self) -> f64 {
        let usual = || defaults::cells_for(self.battery.chemistry, self.nominal_v());
        f64::from(self.battery.cells_in_series.unwrap_or_else(usual))
    }
}

/// A place in time as written in a design: a date, or a date with a time of day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moment {
    /// Local midnight of a date.
    Day(NaiveDate),
    /// Local wall clock.
    Wall(NaiveDateTime),
}
