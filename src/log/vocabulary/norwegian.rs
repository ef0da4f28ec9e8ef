//! Norwegian.

use super::{Language, Quantity, Subject};
use crate::timeline::stage;

pub(super) const WORDS: Language = Language {
    phrases: &[
        ("solcelle", " panel "),
        ("forbruksbatteri", " batteri "),
        ("servicebatteri", " batteri "),
    ],
    subjects: &[
        (
            Subject::Aside,
            &[
                "grenseverdi",
                " grense ",
                " celle",
                "startbatteri",
                " onsket",
                "vekselretter",
                " intern",
            ],
        ),
        (
            Subject::Load,
            &["forbruk", "belastning", " last ", "lastspenning"],
        ),
        (
            Subject::Other,
            &["dynamo", " landstrom", " vindmolle", " aggregat", " motor"],
        ),
        (Subject::Array, &["solpanel", " panel", " modul"]),
        (Subject::WeakArray, &[" sol"]),
        (Subject::Discharge, &["utlad"]),
        (
            Subject::Charger,
            &[" lade", "lading", "ladning", "regulator", "lader"],
        ),
        (Subject::Bank, &["batteri"]),
        (Subject::Air, &[" ute", "omgivelse", " luft"]),
    ],
    quantities: &[
        (
            Quantity::Soc,
            &["ladetilstand", "ladeniva", "batteriniva", "ladegrad"],
        ),
        (Quantity::Latitude, &["breddegrad"]),
        (Quantity::Longitude, &["lengdegrad"]),
        (
            Quantity::Irradiance,
            &["innstraling", "solinnstraling", " straling"],
        ),
        (Quantity::Voltage, &["spenning"]),
        (Quantity::Current, &["strom"]),
        (Quantity::Charge, &["kapasitet"]),
        (Quantity::Energy, &["energi", "produksjon", "utbytte"]),
        (Quantity::Power, &["effekt"]),
        (
            Quantity::Stage,
            &["ladefase", " fase", " tilstand", " ladetrinn"],
        ),
    ],
    times: &[" tid", "tid ", " dato", " klokke", " dag ", "tidspunkt"],
    clock_parts: [
        &["ar"],
        &["maned"],
        &["dag"],
        &["time"],
        &["minutt"],
        &["sekund"],
    ],
    elapsed: &["forlopt", " gangtid"],
    lowest: &["laveste", " minste"],
    highest: &["hoyeste", " storste", " topp"],
    means: &["gjennomsnitt", " middel"],
    harvested: &["utbytte", "produs"],
    neutral: &[
        "total", "malt", "aktuell", "middel", "verdi", "netto", "system",
    ],
    devices: &["enhet", "kanal"],
    stages: &[
        (stage::FAULT, &[" feil"]),
        (
            stage::OFF,
            &[
                " av ", " avslatt", " natt", " hvile", "utlad", " ikke", " venter",
            ],
        ),
        (stage::EQUALISE, &["utjevn"]),
        (stage::ABSORPTION, &["absorpsjon", "konstant spenning"]),
        (stage::FLOAT, &["vedlike", " flyte", " full", " lagring"]),
        (
            stage::BULK,
            &["konstant strom", "lader", " hovedlad", " hurtig"],
        ),
    ],
    months: [
        &["jan"],
        &["feb"],
        &["mar"],
        &["apr"],
        &["mai"],
        &["jun"],
        &["jul"],
        &["aug"],
        &["sep"],
        &["okt"],
        &["nov"],
        &["des"],
    ],
    weekdays: &["man", "tir", "ons", "tor", "fre", "lor", "son"],
    halves: [&["fm"], &["em"]],
};
