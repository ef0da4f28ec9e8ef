//! The units owners write, and what each is.

use super::Dimension;

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Measures {
    /// A dimension this program knows.
    Known(Dimension),
    /// Something else, named only to say so in an error ("a mass").
    Other(&'static str),
}

/// A unit: `base = written * factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unit {
    /// As written.
    pub(super) name: &'static str,
    /// What it measures.
    pub(super) measures: Measures,
    /// Factor to the base unit.
    pub(super) factor: f64,
    /// Offset in the base unit (temperatures only).
    pub(super) offset: f64,
}

const fn unit(name: &'static str, dimension: Dimension, factor: f64) -> Unit {
    Unit {
        name,
        measures: Measures::Known(dimension),
        factor,
        offset: 0.0,
    }
}

const fn degrees(name: &'static str, factor: f64, offset: f64) -> Unit {
    Unit {
        name,
        measures: Measures::Known(Dimension::Temperature),
        factor,
        offset,
    }
}

const fn other(name: &'static str, what: &'static str) -> Unit {
    Unit {
        name,
        measures: Measures::Other(what),
        factor: 1.0,
        offset: 0.0,
    }
}

use Dimension::{
    Angle, Area, Charge, Current, Duration, Energy, Length, PerDegree, Power, Resistance, Share,
    Voltage,
};

/// 0 F in C.
const ZERO_F_IN_C: f64 = -160.0 / 9.0;

/// Every unit; a name may stand under several dimensions.
const UNITS: &[Unit] = &[
    unit("V", Voltage, 1.0),
    unit("mV", Voltage, 1e-3),
    unit("kV", Voltage, 1e3),
    unit("volt", Voltage, 1.0),
    unit("volts", Voltage, 1.0),
    unit("A", Current, 1.0),
    unit("mA", Current, 1e-3),
    unit("kA", Current, 1e3),
    unit("amp", Current, 1.0),
    unit("amps", Current, 1.0),
    unit("W", Power, 1.0),
    unit("mW", Power, 1e-3),
    unit("kW", Power, 1e3),
    unit("Wp", Power, 1.0),
    unit("kWp", Power, 1e3),
    unit("watt", Power, 1.0),
    unit("watts", Power, 1.0),
    unit("Wh", Energy, 1.0),
    unit("mWh", Energy, 1e-3),
    unit("kWh", Energy, 1e3),
    unit("Ah", Charge, 1.0),
    unit("mAh", Charge, 1e-3),
    unit("kAh", Charge, 1e3),
    unit("m", Length, 1.0),
    unit("cm", Length, 1e-2),
    unit("mm", Length, 1e-3),
    unit("km", Length, 1e3),
    unit("ft", Length, 0.3048),
    unit("foot", Length, 0.3048),
    unit("feet", Length, 0.3048),
    unit("'", Length, 0.3048),
    unit("in", Length, 0.0254),
    unit("inch", Length, 0.0254),
    unit("inches", Length, 0.0254),
    degrees("C", 1.0, 0.0),
    degrees("°C", 1.0, 0.0),
    degrees("degC", 1.0, 0.0),
    degrees("℃", 1.0, 0.0),
    degrees("F", 5.0 / 9.0, ZERO_F_IN_C),
    degrees("°F", 5.0 / 9.0, ZERO_F_IN_C),
    degrees("degF", 5.0 / 9.0, ZERO_F_IN_C),
    degrees("℉", 5.0 / 9.0, ZERO_F_IN_C),
    degrees("K", 1.0, -273.15),
    unit("ohm", Resistance, 1e3),
    unit("ohms", Resistance, 1e3),
    unit("\u{3a9}", Resistance, 1e3),
    unit("\u{2126}", Resistance, 1e3),
    unit("mohm", Resistance, 1.0),
    unit("m\u{3a9}", Resistance, 1.0),
    unit("m\u{2126}", Resistance, 1.0),
    unit("milliohm", Resistance, 1.0),
    unit("s", Duration, 1.0),
    unit("sec", Duration, 1.0),
    unit("min", Duration, 60.0),
    unit("h", Duration, 3600.0),
    unit("hour", Duration, 3600.0),
    unit("hours", Duration, 3600.0),
    unit("d", Duration, 86_400.0),
    unit("day", Duration, 86_400.0),
    unit("days", Duration, 86_400.0),
    unit("%", Share, 0.01),
    unit("%", PerDegree, 0.01),
    unit("%/C", PerDegree, 0.01),
    unit("%/°C", PerDegree, 0.01),
    unit("%/K", PerDegree, 0.01),
    unit("deg", Angle, 1.0),
    unit("degree", Angle, 1.0),
    unit("degrees", Angle, 1.0),
    unit("°", Angle, 1.0),
    unit("mm2", Area, 1.0),
    unit("mm²", Area, 1.0),
    unit("mm^2", Area, 1.0),
    other("kg", "a mass"),
    other("g", "a mass"),
    other("lb", "a mass"),
    other("t", "a mass"),
    other("l", "a volume"),
    other("L", "a volume"),
    other("gal", "a volume"),
    other("Hz", "a frequency"),
    other("VA", "an apparent power"),
    other("J", "an energy in joules"),
    other("kJ", "an energy in joules"),
    other("MJ", "an energy in joules"),
    other("hp", "a horsepower figure"),
    other("AWG", "a wire gauge"),
    other("W/m2", "an irradiance"),
    other("km/h", "a speed"),
    other("m/s", "a speed"),
];

/// The unit of that name in a dimension. Capitals are forgiven unless they would turn milli into
/// mega.
pub(super) fn find(name: &str, dimension: Dimension) -> Option<&'static Unit> {
    let mut fitting = UNITS
        .iter()
        .filter(|u| u.measures == Measures::Known(dimension));
    let exact = fitting.clone().find(|u| u.name == name);
    if exact.is_some() || name.starts_with('M') {
        return exact;
    }
    fitting.find(|u| u.name.eq_ignore_ascii_case(name))
}

/// What a unit measures when it does not fit the dimension asked for.
pub(super) fn elsewhere(name: &str) -> Option<Measures> {
    let exact = UNITS.iter().find(|u| u.name == name);
    exact
        .or_else(|| UNITS.iter().find(|u| u.name.eq_ignore_ascii_case(name)))
        .map(|u| u.measures)
}

/// The unit names of a dimension, as the tables list them.
pub(super) fn names(dimension: Dimension) -> impl Iterator<Item = &'static str> {
    UNITS
        .iter()
        .filter(move |u| u.measures == Measures::Known(dimension))
        .map(|u| u.name)
}
