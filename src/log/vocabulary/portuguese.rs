//! Portuguese.

use super::{Language, Quantity, Subject};
use crate::timeline::stage;

pub(super) const WORDS: Language = Language {
    phrases: &[
        ("celula solar", " painel "),
        ("bateria de servico", " bateria "),
    ],
    subjects: &[
        (
            Subject::Aside,
            &[" limite", " limiar", "celula", " arranque", " interna"],
        ),
        (Subject::Load, &[" cargas", "consum", " saida dc"]),
        (
            Subject::Other,
            &["alternador", " cais ", " gerador", " eolic", " rede "],
        ),
        (
            Subject::Array,
            &["painel", " fv ", "paineis", "fotovolt", "modulo", " placa"],
        ),
        (Subject::WeakArray, &["solar"]),
        (Subject::Discharge, &["descarga"]),
        (Subject::Charger, &["regulador", "carregad", "controlador"]),
        (Subject::Bank, &["bateria", " banco"]),
        (Subject::Air, &["exterior", "ambiente", " ar "]),
    ],
    quantities: &[
        (
            Quantity::Soc,
            &["nivel da bateria", "nivel de bateria", "nivel bateria"],
        ),
        (Quantity::Latitude, &["latitud"]),
        (Quantity::Longitude, &["longitud"]),
        (
            Quantity::Irradiance,
            &["irradia", " radiacao", " insolacao"],
        ),
        (Quantity::Voltage, &["tensao", "voltagem"]),
        (Quantity::Current, &["corrente", " amper"]),
        (Quantity::Charge, &["capacidade"]),
        (Quantity::Energy, &["energia", "producao", "rendimento"]),
        (Quantity::Power, &["potencia"]),
        (Quantity::Stage, &["etapa", "fase", " estado", " modo"]),
    ],
    times: &[" data ", " hora", " dia ", " carimbo"],
    clock_parts: [
        &["ano"],
        &["mes"],
        &["dia"],
        &["hora"],
        &["minuto"],
        &["segundo"],
    ],
    elapsed: &["decorrid"],
    lowest: &["minim"],
    highest: &["maxim", " pico "],
    means: &[" media ", " medio "],
    harvested: &["produ", "gerad"],
    neutral: &[
        "total", "medida", "medido", "atual", "media", "valor", "liquida", "sistema",
    ],
    devices: &["dispositivo", "canal"],
    stages: &[
        (stage::FAULT, &["falha", " erro", " avaria"]),
        (
            stage::OFF,
            &[
                "desligad",
                " noite",
                "parad",
                " repouso",
                " sem carga",
                " nao carreg",
                "descarg",
                " inativ",
                " espera",
            ],
        ),
        (stage::EQUALISE, &["equaliz"]),
        (stage::ABSORPTION, &["absorcao", "tensao constante"]),
        (stage::FLOAT, &["flutua", "manuten", " cheia", " complet"]),
        (
            stage::BULK,
            &[
                "corrente constante",
                " carregando",
                " a carregar",
                " carga",
                " principal",
                " rapida",
            ],
        ),
    ],
    months: [
        &["jan"],
        &["fev"],
        &["mar"],
        &["abr"],
        &["mai"],
        &["jun"],
        &["jul"],
        &["ago"],
        &["set"],
        &["out"],
        &["nov"],
        &["dez"],
    ],
    weekdays: &["seg", "ter", "qua", "qui", "sex", "sab", "dom"],
    halves: [&["damanha"], &["datarde"]],
};
