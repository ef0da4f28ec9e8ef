//! Swedish.

use super::{Language, Quantity, Subject};
use crate::timeline::stage;

pub(super) const WORDS: Language = Language {
    phrases: &[
        ("solcell", " panel "),
        ("forbrukningsbatteri", " batteri "),
        ("fritidsbatteri", " batteri "),
        ("bodelsbatteri", " batteri "),
        ("servicebatteri", " batteri "),
    ],
    subjects: &[
        (
            Subject::Aside,
            &[
                "gransvarde",
                " grans ",
                " cell",
                "startbatteri",
                " borvarde",
                "vaxelriktare",
                " intern",
            ],
        ),
        (
            Subject::Load,
            &[
                "forbruk",
                "belastning",
                " last ",
                "laststrom",
                "lastspanning",
            ],
        ),
        (
            Subject::Other,
            &[
                "generator",
                " landstrom",
                " vindkraft",
                " motor",
                " laddbox",
            ],
        ),
        (Subject::Array, &["solpanel", " panel", " modul"]),
        (Subject::WeakArray, &[" sol"]),
        (Subject::Discharge, &["urladd"]),
        (Subject::Charger, &["ladd", "regulator"]),
        (Subject::Bank, &["batteri"]),
        (Subject::Air, &["utomhus", " ute", "omgivning", " luft"]),
    ],
    quantities: &[
        (
            Quantity::Soc,
            &[
                "laddningsniva",
                "laddniva",
                "laddningstillstand",
                "laddtillstand",
                "batteriniva",
                "laddningsgrad",
                "laddgrad",
            ],
        ),
        (Quantity::Latitude, &["breddgrad", "latitud"]),
        (Quantity::Longitude, &["langdgrad", "longitud"]),
        (
            Quantity::Irradiance,
            &["instralning", "solinstralning", " stralning"],
        ),
        (Quantity::Voltage, &["spanning"]),
        (Quantity::Current, &["strom"]),
        (Quantity::Charge, &["kapacitet"]),
        (
            Quantity::Energy,
            &["energi", "produktion", "utbyte", " skord"],
        ),
        (Quantity::Power, &["effekt"]),
        (
            Quantity::Stage,
            &[
                "laddfas",
                "laddningsfas",
                " fas ",
                " lage ",
                " tillstand",
                "laddsteg",
            ],
        ),
    ],
    times: &[
        " tid", "tid ", " datum", " klock", " dag ", " dygn", "tidpunkt",
    ],
    clock_parts: [
        &["ar"],
        &["manad"],
        &["dag"],
        &["timme"],
        &["minut"],
        &["sekund"],
    ],
    elapsed: &["forfluten", " gangtid"],
    lowest: &["lagsta", " minst"],
    highest: &["hogsta", " storst", " topp"],
    means: &["medel", "genomsnitt"],
    harvested: &["utbyte", "produce", "skord"],
    neutral: &[
        "total", "uppmatt", "aktuell", "medel", "varde", "netto", "system",
    ],
    devices: &["enhet", "kanal", " nod "],
    stages: &[
        (stage::FAULT, &[" fel"]),
        (
            stage::OFF,
            &[
                " av ",
                " avstangd",
                " natt",
                " vila",
                " vilo",
                "urladd",
                " inte",
                " vantar",
            ],
        ),
        (stage::EQUALISE, &["utjam"]),
        (stage::ABSORPTION, &["absorption", "konstant spanning"]),
        (stage::FLOAT, &["underhall", " full", " lagring"]),
        (
            stage::BULK,
            &["konstant strom", " ladd", " huvudladd", " snabb"],
        ),
    ],
    months: [
        &["jan"],
        &["feb"],
        &["mar"],
        &["apr"],
        &["maj"],
        &["jun"],
        &["jul"],
        &["aug"],
        &["sep"],
        &["okt"],
        &["nov"],
        &["dec"],
    ],
    weekdays: &["man", "tis", "ons", "tor", "fre", "lor", "son"],
    halves: [&["fm"], &["em"]],
};
