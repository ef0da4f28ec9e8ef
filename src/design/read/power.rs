//! `[controller]` and `[array]`: where the power comes from.

use toml::de::DeTable;

use super::super::defaults;
use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::{Array, Chemistry, Controller, Method, Mounting, Panel, Place};
use super::bank::Bank;

/// The controllers in the order of the file, found by name.
pub(super) struct Controllers {
    pub(super) list: Vec<Controller>,
}

impl Controllers {
    pub(super) fn read(root: &DeTable<'_>, bank: &Bank, notes: &mut Notes) -> Self {
        let mut sections = Section::all(root, "controller");
        if sections.is_empty() {
            sections.push(Section::absent("controller"));
        }
        let several = sections.len() > 1;
        let mut list: Vec<Controller> = Vec::new();
        for section in sections {
            let controller = controller(&section, bank, notes);
            match &controller.name {
                None if several => section.missing("name", notes),
                Some(name) if list.iter().any(|c| c.name.as_ref() == Some(name)) => {
                    section.problem("name", &twice(name), notes);
                }
                _ => {}
            }
            list.push(controller);
        }
        Self { list }
    }

    /// The index of the controller a section names with its key `controller`, where it does.
    pub(super) fn named(&self, section: &Section<'_>, notes: &mut Notes) -> Option<usize> {
        let wanted = section.text("controller", notes)?;
        // The only controller needs no name to be meant.
        if matches!(self.list.as_slice(), [only] if only.name.is_none()) {
            return Some(0);
        }
        let found = self
            .list
            .iter()
            .position(|c| c.name.as_deref() == Some(wanted.as_str()));
        if found.is_none() {
            let known = match self.names(", ") {
                names if names.is_empty() => "give each a name = in its [[controller]]".to_owned(),
                names => format!("the design has {names}"),
            };
            section.problem(
                "controller",
                &format!("there is no controller named \"{wanted}\"; {known}"),
                notes,
            );
        }
        found
    }

    /// The names in quotes.
    fn names(&self, between: &str) -> String {
        let named = self.list.iter().filter_map(|c| c.name.as_ref());
        let quoted: Vec<String> = named.map(|n| format!("\"{n}\"")).collect();
        quoted.join(between)
    }
}

/// What to say of a name used again.
pub(super) fn twice(name: &str) -> String {
    format!("the name \"{name}\" is used twice; names must differ")
}

fn controller(section: &Section<'_>, bank: &Bank, notes: &mut Notes) -> Controller {
    let battery = &bank.battery;
    let nominal_v = bank.nominal_v.unwrap_or(12.0);
    let cells = battery
        .cells_in_series
        .unwrap_or_else(|| defaults::cells_for(battery.chemistry, nominal_v));
    let usual = defaults::charge_settings(battery.chemistry, nominal_v, cells);
    let why = format!(
        "middle of the usual range for {} banks",
        battery.chemistry.name()
    );
    let method = match section
        .word_or(
            "method",
            "mppt",
            "usual today; the label on the controller says",
            notes,
        )
        .as_str()
    {
        "pwm" => Method::Pwm,
        _ => Method::Mppt,
    };
    let efficiency = match method {
        Method::Mppt => section.number_or(
            "efficiency",
            defaults::MPPT_EFFICIENCY,
            "usual for conversion and tracking together",
            notes,
        ),
        Method::Pwm => section.number_or(
            "efficiency",
            defaults::PWM_EFFICIENCY,
            "a pwm controller connects and converts nothing",
            notes,
        ),
    };
    let compensation = section.number_or("compensation", usual.compensation_v_per_c, &why, notes);
    let found = Controller {
        name: section.text("name", notes),
        method,
        max_input_v: section.number("max_input", notes),
        max_input_a: section.number("max_input_current", notes),
        max_output_a: section.number("max_output", notes),
        efficiency,
        absorption_v: section.number_or("absorption", usual.absorption_v, &why, notes),
        absorption_h: section.number("absorption_time", notes).map(|s| s / 3600.0),
        float_v: float(section, usual.float_v, &why, notes),
        compensation_v_per_c: compensation * nominal_v / 12.0,
        equalise_v: equalise(section, battery.chemistry, notes),
    };
    check_controller(section, &found, notes);
    found
}

fn float(section: &Section<'_>, usual: Option<f64>, why: &str, notes: &mut Notes) -> Option<f64> {
    match usual {
        Some(volts) => Some(section.number_or("float", volts, why, notes)),
        None => section.number("float", notes),
    }
}

/// The equalising voltage; only flooded banks have one, whatever the controller is set to.
fn equalise(section: &Section<'_>, chemistry: Chemistry, notes: &mut Notes) -> Option<f64> {
    let volts = section.number("equalise", notes)?;
    if chemistry == Chemistry::Flooded {
        return Some(volts);
    }
    let why = format!("only flooded banks are equalised, not {}", chemistry.name());
    notes.assume(section.label("equalise"), "not used".to_owned(), &why);
    None
}

fn check_controller(section: &Section<'_>, found: &Controller, notes: &mut Notes) {
    let given = |word: &str| section.raw(word).is_some();
    let both = given("float") && given("absorption");
    if both && found.float_v.is_some_and(|f| f > found.absorption_v) {
        section.problem(
            "float",
            "is above absorption; float is the lower of the two",
            notes,
        );
    }
}

pub(super) fn arrays(
    root: &DeTable<'_>,
    controllers: &Controllers,
    place: &Place,
    notes: &mut Notes,
) -> Vec<Array> {
    let mut sections = Section::all(root, "array");
    if sections.is_empty() {
        sections.push(Section::absent("array"));
    }
    let mut list: Vec<Array> = Vec::new();
    for section in &sections {
        let controller = controllers.named(section, notes);
        if controllers.list.len() > 1 && section.raw("controller").is_none() {
            let text = match controllers.names(" or ") {
                names if names.is_empty() => "is missing; name the controllers first".to_owned(),
                names => format!("is missing; say which of them: controller = {names}"),
            };
            section.problem("controller", &text, notes);
        }
        let found = array(section, controller.unwrap_or(0), place, notes);
        if let Some(name) = &found.name
            && list.iter().any(|a| a.name.as_ref() == Some(name))
        {
            section.problem("name", &twice(name), notes);
        }
        list.push(found);
    }
    list
}

fn array(section: &Section<'_>, controller: usize, place: &Place, notes: &mut Notes) -> Array {
    let mounting = match section
        .word_or(
            "mounting",
            "flush",
            "usual on vehicles and boats, and the hottest",
            notes,
        )
        .as_str()
    {
        "rack" => Mounting::Rack,
        "gap" => Mounting::Gap,
        _ => Mounting::Flush,
    };
    let tilt_deg = section.number_or("tilt", 0.0, "flat, as panels on a roof lie", notes);
    let panel = section.inner("array.panel", notes);
    Array {
        name: section.text("name", notes),
        controller,
        panels_in_series: count(section, "panels_in_series", notes),
        strings_in_parallel: count(section, "strings_in_parallel", notes),
        tilt_deg,
        facing_deg: facing(section, tilt_deg, place, notes),
        mounting,
        allowance: section.number_or(
            "allowance",
            defaults::ALLOWANCE,
            "usual for label tolerance, mismatch and ordinary dirt",
            notes,
        ),
        panel: read_panel(&panel, mounting, notes),
    }
}

fn count(section: &Section<'_>, word: &str, notes: &mut Notes) -> u32 {
    // Counts are whole and small by their key's range, so the conversion is exact.
    section.number_or(word, 1.0, "a single one where nothing is said", notes) as u32
}

/// The bearing; only worth a word where the array, or a leg, is tilted.
fn facing(section: &Section<'_>, tilt_deg: f64, place: &Place, notes: &mut Notes) -> f64 {
    let toward_equator = if place.base.latitude_deg < 0.0 {
        0.0
    } else {
        180.0
    };
    let tilted = tilt_deg > 0.0
        || place
            .legs
            .iter()
            .any(|l| l.1.tilt_deg.is_some_and(|t| t > 0.0));
    match tilted {
        true => section.number_or("facing", toward_equator, "toward the equator", notes),
        false => section.number("facing", notes).unwrap_or(toward_equator),
    }
}

fn read_panel(section: &Section<'_>, mounting: Mounting, notes: &mut Notes) -> Panel {
    let power_w = section.required("power", notes);
    let mut vmp_v = section.number("vmp", notes);
    let mut imp_a = section.number("imp", notes);
    let voc_v = section.number("voc", notes);
    let isc_a = section.number("isc", notes);
    match (vmp_v, imp_a) {
        (Some(vmp), None) if power_w > 0.0 && section.raw("imp").is_none() => {
            imp_a = Some(power_w / vmp);
            let shown = section.show("imp", power_w / vmp);
            notes.assume(section.label("imp"), shown, "power divided by vmp");
        }
        (None, Some(imp)) if power_w > 0.0 && section.raw("vmp").is_none() => {
            vmp_v = Some(power_w / imp);
            let shown = section.show("vmp", power_w / imp);
            notes.assume(section.label("vmp"), shown, "power divided by imp");
        }
        _ => {}
    }
    if voc_v.zip(vmp_v).is_some_and(|(voc, vmp)| voc <= vmp) {
        section.problem(
            "voc",
            "is not above vmp; the open-circuit voltage is the higher one",
            notes,
        );
    }
    if isc_a.zip(imp_a).is_some_and(|(isc, imp)| isc < imp) {
        section.problem(
            "isc",
            "is below imp; the short-circuit current is the higher one",
            notes,
        );
    }
    Panel {
        power_w,
        vmp_v,
        imp_a,
        voc_v,
        isc_a,
        power_per_degree: section.number_or(
            "power_per_degree",
            defaults::POWER_PER_DEGREE,
            "usual for silicon panels",
            notes,
        ),
        voc_per_degree: section.number_or(
            "voc_per_degree",
            defaults::VOC_PER_DEGREE,
            "usual for silicon panels",
            notes,
        ),
        noct_c: section.number_or(
            "noct",
            defaults::noct_c(mounting),
            defaults::mounting_words(mounting),
            notes,
        ),
        max_series_fuse_a: section.number("max_series_fuse", notes),
    }
}
