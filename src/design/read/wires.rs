//! `[[cable]]`: the runs.

use toml::de::DeTable;

use super::super::defaults;
use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::{Cable, Material, Run};
use super::power::Controllers;

pub(super) fn read(root: &DeTable<'_>, controllers: &Controllers, notes: &mut Notes) -> Vec<Cable> {
    Section::all(root, "cable")
        .into_iter()
        .filter_map(|section| cable(section, controllers, notes))
        .collect()
}

/// One run; `None` where it lacks what it takes to reckon with it, which is noted.
fn cable(mut section: Section<'_>, controllers: &Controllers, notes: &mut Notes) -> Option<Cable> {
    let word = section.required_text("run", notes);
    let run = match word.as_str() {
        "array-controller" => Run::ArrayController,
        "battery-loads" => Run::BatteryLoads,
        _ => Run::ControllerBattery,
    };
    let controller = controllers.named(&section, notes);
    // Assumptions are told apart by run, and by controller where one is named.
    section.name = Some(
        match controller.and_then(|i| controllers.list[i].name.as_ref()) {
            Some(name) => format!("{}, {name}", run.name()),
            None => run.name().to_owned(),
        },
    );
    let length_m = section.number("length", notes);
    let size = section.wire("size", notes);
    for (word, value) in [("length", length_m.is_some()), ("size", size.is_some())] {
        if !value && section.raw(word).is_none() {
            let why = "the run is left out: nothing can be said of it without";
            notes.assume(section.label(word), "not known".to_owned(), why);
        }
    }
    let (length_m, size) = length_m.zip(size)?;
    let material = match section
        .word_or(
            "material",
            "copper",
            "usual; the jacket says \"CCA\" otherwise",
            notes,
        )
        .as_str()
    {
        "aluminium" => Material::Aluminium,
        "copper-clad aluminium" => Material::CopperCladAluminium,
        _ => defaults::MATERIAL,
    };
    let fuse_a = section.number("fuse", notes);
    Some(Cable {
        run,
        controller,
        length_m,
        size,
        material,
        fuse_a,
        joints_mohm: joints(&section, notes),
        joints_given: section.raw("joints").is_some(),
        ampacity_a: section.number("ampacity", notes),
        drop_limit: drop_limit(&section, run, notes),
        drop_limit_given: section.raw("drop_limit").is_some(),
        chassis_return: section.word_or("return", "cable", "two conductors", notes) == "chassis",
    })
}

fn joints(section: &Section<'_>, notes: &mut Notes) -> f64 {
    let (default, why) = match section.raw("fuse").is_some() {
        true => (
            defaults::LUGS_MOHM + defaults::FUSE_MOHM,
            "good lugs at the ends about 1 mohm, a fuse with its holder about 2 mohm",
        ),
        false => (defaults::LUGS_MOHM, "good lugs at the ends about 1 mohm"),
    };
    section.number_or("joints", default, why, notes)
}

fn drop_limit(section: &Section<'_>, run: Run, notes: &mut Notes) -> f64 {
    let why = match run {
        Run::ArrayController => "usual for the array run, of the string's Vmp",
        Run::ControllerBattery => "a larger drop misleads the controller, of nominal",
        Run::BatteryLoads => "usual for feeds that matter, of nominal",
    };
    section.number_or("drop_limit", defaults::drop_limit(run), why, notes)
}
