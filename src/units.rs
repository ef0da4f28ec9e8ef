//! Spellings of units in logs, the same in all languages but for a few words.

/// Kind of quantity a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Voltage,
    Current,
    Power,
    Energy,
    Charge,
    Percent,
    Temperature,
    Irradiance,
    Duration,
    Angle,
}

impl Kind {
    /// The quantity in words, with its article.
    pub(crate) fn noun(self) -> &'static str {
        match self {
            Kind::Voltage => "a voltage",
            Kind::Current => "a current",
            Kind::Power => "a power",
            Kind::Energy => "an energy",
            Kind::Charge => "a charge",
            Kind::Percent => "a percentage",
            Kind::Temperature => "a temperature",
            Kind::Irradiance => "an irradiance",
            Kind::Duration => "a duration",
            Kind::Angle => "an angle",
        }
    }
}

/// A unit: value in the base unit = cell x factor + offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Unit {
    pub(crate) name: &'static str,
    pub(crate) kind: Kind,
    pub(crate) factor: f64,
    pub(crate) offset: f64,
}

const fn plain(name: &'static str, kind: Kind, factor: f64) -> Unit {
    Unit {
        name,
        kind,
        factor,
        offset: 0.0,
    }
}

/// The unit a text spells, where it spells one.
pub(crate) fn unit(text: &str) -> Option<Unit> {
    let text = text
        .trim()
        .trim_matches(['[', ']', '(', ')', '{', '}'])
        .trim()
        .to_lowercase();
    UNITS
        .iter()
        .find(|u| u.0.contains(&text.as_str()))
        .map(|u| u.1)
}

/// Spellings of units in lower case.
const UNITS: &[(&[&str], Unit)] = &[
    (
        &["v", "volt", "volts", "vdc", "v dc", "voltios"],
        plain("V", Kind::Voltage, 1.0),
    ),
    (
        &["mv", "millivolt", "millivolts", "milivolt"],
        plain("mV", Kind::Voltage, 1e-3),
    ),
    (
        &[
            "a", "amp", "amps", "ampere", "amperes", "ampères", "ampère", "amperios", "adc", "a dc",
        ],
        plain("A", Kind::Current, 1.0),
    ),
    (
        &["ma", "milliamp", "milliamps", "milliampere", "miliamp"],
        plain("mA", Kind::Current, 1e-3),
    ),
    (
        &["w", "watt", "watts", "vatios"],
        plain("W", Kind::Power, 1.0),
    ),
    (
        &["mw", "milliwatt", "milliwatts"],
        plain("mW", Kind::Power, 1e-3),
    ),
    (
        &["kw", "kilowatt", "kilowatts"],
        plain("kW", Kind::Power, 1e3),
    ),
    (&["wh"], plain("Wh", Kind::Energy, 1.0)),
    (&["kwh"], plain("kWh", Kind::Energy, 1e3)),
    (&["mwh"], plain("mWh", Kind::Energy, 1e-3)),
    (&["ah"], plain("Ah", Kind::Charge, 1.0)),
    (&["mah"], plain("mAh", Kind::Charge, 1e-3)),
    (
        &[
            "%",
            "pct",
            "percent",
            "per cent",
            "prozent",
            "pourcent",
            "pour cent",
            "procent",
            "prosent",
            "por ciento",
            "percento",
        ],
        plain("%", Kind::Percent, 1.0),
    ),
    (
        &[
            "c",
            "°c",
            "degc",
            "deg c",
            "celsius",
            "grad c",
            "oc",
            "ºc",
            "deg. c",
            "degrees c",
            "graden c",
            "grader c",
            "gradi c",
            "grados c",
            "graus c",
            "℃",
        ],
        plain("C", Kind::Temperature, 1.0),
    ),
    (
        &["f", "°f", "ºf", "degf", "deg f", "fahrenheit"],
        Unit {
            name: "F",
            kind: Kind::Temperature,
            factor: 5.0 / 9.0,
            offset: -160.0 / 9.0,
        },
    ),
    (
        &["k", "kelvin"],
        Unit {
            name: "K",
            kind: Kind::Temperature,
            factor: 1.0,
            offset: -273.15,
        },
    ),
    (
        &["w/m2", "w/m²", "w/m^2", "wm2", "w m2", "w m-2"],
        plain("W/m2", Kind::Irradiance, 1.0),
    ),
    (&["kw/m2", "kw/m²"], plain("kW/m2", Kind::Irradiance, 1e3)),
    (
        &["s", "sec", "secs", "second", "seconds", "sek"],
        plain("s", Kind::Duration, 1.0),
    ),
    (
        &["ms", "millis", "milliseconds"],
        plain("ms", Kind::Duration, 1e-3),
    ),
    (
        &["us", "\u{b5}s", "\u{3bc}s", "microseconds"],
        plain("us", Kind::Duration, 1e-6),
    ),
    (&["min", "minutes"], plain("min", Kind::Duration, 60.0)),
    (&["h", "hours"], plain("h", Kind::Duration, 3600.0)),
    (&["deg", "°", "degrees"], plain("deg", Kind::Angle, 1.0)),
];
