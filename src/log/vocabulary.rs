//! The vocabulary of the trade, as data: stems of column titles, spellings of units, stage words.
//!
//! Titles are folded before they are looked up (lower case, no accents, single spaces, one space at
//! each end), so a stem with a space at an end only matches at a word boundary there.

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

/// Spellings of units in lower case.
pub(crate) const UNITS: &[(&[&str], Unit)] = &[
    (
        &["v", "volt", "volts", "vdc", "v dc"],
        plain("V", Kind::Voltage, 1.0),
    ),
    (
        &["mv", "millivolt", "millivolts"],
        plain("mV", Kind::Voltage, 1e-3),
    ),
    (
        &["a", "amp", "amps", "ampere", "amperes", "adc"],
        plain("A", Kind::Current, 1.0),
    ),
    (
        &["ma", "milliamp", "milliamps"],
        plain("mA", Kind::Current, 1e-3),
    ),
    (&["w", "watt", "watts"], plain("W", Kind::Power, 1.0)),
    (
        &["mw", "milliwatt", "milliwatts"],
        plain("mW", Kind::Power, 1e-3),
    ),
    (&["kw", "kilowatt"], plain("kW", Kind::Power, 1e3)),
    (&["wh"], plain("Wh", Kind::Energy, 1.0)),
    (&["kwh"], plain("kWh", Kind::Energy, 1e3)),
    (&["mwh"], plain("mWh", Kind::Energy, 1e-3)),
    (&["ah"], plain("Ah", Kind::Charge, 1.0)),
    (&["mah"], plain("mAh", Kind::Charge, 1e-3)),
    (
        &["%", "pct", "percent", "prozent"],
        plain("%", Kind::Percent, 1.0),
    ),
    (
        &["c", "°c", "degc", "deg c", "celsius", "grad c", "oc"],
        plain("C", Kind::Temperature, 1.0),
    ),
    (
        &["f", "°f", "degf", "deg f", "fahrenheit"],
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
    (&["min", "minutes"], plain("min", Kind::Duration, 60.0)),
    (&["h", "hours"], plain("h", Kind::Duration, 3600.0)),
    (&["deg", "°", "degrees"], plain("deg", Kind::Angle, 1.0)),
];

/// Which part of the system a title speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Subject {
    Aside,
    Load,
    Other,
    Array,
    WeakArray,
    Charger,
    Discharge,
    Bank,
    Air,
}

/// Stems in English, German, French, Spanish, Italian, Portuguese, Dutch, Danish, Swedish, Norwegian.
pub(crate) const SUBJECTS: &[(Subject, &[&str])] = &[
    (
        // Things beside the system's own bank, array and loads, and statistics of them.
        Subject::Aside,
        &[
            " cell",
            "zelle",
            "cellule",
            "celda",
            " starter",
            "engine batt",
            "midpoint",
            " aux ",
            "internal",
            "heatsink",
            "setpoint",
            "set point",
            "sollwert",
            "rated",
            "nominal",
            "ir long",
        ],
    ),
    (
        Subject::Load,
        &[
            " load",
            " last ",
            " laststrom",
            "lastspannung",
            "lastleistung",
            "verbrauch",
            "consum",
            "consomm",
            " cargas",
            "carichi",
            "carico",
            "belasting",
            "verbruik",
            "forbrug",
            "forbruk",
            " usage",
        ],
    ),
    (
        Subject::Other,
        &[
            "alternator",
            "lichtmaschine",
            "alternateur",
            "alternador",
            "alternatore",
            "dynamo",
            "shore",
            "landstrom",
            "generator",
            " wind",
            "engine",
            " motor",
            "mains",
            " hydro",
            " other ",
            "netzlade",
            "walstroom",
            "quai",
        ],
    ),
    (
        Subject::Array,
        &[
            " pv",
            "panel",
            "array",
            "module",
            " modul",
            "panneau",
            "pannell",
            "paneel",
            "solcelle",
            "solceller",
            "fotovolt",
            "photovolt",
            " placa",
            "zonnepan",
            "painel",
        ],
    ),
    (
        Subject::WeakArray,
        &["solar", "solaire", " zonne", " sol ", "solpanel"],
    ),
    (
        Subject::Discharge,
        &[
            "discharg", "entlad", "decharg", "descarga", "scarica", "ontlad", "aflad", "urladd",
            "utlad",
        ],
    ),
    (
        Subject::Charger,
        &[
            "charg",
            " lade",
            "laderegler",
            " laad",
            "laad",
            "ladd",
            "lading",
            "ladning",
            " carica ",
            " carga ",
            "controller",
            "regler",
            "regulat",
            "regolatore",
            "regulador",
            " output",
            " chg",
        ],
    ),
    (
        Subject::Bank,
        &[
            "batt",
            "akku",
            "accu",
            " bat ",
            " bat",
            "bateria",
            " bank",
            "shunt",
            " pack",
            "house",
            "bordnetz",
            "batteri",
            "service batt",
        ],
    ),
    (
        Subject::Air,
        &[
            "ambient",
            " air",
            "outside",
            "outdoor",
            "aussen",
            "exterieur",
            "exterior",
            "esterna",
            "buiten",
            "utomhus",
            " ute",
            " ude",
            "umgebung",
            " env",
            "luft",
            "lucht",
            "atmos",
            "ambiante",
            "ambiente",
            "aria",
        ],
    ),
];

/// What a title says was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    Soc,
    Latitude,
    Longitude,
    Irradiance,
    Temperature,
    Voltage,
    Current,
    Power,
    Energy,
    Charge,
    Stage,
}

/// The first that matches counts: phrases before the words they contain.
pub(crate) const QUANTITIES: &[(Quantity, &[&str])] = &[
    (
        Quantity::Soc,
        &[
            " soc ",
            "state of charge",
            "ladezustand",
            "etat de charge",
            "estado de carga",
            "stato di carica",
            "stato carica",
            "laadtoestand",
            "laadniveau",
            "ladetilstand",
            "ladetilstand",
            "laddningsniva",
            "laddniva",
            "charge level",
            "battery percentage",
            "battery level",
            "ladestand",
            "fullungsgrad",
            "ladegrad",
            "nivel de bateria",
            "niveau de batterie",
        ],
    ),
    (
        Quantity::Latitude,
        &[" lat ", "latitude", "breitengrad", "latitud", "breddegrad"],
    ),
    (
        Quantity::Longitude,
        &[
            " lon ",
            " lng ",
            " long ",
            "longitude",
            "langengrad",
            "laengengrad",
            "longitud",
            "lengdegrad",
        ],
    ),
    (
        Quantity::Irradiance,
        &[
            "irradia",
            "einstrahlung",
            "irraggiamento",
            "ensoleillement",
            "zoninstraling",
            "instraling",
            "indstraling",
            "instralning",
            "innstraling",
            "insolation",
            " ghi ",
            " poa ",
        ],
    ),
    (Quantity::Temperature, &["temp", " t "]),
    (
        Quantity::Voltage,
        &[
            "volt",
            "spannung",
            "tension",
            "tensao",
            "spanning",
            "spaending",
            "spenning",
            " u ",
            " v ",
        ],
    ),
    (
        Quantity::Current,
        &[
            "current",
            " amp",
            "strom",
            "courant",
            "intensi",
            "corriente",
            "corrente",
            "stroom",
            " i ",
            " a ",
        ],
    ),
    (
        Quantity::Charge,
        &[
            " ah ",
            " mah ",
            "amp hours",
            "capacity",
            "kapazitat",
            "capacite",
        ],
    ),
    (
        Quantity::Energy,
        &[
            "energy",
            "energie",
            "energia",
            "energi",
            "yield",
            "ertrag",
            "harvest",
            " kwh ",
            " wh ",
            "produktion",
            "production",
            "opbrengst",
            "udbytte",
            "rendimento",
        ],
    ),
    (
        Quantity::Power,
        &[
            "power",
            "watt",
            "leistung",
            "puissance",
            "potencia",
            "potenza",
            "vermogen",
            "effekt",
            "effect",
            " w ",
            " p ",
        ],
    ),
    (
        Quantity::Stage,
        &[
            "stage",
            " state",
            "mode ",
            " mode",
            "phase",
            "status",
            "ladephase",
            "ladestufe",
            "fase",
            "etape",
            "etapa",
            "tilstand",
            "toestand",
            " estado",
            " stato",
            " etat ",
        ],
    ),
];

/// Titles of time columns.
pub(crate) const TIMES: &[&str] = &[
    "time", "zeit", "datum", " date", "stamp", "heure", "horodat", "fecha", " hora", " data ",
    " ora ", " tijd", " tid", " dato", "epoch", " unix", " utc", "elapsed", "seconds", "sekunden",
    " dia ", " day ", " jour", " tag ", "klokke", "uptime", "millis", " t ",
];

/// Titles of running clocks that carry no date.
pub(crate) const ELAPSED: &[&str] = &[
    "elapsed", "rela", "uptime", "seconds", "millis", "laufzeit", " t ", "ecoule", "runtime",
    "run time",
];

/// Titles that speak of the lowest or the highest value of something.
pub(crate) const LOWEST: &[&str] = &[
    " min", "lowest", " low ", "tiefst", "niedrig", "minim", "laagste", "laveste", "lagsta",
];
pub(crate) const HIGHEST: &[&str] = &[
    " max", "highest", " high ", "hochst", "hoechst", "maxim", "hoogste", "hojeste", "hogsta",
    "peak",
];
pub(crate) const MEANS: &[&str] = &[
    " avg",
    "average",
    " mean",
    "mittel",
    "moyen",
    "promedio",
    "gemiddeld",
];

/// Words in the cells of a stage column; the first that matches counts.
pub(crate) const STAGES: &[(f64, &[&str])] = &[
    (
        crate::timeline::stage::FAULT,
        &[
            "fault", "error", "fehler", "stoerung", "storung", "defaut", "fallo", "guasto",
            "storing", "fejl", "alarm",
        ],
    ),
    (
        crate::timeline::stage::OFF,
        &[
            " off",
            " aus",
            "idle",
            "night",
            "nacht",
            "standby",
            "not charg",
            "no charg",
            "discharg",
            "entlad",
            "decharg",
            "descarg",
            "arret",
            "apagado",
            "spento",
            " uit",
            "slukket",
            " av ",
            "ruhe",
            "none",
            "sleep",
            "dark",
        ],
    ),
    (
        crate::timeline::stage::EQUALISE,
        &["equal", "ausgleich", "egalis", "ecualiz", "utjam", "desulf"],
    ),
    (
        crate::timeline::stage::ABSORPTION,
        &[
            "abs",
            "aufnahme",
            "constant voltage",
            " cv ",
            "topping",
            "assorb",
        ],
    ),
    (
        crate::timeline::stage::FLOAT,
        &[
            "float", "erhalt", "flott", "mainten", "flotaci", "flutua", "manten", "druppel",
            "vedlige", "trickle", "storage",
        ],
    ),
    (
        crate::timeline::stage::BULK,
        &[
            "bulk",
            "boost",
            "mppt",
            "haupt",
            "tracking",
            "constant current",
            " cc ",
            "charg",
            "laden",
            "charge",
        ],
    ),
];
