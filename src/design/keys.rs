//! Every key of a design file: what it holds, what is possible, and an example.
//!
//! With the settings in `judging.rs` the one list behind decoding, range checks, unknown-key suggestions and `--try`.

use crate::quantity::Dimension;

/// What a key holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// Text with a unit; limits in the dimension's base unit, both allowed.
    Quantity(Dimension, f64, f64),
    /// One such text or twelve.
    QuantityByMonth(Dimension, f64, f64),
    /// A bare number; both limits allowed.
    Number(f64, f64),
    /// One such number or twelve.
    NumberByMonth(f64, f64),
    /// A bare whole number; both limits allowed.
    Count(u32, u32),
    /// Text of one's own, not empty.
    Text,
    /// One of these words.
    Word(&'static [&'static str]),
    /// A conductor's size.
    Wire,
    /// An IANA zone.
    Zone,
    /// An IANA zone or `local`.
    ZoneOrLocal,
    /// A date.
    Date,
    /// A date or a date-time.
    Moment,
    /// One text or a list of them.
    Texts,
    /// A line number or `false`.
    Header,
    /// A section.
    Section,
    /// A section that may be repeated.
    Sections,
    /// A section with keys of its own kind, decoded where it is read.
    Open,
}

/// One key of a design file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// Dotted path; repeated sections carry no index.
    pub path: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// A value, as it stands after the equals sign.
    pub example: &'static str,
}

const fn key(path: &'static str, kind: Kind, example: &'static str) -> Key {
    Key {
        path,
        kind,
        example,
    }
}

/// A lead or lithium bank for a house on wheels stays far below these; they catch slips of the pen
/// (`kW` for `W`, a decimal point lost) and keep sums finite.
const MAX_V: f64 = 1000.0;
const MAX_A: f64 = 5000.0;

use Dimension::{
    Angle, Charge, Current, Duration, Energy, Length, PerDegree, Power, Resistance, Share,
    Temperature, Voltage,
};
use Kind::{
    Count, Date, Header, Moment, Number, NumberByMonth, Open, Quantity, QuantityByMonth, Section,
    Sections, Text, Texts, Wire, Word, Zone, ZoneOrLocal,
};

const VOLTS: Kind = Quantity(Voltage, 0.1, MAX_V);
const AMPS: Kind = Quantity(Current, 0.01, MAX_A);
const AIR: (f64, f64) = (-70.0, 60.0);

/// Every key but the settings of judging, section by section in the order of the reference.
pub const KEYS: &[Key] = &[
    key("system", Section, ""),
    key("system.name", Text, "\"Mail van\""),
    key("system.nominal", Quantity(Voltage, 1.0, 600.0), "\"12 V\""),
    key("place", Section, ""),
    key("place.latitude", Number(-90.0, 90.0), "57.05"),
    key("place.longitude", Number(-180.0, 180.0), "9.92"),
    key(
        "place.altitude",
        Quantity(Length, -500.0, 9000.0),
        "\"10 m\"",
    ),
    key("place.timezone", Zone, "\"Europe/Copenhagen\""),
    key("place.leg", Sections, ""),
    key("place.leg.from", Moment, "2026-05-14"),
    key("place.leg.latitude", Number(-90.0, 90.0), "58.41"),
    key("place.leg.longitude", Number(-180.0, 180.0), "15.62"),
    key(
        "place.leg.altitude",
        Quantity(Length, -500.0, 9000.0),
        "\"10 m\"",
    ),
    key("place.leg.timezone", Zone, "\"Europe/Stockholm\""),
    key("place.leg.tilt", Quantity(Angle, 0.0, 90.0), "\"30 deg\""),
    key(
        "place.leg.facing",
        Quantity(Angle, 0.0, 360.0),
        "\"180 deg\"",
    ),
    key("place.leg.note", Text, "\"by the lake\""),
    key("array", Sections, ""),
    key("array.name", Text, "\"roof\""),
    key("array.controller", Text, "\"roof\""),
    key("array.panels_in_series", Count(1, 1000), "2"),
    key("array.strings_in_parallel", Count(1, 1000), "1"),
    key("array.tilt", Quantity(Angle, 0.0, 90.0), "\"30 deg\""),
    key("array.facing", Quantity(Angle, 0.0, 360.0), "\"180 deg\""),
    key(
        "array.mounting",
        Word(&["rack", "gap", "flush"]),
        "\"flush\"",
    ),
    key("array.allowance", Quantity(Share, 0.3, 1.1), "\"90 %\""),
    key("array.panel", Section, ""),
    key(
        "array.panel.power",
        Quantity(Power, 0.1, 2000.0),
        "\"215 W\"",
    ),
    key("array.panel.vmp", VOLTS, "\"20.2 V\""),
    key("array.panel.imp", AMPS, "\"10.6 A\""),
    key("array.panel.voc", VOLTS, "\"24.3 V\""),
    key("array.panel.isc", AMPS, "\"11.3 A\""),
    key(
        "array.panel.power_per_degree",
        Quantity(PerDegree, -0.01, 0.0),
        "\"-0.35 %\"",
    ),
    key(
        "array.panel.voc_per_degree",
        Quantity(PerDegree, -0.01, 0.0),
        "\"-0.27 %\"",
    ),
    key(
        "array.panel.noct",
        Quantity(Temperature, 30.0, 90.0),
        "\"45 C\"",
    ),
    key("array.panel.max_series_fuse", AMPS, "\"20 A\""),
    key("controller", Sections, ""),
    key("controller.name", Text, "\"roof\""),
    key("controller.method", Word(&["mppt", "pwm"]), "\"mppt\""),
    key("controller.max_input", VOLTS, "\"100 V\""),
    key("controller.max_input_current", AMPS, "\"20 A\""),
    key("controller.max_output", AMPS, "\"50 A\""),
    key(
        "controller.efficiency",
        Quantity(Share, 0.3, 1.0),
        "\"96 %\"",
    ),
    key("controller.absorption", VOLTS, "\"14.2 V\""),
    key(
        "controller.absorption_time",
        Quantity(Duration, 0.0, 172_800.0),
        "\"1 h\"",
    ),
    key("controller.float", VOLTS, "\"13.5 V\""),
    key(
        "controller.compensation",
        Quantity(Voltage, -0.1, 0.0),
        "\"-18 mV\"",
    ),
    key("controller.equalise", VOLTS, "\"15.5 V\""),
    key("battery", Section, ""),
    key(
        "battery.chemistry",
        Word(&["lfp", "agm", "gel", "flooded", "nmc"]),
        "\"lfp\"",
    ),
    key(
        "battery.capacity",
        Quantity(Charge, 0.1, 100_000.0),
        "\"200 Ah\"",
    ),
    key("battery.cells_in_series", Count(1, 400), "4"),
    key("battery.reserve", Quantity(Share, 0.0, 0.95), "\"20 %\""),
    key(
        "battery.full_current",
        Quantity(Share, 0.001, 0.5),
        "\"4 %\"",
    ),
    key("battery.max_days_between_full", Number(1.0, 1000.0), "30"),
    key("battery.max_charge_current", AMPS, "\"100 A\""),
    key(
        "battery.charge_from",
        Quantity(Temperature, -60.0, 40.0),
        "\"0 C\"",
    ),
    key(
        "battery.charge_to",
        Quantity(Temperature, 10.0, 90.0),
        "\"45 C\"",
    ),
    key("battery.load_cut_off", VOLTS, "\"11.5 V\""),
    key("cable", Sections, ""),
    key(
        "cable.run",
        Word(&["array-controller", "controller-battery", "battery-loads"]),
        "\"controller-battery\"",
    ),
    key("cable.controller", Text, "\"roof\""),
    key("cable.length", Quantity(Length, 0.01, 1000.0), "\"6 m\""),
    key("cable.size", Wire, "\"16 mm2\""),
    key(
        "cable.material",
        Word(&["copper", "aluminium", "copper-clad aluminium"]),
        "\"copper\"",
    ),
    key("cable.fuse", AMPS, "\"60 A\""),
    key(
        "cable.joints",
        Quantity(Resistance, 0.0, 1000.0),
        "\"5 mohm\"",
    ),
    key("cable.ampacity", AMPS, "\"80 A\""),
    key("cable.drop_limit", Quantity(Share, 0.0001, 0.5), "\"1 %\""),
    key("cable.return", Word(&["cable", "chassis"]), "\"cable\""),
    key("inverter", Section, ""),
    key("inverter.efficiency", Quantity(Share, 0.3, 1.0), "\"88 %\""),
    key("inverter.idle", Quantity(Power, 0.0, 1000.0), "\"10 W\""),
    key("inverter.hours", Number(0.0, 24.0), "4"),
    key("load", Sections, ""),
    key("load.name", Text, "\"compressor fridge\""),
    key("load.power", Quantity(Power, 0.0, 100_000.0), "\"45 W\""),
    key("load.quantity", Number(0.0, 10_000.0), "1"),
    key("load.hours", Number(0.0, 24.0), "9"),
    key("load.when", Word(&["always", "day", "night"]), "\"always\""),
    key("load.through", Word(&["dc", "inverter"]), "\"dc\""),
    key("charger", Sections, ""),
    key("charger.name", Text, "\"engine\""),
    key(
        "charger.kind",
        Word(&["alternator", "shore", "generator", "wind"]),
        "\"alternator\"",
    ),
    key("charger.current", AMPS, "\"30 A\""),
    key("charger.hours", Number(0.0, 24.0), "1"),
    key("event", Sections, ""),
    key("event.on", Date, "2026-05-20"),
    key("event.note", Text, "\"washed the panels\""),
    key("plan", Section, ""),
    key("plan.sun_hours", NumberByMonth(0.0, 15.0), "4.6"),
    key("plan.harvest", Quantity(Energy, 0.0, 1e7), "\"1500 Wh\""),
    key(
        "plan.record_low",
        Quantity(Temperature, -90.0, 50.0),
        "\"-15 C\"",
    ),
    key(
        "plan.air_temperature",
        QuantityByMonth(Temperature, AIR.0, AIR.1),
        "\"18 C\"",
    ),
    key("judging", Section, ""),
    key("option", Sections, ""),
    key("option.name", Text, "\"third panel\""),
    key("option.cost", Number(0.0, 1e12), "190"),
    key("option.set", Open, "{ \"array.panels_in_series\" = 3 }"),
    key("log", Sections, ""),
    key("log.name", Text, "\"bank monitor\""),
    key("log.files", Texts, "\"logs/bank-*.csv\""),
    key("log.controller", Text, "\"roof\""),
    key("log.timezone", ZoneOrLocal, "\"UTC\""),
    key(
        "log.charging",
        Word(&["positive", "negative"]),
        "\"positive\"",
    ),
    key(
        "log.clock_shift",
        Quantity(Duration, -1e8, 1e8),
        "\"-12 min\"",
    ),
    key("log.encoding", Text, "\"windows-1252\""),
    key("log.delimiter", Text, "\";\""),
    key("log.decimal", Word(&[".", ","]), "\",\""),
    key("log.header", Header, "16"),
    key("log.time_format", Text, "\"%d/%m/%Y %H:%M\""),
    key("log.start", Moment, "2026-05-14T08:00:00"),
    key("log.year", Count(1970, 2200), "2026"),
    key("log.missing", Texts, "[\"-9999\", \"None\"]"),
    key("log.hold", Quantity(Duration, 1.0, 864_000.0), "\"10 min\""),
    key("log.only", Open, "{ column = \"node\", equals = \"3\" }"),
    key("log.columns", Open, "{ time = \"Stamp\" }"),
];

/// Keys without which there is no design.
pub const REQUIRED: [&str; 5] = [
    "place.latitude",
    "place.longitude",
    "array.panel.power",
    "battery.chemistry",
    "battery.capacity",
];

/// Keys without which an entry that may be left out says nothing.
pub const REQUIRED_IN_ENTRIES: [&str; 5] = [
    "place.leg.from",
    "cable.run",
    "event.on",
    "option.set",
    "log.files",
];

/// The key of that path.
pub fn find(path: &str) -> Option<&'static Key> {
    all().find(|k| k.path == path)
}

/// The keys of the reference, then the settings of judging.
pub fn all() -> impl Iterator<Item = &'static Key> {
    KEYS.iter()
        .chain(super::judging::SETTINGS.iter().map(|s| &s.key))
}

/// The known key an unknown path most likely means: the same last word elsewhere, else the
/// nearest spelling in the same section, else the nearest path of all, else one that begins like it.
pub fn nearest(path: &str) -> Option<&'static str> {
    nearest_of(path, |_| true)
}

/// [`nearest`] among the keys that may be meant.
pub fn nearest_of(path: &str, may_be: impl Fn(&Key) -> bool) -> Option<&'static str> {
    let all = || all().filter(|k| may_be(k));
    let wanted = path.to_lowercase();
    let (section, word) = split(&wanted);
    let top = wanted.split('.').next().unwrap_or_default();
    let moved = |k: &&Key| split(k.path).1 == word;
    let same_top = |k: &&Key| k.path.split('.').next() == Some(top);
    let siblings = all().filter(|k| split(k.path).0 == section);
    let within = |found: &str, wanted: &str, limit: usize| {
        let distance = strsim::damerau_levenshtein(found, wanted);
        (distance <= limit).then_some(distance)
    };
    let limit = (word.chars().count() / 3).max(1);
    all()
        .filter(same_top)
        .find(moved)
        .or_else(|| {
            siblings
                .filter_map(|k| within(split(k.path).1, word, limit).map(|d| (d, k)))
                .min_by_key(|found| found.0)
                .map(|found| found.1)
        })
        .or_else(|| all().find(moved))
        .or_else(|| {
            all()
                .filter_map(|k| within(k.path, &wanted, 2).map(|d| (d, k)))
                .min_by_key(|found| found.0)
                .map(|found| found.1)
        })
        .or_else(|| {
            all().find(|k| {
                let (of, known) = split(k.path);
                let rest = known.strip_prefix(word).filter(|_| !word.is_empty());
                of == section && rest.is_some_and(|rest| rest.starts_with('_'))
            })
        })
        .map(|k| k.path)
}

/// The names that may stand in a section (`""`: the top), in the order of the reference.
pub fn members(section: &str) -> Vec<&'static str> {
    all()
        .map(|k| split(k.path))
        .filter(|(of, _)| *of == section)
        .map(|(_, word)| word)
        .collect()
}

/// A path's section and last word.
fn split(path: &str) -> (&str, &str) {
    path.rsplit_once('.').unwrap_or(("", path))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_unique_and_their_sections_are_listed() {
        for (i, k) in all().enumerate() {
            assert!(
                !all().take(i).any(|other| other.path == k.path),
                "{}",
                k.path
            );
            let section = split(k.path).0;
            assert!(section.is_empty() || find(section).is_some(), "{}", k.path);
        }
    }

    #[test]
    fn slips_find_their_key() {
        assert_eq!(nearest("battery.capactiy"), Some("battery.capacity"));
        assert_eq!(nearest("array.power"), Some("array.panel.power"));
        assert_eq!(nearest("batery"), Some("battery"));
        assert_eq!(nearest("Battery.Capacity"), Some("battery.capacity"));
        assert_eq!(nearest("array.colour_of_the_roof"), None);
    }
}
