//! Danish.

use super::{Language, Quantity, Subject};
use crate::timeline::stage;

pub(super) const WORDS: Language = Language {
    phrases: &[
        ("solcelle", " panel "),
        ("forbrugsbatteri", " batteri "),
        ("forbrugerbatteri", " batteri "),
        ("servicebatteri", " batteri "),
    ],
    subjects: &[
        (
            Subject::Aside,
            &[
                "graensevaerdi",
                " graense ",
                " celle",
                "startbatteri",
                " onsket",
                "vekselretter",
                " intern",
            ],
        ),
        (
            Subject::Load,
            &[
                "forbrug",
                "belastning",
                " last ",
                "laststrom",
                "lastspaending",
                "lasteffekt",
            ],
        ),
        (
            Subject::Other,
            &["generator", " landstrom", " vindmolle", " motor"],
        ),
        (Subject::Array, &["solpanel", " panel", " modul"]),
        (Subject::WeakArray, &[" sol ", " sol"]),
        (Subject::Discharge, &["aflad"]),
        (
            Subject::Charger,
            &[" lade", "ladning", "regulator", "lader"],
        ),
        (Subject::Bank, &["batteri"]),
        (Subject::Air, &[" ude", "omgivelse", " luft"]),
    ],
    quantities: &[
        (
            Quantity::Soc,
            &[
                "ladetilstand",
                "ladeniveau",
                "batteriniveau",
                "ladestand",
                " opladning %",
                "ladegrad",
            ],
        ),
        (Quantity::Latitude, &["breddegrad"]),
        (Quantity::Longitude, &["laengdegrad"]),
        (
            Quantity::Irradiance,
            &["indstraling", "solindstraling", " straling"],
        ),
        (Quantity::Voltage, &["spaending", "spanding"]),
        (Quantity::Current, &["strom"]),
        (Quantity::Charge, &["kapacitet"]),
        (Quantity::Energy, &["energi", "udbytte", "produktion"]),
        (Quantity::Power, &["effekt"]),
        (
            Quantity::Stage,
            &["ladefase", " fase", " tilstand", " trin"],
        ),
    ],
    times: &[" tid", "tid ", " dato", "klokke", " dag ", "tidspunkt"],
    clock_parts: [
        &["ar"],
        &["maned"],
        &["dag"],
        &["time"],
        &["minut"],
        &["sekund"],
    ],
    elapsed: &["forlobet"],
    lowest: &["laveste", " mindste", "minim"],
    highest: &["hojeste", " storste", "maksim"],
    means: &["gennemsnit", " middel"],
    harvested: &["udbytte", "produce"],
    neutral: &[
        "total", "malt", "aktuel", "middel", "vaerdi", "netto", "system",
    ],
    devices: &["enhed", "kanal", "knude"],
    stages: &[
        (stage::FAULT, &["fejl"]),
        (
            stage::OFF,
            &[
                "slukket",
                " nat ",
                " hvile",
                "aflad",
                " ikke",
                " venter",
                " slaet fra",
            ],
        ),
        (stage::EQUALISE, &["udlign"]),
        (stage::ABSORPTION, &["absorption", "konstant spaending"]),
        (stage::FLOAT, &["vedlige", " fuld", " lagring"]),
        (
            stage::BULK,
            &["konstant strom", "lader", " oplad", " hovedlad", " hurtig"],
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
    weekdays: &["man", "tir", "ons", "tor", "fre", "lor", "son"],
    halves: [&["fm"], &["em"]],
};
