//! Dutch.

use super::{Language, Quantity, Subject};
use crate::timeline::stage;

pub(super) const WORDS: Language = Language {
    phrases: &[
        ("zonnecel", " paneel "),
        ("verbruiksaccu", " accu "),
        ("huishoudaccu", " accu "),
        ("lichtaccu", " accu "),
    ],
    subjects: &[
        (
            Subject::Aside,
            &[
                " cel ",
                " cellen",
                " celspanning",
                "startaccu",
                " streefwaarde",
                "omvormer",
                " ingesteld",
                " intern",
            ],
        ),
        (
            Subject::Load,
            &["belasting", "verbruik", " last ", "laststroom", " afname"],
        ),
        (
            Subject::Other,
            &[
                "dynamo",
                "walstroom",
                " aggregaat",
                " windmolen",
                " netstroom",
                " lichtnet",
            ],
        ),
        (Subject::Array, &["paneel", "zonnepan", " panelen"]),
        (Subject::WeakArray, &[" zonne"]),
        (Subject::Discharge, &["ontlad"]),
        (Subject::Charger, &["laad", "lader", "lading", "regelaar"]),
        (Subject::Bank, &["accu", "batterij", " huisaccu"]),
        (Subject::Air, &["buiten", "omgeving", "lucht"]),
    ],
    quantities: &[
        (
            Quantity::Soc,
            &[
                "laadtoestand",
                "laadniveau",
                "ladingstoestand",
                "accuniveau",
                "batterijniveau",
                "laadpercentage",
                "accupercentage",
            ],
        ),
        (Quantity::Latitude, &["breedtegraad"]),
        (Quantity::Longitude, &["lengtegraad"]),
        (
            Quantity::Irradiance,
            &["zoninstraling", "instraling", " straling"],
        ),
        (Quantity::Voltage, &["spanning"]),
        (Quantity::Current, &["stroom"]),
        (Quantity::Charge, &["capaciteit"]),
        (Quantity::Energy, &["energie", "opbrengst", "productie"]),
        (Quantity::Power, &["vermogen"]),
        (
            Quantity::Stage,
            &["laadfase", " fase", " toestand", "laadstatus", " modus"],
        ),
    ],
    times: &[
        " tijd",
        "tijd ",
        " datum",
        " dag ",
        " klok",
        " moment",
        " tijdstip",
    ],
    clock_parts: [
        &["jaar"],
        &["maand"],
        &["dag"],
        &["uur"],
        &["minuut"],
        &["seconde"],
    ],
    elapsed: &["verstreken", "looptijd"],
    lowest: &["laagste", "minim"],
    highest: &["hoogste", "maxim", " piek"],
    means: &["gemiddeld"],
    harvested: &["opbrengst", "opgewekt"],
    neutral: &[
        "totaal",
        "totale",
        "gemeten",
        "actuele",
        "gemiddelde",
        "waarde",
        "netto",
        "systeem",
    ],
    devices: &["apparaat", "kanaal", "knooppunt"],
    stages: &[
        (stage::FAULT, &["storing", " fout"]),
        (
            stage::OFF,
            &[
                " uit", " nacht", " rust", "ontlad", " niet", " slaap", " wacht", " geen",
            ],
        ),
        (stage::EQUALISE, &["egalis", " vereffen"]),
        (stage::ABSORPTION, &["absorptie", "constante spanning"]),
        (
            stage::FLOAT,
            &["druppel", "onderhoud", " vol ", " opslag", " klaar"],
        ),
        (
            stage::BULK,
            &[
                "constante stroom",
                " laden",
                " laadt",
                " hoofdlad",
                " snellad",
            ],
        ),
    ],
    months: [
        &["jan"],
        &["feb"],
        &["mrt", "maa"],
        &["apr"],
        &["mei"],
        &["jun"],
        &["jul"],
        &["aug"],
        &["sep"],
        &["okt"],
        &["nov"],
        &["dec"],
    ],
    weekdays: &[
        "maan", "din", "woe", "don", "vri", "zat", "zon", "ma", "di", "wo", "do", "vr", "za", "zo",
    ],
    halves: [&["vm"], &["nm"]],
};
