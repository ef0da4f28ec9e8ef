//! Italian.

use super::{Language, Quantity, Subject};
use crate::timeline::stage;

pub(super) const WORDS: Language = Language {
    phrases: &[
        (" tempo ", " orario "),
        ("cella solare", " pannello "),
        ("fotovolta", " panel "),
        ("batteria servizi", " batteria "),
        ("batteria di servizio", " batteria "),
        ("corrente di carica", "corrente charg"),
        ("tensione di carica", "tensione charg"),
        ("potenza di carica", "potenza charg"),
        ("regolatore di carica", " regolatore "),
    ],
    subjects: &[
        (
            Subject::Aside,
            &[
                " cella",
                " avviamento",
                " motore batteria",
                " batteria motore",
                " interna",
                " interno",
            ],
        ),
        (
            Subject::Load,
            &[
                "carichi", "carico", "consum", " utenze", " utenza", " utilizz",
            ],
        ),
        (
            Subject::Other,
            &[
                "alternatore",
                " banchina",
                " rete ",
                " eolic",
                " generatore",
                " gruppo elettr",
            ],
        ),
        (
            Subject::Array,
            &["pannell", "fotovolt", " modulo", " moduli"],
        ),
        (Subject::WeakArray, &["solare"]),
        (Subject::Discharge, &["scarica"]),
        (
            Subject::Charger,
            &[" carica ", "regolatore", " ricarica", "caricabatt"],
        ),
        (Subject::Bank, &["batteri", " banco", " accumulat"]),
        (Subject::Air, &["esterna", "esterno", "ambiente", " aria "]),
    ],
    quantities: &[
        (
            Quantity::Soc,
            &[
                "stato di carica",
                "stato carica",
                "livello batteria",
                "livello di carica",
                "livello carica",
                " carica %",
            ],
        ),
        (Quantity::Latitude, &["latitudin"]),
        (Quantity::Longitude, &["longitudin"]),
        (
            Quantity::Irradiance,
            &["irraggiamento", "irradiamento", " radiazione"],
        ),
        (Quantity::Voltage, &["tensione", "voltaggio"]),
        (Quantity::Current, &["corrente", "amperaggio"]),
        (Quantity::Charge, &["capacita"]),
        (Quantity::Energy, &["energia", "produzione", " resa "]),
        (Quantity::Power, &["potenza"]),
        (Quantity::Stage, &[" stato", " fase", " modalita"]),
    ],
    times: &[" data ", " ora ", " orario", " giorno", " istante "],
    clock_parts: [
        &["anno"],
        &["mese"],
        &["giorno"],
        &["ora"],
        &["minuto"],
        &["secondo"],
    ],
    elapsed: &["trascors"],
    lowest: &["minim", " piu bass"],
    highest: &["massim", " piu alt", " picco "],
    means: &[" medi"],
    harvested: &["produ", "generat"],
    neutral: &[
        "totale", "misurata", "misurato", "attuale", "media", "valore", "netta", "sistema",
    ],
    devices: &["dispositivo", "sensore", "canale", "nodo"],
    stages: &[
        (stage::FAULT, &["guasto", "errore", " anomalia"]),
        (
            stage::OFF,
            &[
                "spento",
                " notte",
                " fermo",
                " riposo",
                "inattiv",
                " scarica",
                " non in carica",
                " attesa",
                " nessuna",
            ],
        ),
        (stage::EQUALISE, &["equalizz"]),
        (stage::ABSORPTION, &["assorb", "tensione costante"]),
        (
            stage::FLOAT,
            &["manten", "galleggi", " tampone", " completa", " piena"],
        ),
        (
            stage::BULK,
            &[
                "corrente costante",
                " carica",
                " in carica",
                " principale",
                " rapida",
            ],
        ),
    ],
    months: [
        &["gen"],
        &["feb"],
        &["mar"],
        &["apr"],
        &["mag"],
        &["giu"],
        &["lug"],
        &["ago"],
        &["set"],
        &["ott"],
        &["nov"],
        &["dic"],
    ],
    weekdays: &["lun", "mar", "mer", "gio", "ven", "sab", "dom"],
    halves: [&["dimattina"], &["disera", "delpomeriggio"]],
};
