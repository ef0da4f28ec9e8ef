//! What a design may say about how a log is to be read, where the program cannot find it by itself.
//!
//! Known to the design (which reads it from `[[log]]`) and to the reader (which obeys it); it knows
//! neither.

use std::collections::BTreeMap;
use std::path::PathBuf;

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};

/// What a column of a log means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Each is named by the design file's own key; the table is in the design reference.
pub enum Role {
    Time,
    BatteryVoltage,
    BatteryCurrent,
    BatteryPower,
    Soc,
    BatteryTemperature,
    ArrayVoltage,
    ArrayCurrent,
    ArrayPower,
    ChargeVoltage,
    ChargeCurrent,
    ChargePower,
    Stage,
    LoadCurrent,
    LoadPower,
    OtherCurrent,
    HarvestTotal,
    DayHarvest,
    DayLoad,
    DaySocLow,
    DayVoltsHigh,
    Irradiance,
    AirTemperature,
    Latitude,
    Longitude,
    Ignore,
}

impl Role {
    /// Every role, in the order of the reference.
    pub const ALL: [Role; 26] = [
        Role::Time,
        Role::BatteryVoltage,
        Role::BatteryCurrent,
        Role::BatteryPower,
        Role::Soc,
        Role::BatteryTemperature,
        Role::ArrayVoltage,
        Role::ArrayCurrent,
        Role::ArrayPower,
        Role::ChargeVoltage,
        Role::ChargeCurrent,
        Role::ChargePower,
        Role::Stage,
        Role::LoadCurrent,
        Role::LoadPower,
        Role::OtherCurrent,
        Role::HarvestTotal,
        Role::DayHarvest,
        Role::DayLoad,
        Role::DaySocLow,
        Role::DayVoltsHigh,
        Role::Irradiance,
        Role::AirTemperature,
        Role::Latitude,
        Role::Longitude,
        Role::Ignore,
    ];

    /// The name used in design files, reports and `inspect`.
    pub fn name(self) -> &'static str {
        match self {
            Role::Time => "time",
            Role::BatteryVoltage => "battery_voltage",
            Role::BatteryCurrent => "battery_current",
            Role::BatteryPower => "battery_power",
            Role::Soc => "soc",
            Role::BatteryTemperature => "battery_temperature",
            Role::ArrayVoltage => "array_voltage",
            Role::ArrayCurrent => "array_current",
            Role::ArrayPower => "array_power",
            Role::ChargeVoltage => "charge_voltage",
            Role::ChargeCurrent => "charge_current",
            Role::ChargePower => "charge_power",
            Role::Stage => "stage",
            Role::LoadCurrent => "load_current",
            Role::LoadPower => "load_power",
            Role::OtherCurrent => "other_current",
            Role::HarvestTotal => "harvest_total",
            Role::DayHarvest => "day_harvest",
            Role::DayLoad => "day_load",
            Role::DaySocLow => "day_soc_low",
            Role::DayVoltsHigh => "day_volts_high",
            Role::Irradiance => "irradiance",
            Role::AirTemperature => "air_temperature",
            Role::Latitude => "latitude",
            Role::Longitude => "longitude",
            Role::Ignore => "ignore",
        }
    }

    /// The role of that name.
    pub fn from_name(name: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|r| r.name() == name)
    }
}

/// Where the zone of stamps without one comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum StampZone {
    /// An IANA zone.
    Named(chrono_tz::Tz),
    /// The zone of the place at that moment (`"local"`): follows the legs.
    Local,
}

/// A column named by its header or counted from 1.
#[derive(Debug, Clone, PartialEq)]
pub enum ColumnRef {
    /// Header text.
    Name(String),
    /// Position, the first column is 1.
    Number(usize),
}

/// What the design says of one role's column.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ColumnMap {
    /// One column, or several (date and time apart, or parts of a sum).
    pub columns: Vec<ColumnRef>,
    /// Unit of the cells as written, for instance `mV`.
    pub unit: Option<String>,
    /// Factor applied to the cells.
    pub scale: Option<f64>,
    /// Whether several columns are added up.
    pub add: bool,
    /// Words or numbers in the cells and what they stand for (charging stages).
    pub values: BTreeMap<String, String>,
    /// `"horizontal"` where irradiance was measured flat rather than in the array's plane.
    pub plane: Option<String>,
}

/// The header line of a file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HeaderRef {
    /// Line number, the first line is 1.
    Line(usize),
    /// The file has none.
    None,
}

/// One `[[log]]` entry of a design file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LogEntry {
    /// The owner's name for the log.
    pub name: Option<String>,
    /// Files or glob patterns, relative to the design file.
    pub files: Vec<String>,
    /// The controller whose side the log shows, where there are several.
    pub controller: Option<String>,
    /// Zone of stamps that carry none.
    pub timezone: Option<StampZone>,
    /// `"positive"` or `"negative"`: sign of current into the bank.
    pub charging: Option<String>,
    /// Seconds added to every stamp.
    pub clock_shift_s: f64,
    /// Encoding label, as in the WHATWG list.
    pub encoding: Option<String>,
    /// Cell delimiter.
    pub delimiter: Option<u8>,
    /// Decimal mark, `.` or `,`.
    pub decimal: Option<u8>,
    /// Header line.
    pub header: Option<HeaderRef>,
    /// strftime pattern, or `epoch-s`, `epoch-ms`, `elapsed-s`, `elapsed-hms`.
    pub time_format: Option<String>,
    /// Where elapsed time, or time of day without a date, begins.
    pub start: Option<NaiveDateTime>,
    /// Year of stamps without one.
    pub year: Option<i32>,
    /// Cell texts that mean "no value".
    pub missing: Vec<String>,
    /// Seconds a value stays good in a log written only on change.
    pub hold_s: Option<f64>,
    /// Only rows where this column equals this text.
    pub only: Option<(ColumnRef, String)>,
    /// Columns by role.
    pub columns: BTreeMap<Role, ColumnMap>,
}

/// A `[[log]]` entry as the reader would write it of what it found, for the owner to keep.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Suggestion {
    /// Place of the design's own entry for these files, from 0.
    pub completes: Option<usize>,
    /// The files, as they were asked for.
    pub names: Vec<String>,
    /// Where their bytes are.
    pub paths: Vec<PathBuf>,
    /// What was found and the design does not say yet. `files` is left to whoever knows the
    /// design's folder.
    pub entry: LogEntry,
    /// What only the owner can say: each question with the line that would settle it.
    pub open: Vec<(String, String)>,
}
