//! The vocabulary of the trade, as data: what column titles, units and stage words mean.
//!
//! Titles are folded first (lower case, no accents, single spaces, one space at each end), so a
//! stem with a space at an end only matches at a word boundary there.

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
    Unit { name, kind, factor, offset: 0.0 }
}

/// Spellings of units in lower case.
const UNITS: &[(&[&str], Unit)] = &[
    (&["v", "volt", "volts", "vdc", "v dc"], plain("V", Kind::Voltage, 1.0)),
    (&["mv", "millivolt", "millivolts"], plain("mV", Kind::Voltage, 1e-3)),
    (&["a", "amp", "amps", "ampere", "amperes", "adc"], plain("A", Kind::Current, 1.0)),
    (&["ma", "milliamp", "milliamps"], plain("mA", Kind::Current, 1e-3)),
    (&["w", "watt", "watts"], plain("W", Kind::Power, 1.0)),
    (&["mw", "milliwatt", "milliwatts"], plain("mW", Kind::Power, 1e-3)),
    (&["kw", "kilowatt"], plain("kW", Kind::Power, 1e3)),
    (&["wh"], plain("Wh", Kind::Energy, 1.0)),
    (&["kwh"], plain("kWh", Kind::Energy, 1e3)),
    (&["mwh"], plain("mWh", Kind::Energy, 1e-3)),
    (&["ah"], plain("Ah", Kind::Charge, 1.0)),
    (&["mah"], plain("mAh", Kind::Charge, 1e-3)),
    (&["%", "pct", "percent", "prozent"], plain("%", Kind::Percent, 1.0)),
    (&["c", "°c", "degc", "deg c", "celsius", "grad c", "oc"], plain("C", Kind::Temperature, 1.0)),
    (
        &["f", "°f", "degf", "deg f", "fahrenheit"],
        Unit { name: "F", kind: Kind::Temperature, factor: 5.0 / 9.0, offset: -160.0 / 9.0 },
    ),
    (
        &["k", "kelvin"],
        Unit { name: "K", kind: Kind::Temperature, factor: 1.0, offset: -273.15 },
    ),
    (&["w/m2", "w/m²", "w/m^2", "wm2", "w m2", "w m-2"], plain("W/m2", Kind::Irradiance, 1.0)),
    (&["kw/m2", "kw/m²"], plain("kW/m2", Kind::Irradiance, 1e3)),
    (&["s", "sec", "secs", "second", "seconds", "sek"], plain("s", Kind::Duration, 1.0)),
    (&["ms", "millis", "milliseconds"], plain("ms", Kind::Duration, 1e-3)),
    (&["min", "minutes"], plain("min", Kind::Duration, 60.0)),
    (&["h", "hours"], plain("h", Kind::Duration, 3600.0)),
    (&["deg", "°", "degrees"], plain("deg", Kind::Angle, 1.0)),
];

/// The unit a text spells, where it spells one.
pub(crate) fn unit(text: &str) -> Option<Unit> {
    let text = text.trim().trim_matches(['[', ']', '(', ')', '{', '}']).trim().to_lowercase();
    UNITS.iter().find(|u| u.0.contains(&text.as_str())).map(|u| u.1)
}

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
const SUBJECTS: &[(Subject, &[&str])] = &[
    (
        // Things beside the system's own bank, array and loads, and statistics of them.
        Subject::Aside,
        &[
            " cell", "zelle", "cellule", "celda", " starter", "engine batt", "midpoint", " aux ",
            "internal", "heatsink", "setpoint", "set point", "sollwert", "rated", "nominal",
            "ir long",
        ],
    ),
    (
        Subject::Load,
        &[
            " load", " last ", " laststrom", "lastspannung", "lastleistung", "verbrauch", "consum",
            "consomm", " cargas", "carichi", "carico", "belasting", "verbruik", "forbrug",
            "forbruk", " usage",
        ],
    ),
    (
        Subject::Other,
        &[
            "alternator", "lichtmaschine", "alternateur", "alternador", "alternatore", "dynamo",
            "shore", "landstrom", "generator", " wind", "engine", " motor", "mains", " hydro",
            " other ", "netzlade", "walstroom", "quai",
        ],
    ),
    (
        Subject::Array,
        &[
            " pv", "panel", "array", "module", " modul", "panneau", "pannell", "paneel", "solcelle",
            "solceller", "fotovolt", "photovolt", " placa", "zonnepan", "painel",
        ],
    ),
    (Subject::WeakArray, &["solar", "solaire", " zonne", " sol ", "solpanel"]),
    (
        Subject::Discharge,
        &["discharg", "entlad", "decharg", "descarga", "scarica", "ontlad", "aflad", "urladd", "utlad"],
    ),
    (
        Subject::Charger,
        &[
            "charg", " lade", "laderegler", " laad", "laad", "ladd", "lading", "ladning", " carica ",
            " carga ", "controller", "regler", "regulat", "regolatore", "regulador", " output",
            " chg",
        ],
    ),
    (
        Subject::Bank,
        &[
            "batt", "akku", "accu", " bat ", " bat", "bateria", " bank", "shunt", " pack", "house",
            "bordnetz", "batteri", "service batt",
        ],
    ),
    (
        Subject::Air,
        &[
            "ambient", " air", "outside", "outdoor", "aussen", "exterieur", "exterior", "esterna",
            "buiten", "utomhus", " ute", " ude", "umgebung", " env", "luft", "lucht", "atmos",
            "ambiante", "ambiente", "aria",
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
const QUANTITIES: &[(Quantity, &[&str])] = &[
    (
        Quantity::Soc,
        &[
            " soc ", "state of charge", "ladezustand", "etat de charge", "estado de carga",
            "stato di carica", "stato carica", "laadtoestand", "laadniveau", "ladetilstand", "ladetilstand",
            "laddningsniva", "laddniva", "charge level", "battery percentage", "battery level",
            "ladestand", "fullungsgrad", "ladegrad", "nivel de bateria", "niveau de batterie",
        ],
    ),
    (Quantity::Latitude, &[" lat ", "latitude", "breitengrad", "latitud", "breddegrad"]),
    (
        Quantity::Longitude,
        &[" lon ", " lng ", " long ", "longitude", "langengrad", "laengengrad", "longitud", "lengdegrad"],
    ),
    (
        Quantity::Irradiance,
        &[
            "irradia", "einstrahlung", "irraggiamento", "ensoleillement", "zoninstraling",
            "instraling", "indstraling", "instralning", "innstraling", "insolation", " ghi ", " poa ",
        ],
    ),
    (Quantity::Temperature, &["temp"]),
    (
        Quantity::Voltage,
        &[
            "volt", "spannung", "tension", "tensao", "spanning", "spaending", "spenning",
            " u ", " v ",
        ],
    ),
    (
        Quantity::Current,
        &[
            "current", " amp", "strom", "courant", "intensi", "corriente", "corrente", "stroom",
            " i ", " a ",
        ],
    ),
    (Quantity::Charge, &[" ah ", " mah ", "amp hours", "capacity", "kapazitat", "capacite"]),
    (
        Quantity::Energy,
        &[
            "energy", "energie", "energia", "energi", "yield", "ertrag", "harvest", " kwh ", " wh ",
            "produktion", "production", "opbrengst", "udbytte", "rendimento",
        ],
    ),
    (
        Quantity::Power,
        &[
            "power", "watt", "leistung", "puissance", "potencia", "potenza", "vermogen", "effekt",
            "effect", " w ", " p ",
        ],
    ),
    (
        Quantity::Stage,
        &[
            "stage", " state", "mode ", " mode", "phase", "status", "ladephase", "ladestufe",
            " fase", "tilstand", "toestand", " estado", " stato", " etat ",
        ],
    ),
];

/// Titles of time columns.
const TIMES: &[&str] = &[
    "time", "zeit", "datum", " date", "stamp", "heure", "horodat", "fecha", " hora", " data ",
    " ora ", " tijd", " tid", " dato", "epoch", " unix", " utc", "elapsed", "seconds", "sekunden",
    " dia ", " day ", " jour", " tag ", "klokke", "uptime", "millis", " t ",
];

/// Titles of running clocks that carry no date.
const ELAPSED: &[&str] = &["elapsed", "rela", "uptime", "seconds", "millis", "laufzeit", " t ", "ecoule", "runtime", "run time"];

/// Titles that speak of the lowest or the highest value of something.
const LOWEST: &[&str] = &[" min", "lowest", " low ", "tiefst", "niedrig", "minim", "laagste", "laveste", "lagsta"];
const HIGHEST: &[&str] = &[" max", "highest", " high ", "hochst", "hoechst", "maxim", "hoogste", "hojeste", "hogsta", "peak"];
const MEANS: &[&str] = &[" avg", "average", " mean", "mittel", "moyen", "promedio", "gemiddeld"];

/// Words in the cells of a stage column; the first that matches counts.
const STAGES: &[(f64, &[&str])] = &[
    (
        crate::timeline::stage::FAULT,
        &["fault", "error", "fehler", "stoerung", "storung", "defaut", "fallo", "guasto", "storing", "fejl", "alarm"],
    ),
    (
        crate::timeline::stage::OFF,
        &[
            " off", " aus", "idle", "night", "nacht", "standby", "not charg", "no charg", "discharg",
            "entlad", "decharg", "descarg", "arret", "apagado", "spento", " uit", "slukket", " av ",
            "ruhe", "none", "sleep", "dark",
        ],
    ),
    (crate::timeline::stage::EQUALISE, &["equal", "ausgleich", "egalis", "ecualiz", "utjam", "desulf"]),
    (crate::timeline::stage::ABSORPTION, &["abs", "aufnahme", "constant voltage", " cv ", "topping", "assorb"]),
    (
        crate::timeline::stage::FLOAT,
        &["float", "erhalt", "flott", "mainten", "flotaci", "flutua", "manten", "druppel", "vedlige", "trickle", "storage"],
    ),
    (
        crate::timeline::stage::BULK,
        &["bulk", "boost", "mppt", "haupt", "tracking", "constant current", " cc ", "charg", "laden", "charge"],
    ),
];

/// What a column title was understood to say.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Meaning {
    pub(crate) quantity: Option<Quantity>,
    pub(crate) subjects: Vec<Subject>,
    pub(crate) unit: Option<Unit>,
    pub(crate) lowest: bool,
    pub(crate) highest: bool,
    pub(crate) time: bool,
    pub(crate) elapsed: bool,
    /// The folded title without its unit.
    pub(crate) folded: String,
    /// The quantity is said in words, in a title of at most three words.
    pub(crate) generic: bool,
}

impl Meaning {
    pub(crate) fn is(&self, subject: Subject) -> bool {
        self.subjects.contains(&subject)
    }
}

fn any(folded: &str, stems: &[&str]) -> bool {
    stems.iter().any(|s| folded.contains(s))
}

/// Lower case, accents off, words apart, a space at each end.
pub(crate) fn fold(title: &str) -> String {
    let chars: Vec<char> = title.trim().chars().collect();
    let mut out = String::from(" ");
    let mut run = 0_usize;
    for (k, &c) in chars.iter().enumerate() {
        if !c.is_alphanumeric() && c != '%' && c != '°' {
            run = 0;
            if !out.ends_with(' ') {
                out.push(' ');
            }
            continue;
        }
        let next_lower = chars.get(k + 1).is_some_and(|n| n.is_lowercase());
        let last = chars.get(k + 1).is_none_or(|n| !n.is_alphanumeric());
        let after_lower = k > 0 && chars[k - 1].is_lowercase();
        let after_upper = k > 0 && chars[k - 1].is_uppercase();
        // A new word inside one: batteryVoltage, PVPower, VBat, battV; but not SoC, kWh, mA.
        let splits = c.is_uppercase()
            && ((after_lower && ((next_lower && run >= 2) || (last && run >= 3)))
                || (after_upper && next_lower && !is_short_unit(&chars[k..])));
        if splits && !out.ends_with(' ') {
            out.push(' ');
            run = 0;
        }
        run += 1;
        plain_letters(c, &mut out);
    }
    if !out.ends_with(' ') {
        out.push(' ');
    }
    out
}

/// Whether these letters are a unit of energy or charge rather than the start of a word.
fn is_short_unit(rest: &[char]) -> bool {
    rest.get(1) == Some(&'h') && rest.get(2).is_none_or(|c| !c.is_alphanumeric())
}

fn plain_letters(c: char, out: &mut String) {
    for c in c.to_lowercase() {
        match c {
            'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' => out.push('a'),
            'è' | 'é' | 'ê' | 'ë' => out.push('e'),
            'ì' | 'í' | 'î' | 'ï' => out.push('i'),
            'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' => out.push('o'),
            'ù' | 'ú' | 'û' | 'ü' => out.push('u'),
            'ç' => out.push('c'),
            'ñ' => out.push('n'),
            'æ' => out.push_str("ae"),
            'ß' => out.push_str("ss"),
            c => out.push(c),
        }
    }
}

/// The unit written in a title: in brackets, behind a slash, or as its last word.
fn unit_in(title: &str) -> Option<(String, Unit)> {
    for (open, close) in [('[', ']'), ('(', ')'), ('{', '}')] {
        if let (Some(from), Some(to)) = (title.rfind(open), title.rfind(close))
            && from < to
            && let Some(found) = unit(&title[from + 1..to])
        {
            return Some((format!("{} {}", &title[..from], &title[to + close.len_utf8()..]), found));
        }
    }
    if let Some(at) = title.find(" in ").or_else(|| title.find('/')) {
        let tail = title[at..].trim_start_matches(" in ").trim_start_matches('/');
        if let Some(found) = unit(tail) {
            return Some((title[..at].to_owned(), found));
        }
    }
    let at = title.rfind(['_', ' ', '.', ','])?;
    let found = unit(&title[at + 1..])?;
    Some((title[..at].to_owned(), found))
}

/// Letters before a subject: Vbat, Ipv, Uload, Ppanel.
fn lettered(folded: &str) -> Option<(Quantity, String)> {
    const PARTS: &[&str] = &["bat", "pv", "sol", "load", "last", "panel", "chg", "akku", "accu", "arr", "in ", "lad"];
    for word in folded.split(' ').filter(|w| w.len() >= 3 && w.is_ascii()) {
        let quantity = match word.as_bytes()[0] {
            b'v' | b'u' => Quantity::Voltage,
            b'i' => Quantity::Current,
            b'p' => Quantity::Power,
            _ => continue,
        };
        let rest = &word[1..];
        if PARTS.iter().any(|p| rest.starts_with(p)) && !word.starts_with("pv") {
            return Some((quantity, format!(" {rest} ")));
        }
    }
    None
}

/// What a column title says.
pub(crate) fn meaning(title: &str) -> Meaning {
    let (bare, unit) = match unit_in(title) {
        Some((bare, unit)) => (bare, Some(unit)),
        None => (title.to_owned(), None),
    };
    let whole = fold(title);
    let mut folded = fold(&bare);
    if folded.trim().is_empty() {
        folded.clone_from(&whole);
    }
    let mut quantity = None;
    if let Some((found, rest)) = lettered(&folded) {
        quantity = Some(found);
        folded.push_str(&rest);
    }
    let subjects: Vec<Subject> =
        SUBJECTS.iter().filter(|s| any(&folded, s.1)).map(|s| s.0).collect();
    let said = QUANTITIES.iter().any(|q| any(&folded, q.1));
    let mut worded = QUANTITIES.iter().find(|q| any(&folded, q.1)).map(|q| q.0);
    if worded.is_none_or(|w| w == Quantity::Stage) && unit.is_some() {
        worded = unit.and_then(|u| of_kind(u, &subjects)).or(worded);
    }
    // A unit that contradicts the word wins where both are electrical: "battery charge (V)".
    if let (Some(word), Some(found)) = (worded, unit.and_then(|u| of_kind(u, &subjects)))
        && word != found
        && !matches!(word, Quantity::Soc | Quantity::Latitude | Quantity::Longitude)
    {
        worded = Some(found);
    }
    if worded.is_none() && folded.contains('%') && subjects.contains(&Subject::Bank) {
        worded = Some(Quantity::Soc);
    }
    let mean = any(&whole, MEANS) && false_means(&whole);
    let mut subjects = subjects;
    if matches!(worded, Some(Quantity::Latitude | Quantity::Longitude)) && unit.is_some_and(|u| u.kind != Kind::Angle) {
        worded = None;
    }
    if mean {
        subjects.push(Subject::Aside);
    }
    Meaning {
        quantity: quantity.or(worded),
        subjects,
        unit,
        lowest: any(&whole, LOWEST) && !whole.contains(" minut"),
        highest: any(&whole, HIGHEST),
        time: any(&whole, TIMES) && !whole.contains("temp"),
        elapsed: any(&whole, ELAPSED),
        generic: said && is_generic(&folded),
        folded,
    }
}

/// A title with nothing in it but a quantity: one word, or up to three without lone letters.
fn is_generic(folded: &str) -> bool {
    let words: Vec<&str> = folded.split_whitespace().collect();
    words.len() == 1 || (words.len() <= 3 && words.iter().all(|w| w.chars().count() > 1))
}

/// Means over the logging interval are as good as samples; long means are not.
fn false_means(whole: &str) -> bool {
    ["day", "24", "week", "hour"].iter().any(|w| whole.contains(w))
}

fn of_kind(unit: Unit, subjects: &[Subject]) -> Option<Quantity> {
    match unit.kind {
        Kind::Voltage => Some(Quantity::Voltage),
        Kind::Current => Some(Quantity::Current),
        Kind::Power => Some(Quantity::Power),
        Kind::Energy => Some(Quantity::Energy),
        Kind::Charge => Some(Quantity::Charge),
        Kind::Percent if subjects.contains(&Subject::Bank) => Some(Quantity::Soc),
        Kind::Temperature => Some(Quantity::Temperature),
        Kind::Irradiance => Some(Quantity::Irradiance),
        Kind::Percent | Kind::Duration | Kind::Angle => None,
    }
}

/// The stage code a word in a cell stands for.
pub(crate) fn stage(word: &str) -> Option<f64> {
    let folded = fold(word);
    STAGES.iter().find(|s| any(&folded, s.1)).map(|s| s.0)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn words_apart() {
        assert_eq!(fold("batteryVoltage"), " battery voltage ");
        assert_eq!(fold("SoC"), " soc ");
        assert_eq!(fold("PVPower_kWh"), " pv power kwh ");
        assert_eq!(fold("Batteriespänning"), " batteriespanning ");
    }

    #[test]
    fn titles_in_ten_languages_name_the_battery_voltage() {
        for title in [
            "Battery voltage", "Batteriespannung [V]", "Tension batterie (V)", "Voltaje de batería",
            "Tensione batteria", "Tensão da bateria", "Accuspanning", "Batterispænding",
            "Batterispänning", "Batterispenning", "Vbat", "bat_v", "Ubatt/V",
        ] {
            let found = meaning(title);
            assert_eq!(found.quantity, Some(Quantity::Voltage), "{title}");
            assert!(found.is(Subject::Bank), "{title}");
        }
    }

    #[test]
    fn stage_words() {
        use crate::timeline::stage as code;
        assert_eq!(stage("Absorption"), Some(code::ABSORPTION));
        assert_eq!(stage("Erhaltung"), Some(code::FLOAT));
        assert_eq!(stage("Not charging"), Some(code::OFF));
        assert_eq!(stage("BULK"), Some(code::BULK));
        assert_eq!(stage("xyz"), None);
    }
}
