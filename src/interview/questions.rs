//! What is asked, section by section, in the order in which an owner finds it.

/// One question: a design key and its words.
#[derive(Debug, Clone, Copy)]
pub(super) struct Question<'a> {
    /// The design key.
    pub(super) key: &'static str,
    /// The question.
    pub(super) ask: &'a str,
    /// Where to find it or why it is asked, said on "?".
    pub(super) help: &'a str,
}

const fn question(key: &'static str, ask: &'static str, help: &'static str) -> Question<'static> {
    Question { key, ask, help }
}

/// Name and place.
pub(super) const PLACE: &[Question<'static>] = &[
    question(
        "system.name",
        "Name of the system",
        "Any name; it heads the report.",
    ),
    question(
        "place.latitude",
        "Latitude, degrees, north positive",
        "A map on a phone shows it at a long press. One decimal is plenty.",
    ),
    question(
        "place.longitude",
        "Longitude, degrees, east positive",
        "The second figure beside the latitude. West of Greenwich it is negative.",
    ),
    question(
        "place.altitude",
        "Height above the sea",
        "A mountain has more sun; to the nearest 100 m will do.",
    ),
    question(
        "place.timezone",
        "Time zone",
        "The clock on the wall there, with its summer time: Continent/City.",
    ),
];

/// The label of a panel and how panels are put together.
pub(super) const PANELS: &[Question<'static>] = &[
    question(
        "array.panel.power",
        "Power of one panel",
        "Pmax on the label at its back, or in its data sheet.",
    ),
    question(
        "array.panel.vmp",
        "Voltage at maximum power, Vmp",
        "On the label. It tells what the cable to the controller loses.",
    ),
    question(
        "array.panel.imp",
        "Current at maximum power, Imp",
        "On the label. Power divided by Vmp where left out.",
    ),
    question(
        "array.panel.voc",
        "Open-circuit voltage, Voc",
        "On the label. Safety hangs on it: cold raises it, and the controller must bear it.",
    ),
    question(
        "array.panel.isc",
        "Short-circuit current, Isc",
        "On the label. Safety hangs on it: cables and fuses must bear it with its margin.",
    ),
    question(
        "array.panel.voc_per_degree",
        "Change of Voc per degree",
        "In the data sheet, such as -0.27 %. Without it the cautious factors of electrical codes are taken.",
    ),
    question(
        "array.panel.max_series_fuse",
        "Largest series fuse",
        "On the label. It decides whether strings side by side each need a fuse.",
    ),
    question(
        "array.panels_in_series",
        "Panels in series in one string",
        "Plus of one to minus of the next: their voltages add up.",
    ),
    question(
        "array.strings_in_parallel",
        "Strings side by side",
        "Their currents add up. Four panels all in parallel: 1 in series, 4 strings.",
    ),
    question(
        "array.mounting",
        "Mounting",
        "How hot panels get: rack (open), gap (20 mm or more of air below), flush (bonded or flat on).",
    ),
    question(
        "array.tilt",
        "Tilt from flat",
        "0 deg lies flat, 90 deg hangs upright.",
    ),
    question(
        "array.facing",
        "Bearing it faces",
        "True bearing: 90 east, 180 south, 270 west. Nothing for a flat array.",
    ),
];

/// What the controller bears and gives.
pub(super) const CONTROLLER: &[Question<'static>] = &[
    question(
        "controller.method",
        "Kind of charge controller",
        "On its label or in its data sheet.",
    ),
    question(
        "controller.max_input",
        "Highest array voltage it bears",
        "In its data sheet. Safety hangs on it: above it the controller breaks.",
    ),
    question(
        "controller.max_input_current",
        "Highest array current, where it has such a limit",
        "In its data sheet; many that convert have none, or a short-circuit current.",
    ),
    question(
        "controller.max_output",
        "Highest charging current",
        "Its rated current.",
    ),
];

/// A run, after its length was told.
pub(super) const CABLE: &[Question<'static>] = &[
    question(
        "cable.size",
        "Size of one conductor",
        "Printed on the jacket: mm2 or AWG.",
    ),
    question(
        "cable.material",
        "Material",
        "Copper unless the jacket says aluminium, or CCA for copper-clad aluminium.",
    ),
    question(
        "cable.fuse",
        "Fuse in this run",
        "Printed on the fuse. Look only: switch everything off before one is pulled.",
    ),
    question(
        "cable.ampacity",
        "What the cable may carry where it lies",
        "In its data sheet or your local code, for its insulation, heat and bundling. Without it nobody can say whether the fuse protects it.",
    ),
    question(
        "cable.return",
        "Return conductor",
        "cable: two conductors. chassis: metal of the vehicle carries the current back.",
    ),
];

/// The bank and how it is charged.
pub(super) const BANK: &[Question<'static>] = &[
    question(
        "battery.chemistry",
        "Chemistry",
        "On the label: lfp (lithium iron phosphate), agm, gel, flooded (lead), nmc (other lithium).",
    ),
    question(
        "battery.capacity",
        "Capacity of the whole bank at system voltage",
        "On the label, 20 h rate. Two 12 V, 100 Ah in parallel are 200 Ah; in series they stay 100 Ah at 24 V.",
    ),
    question(
        "system.nominal",
        "Nominal voltage of the system",
        "12 V, 24 V, 36 V or 48 V.",
    ),
    question(
        "battery.reserve",
        "State of charge you mean to stay above",
        "What you leave in it, such as 20 % or 50 %.",
    ),
    question(
        "battery.max_charge_current",
        "Highest charging current of the bank",
        "In its data sheet, for the whole bank.",
    ),
    question(
        "battery.load_cut_off",
        "Voltage at which loads are cut off",
        "As set at the low-voltage cut-off or in the battery's own protection.",
    ),
    question(
        "controller.absorption",
        "Absorption voltage as set, at 25 C",
        "In the controller's settings; the maker of the battery says what is right.",
    ),
    question(
        "controller.absorption_time",
        "Absorption time as set",
        "In the controller's settings.",
    ),
    question(
        "controller.float",
        "Float voltage as set, at 25 C",
        "In the controller's settings.",
    ),
];

/// A load, after its name was told.
pub(super) const LOAD: &[Question<'static>] = &[
    question(
        "load.power",
        "Power while it runs",
        "On its label, or volts times amperes while it runs.",
    ),
    question("load.quantity", "How many", "Equal ones that run alike."),
    question(
        "load.hours",
        "Hours it runs in a day",
        "A fridge's compressor runs a third to half of the day; 24 for what never rests.",
    ),
    question(
        "load.when",
        "When",
        "always: spread over day and night; day: by daylight; night: in the dark.",
    ),
    question(
        "load.through",
        "Through",
        "dc: straight from the bank; inverter: by way of the inverter.",
    ),
];

/// The inverter, where a load hangs on one.
pub(super) const INVERTER: &[Question<'static>] = &[
    question(
        "inverter.efficiency",
        "Efficiency of the inverter",
        "In its data sheet.",
    ),
    question(
        "inverter.idle",
        "Draw with nothing connected",
        "In its data sheet; it counts as long as it is switched on.",
    ),
    question(
        "inverter.hours",
        "Hours a day it is switched on",
        "24 where it is never switched off.",
    ),
];

/// Another way of charging, after its kind was told.
pub(super) const CHARGER: &[Question<'static>] = &[
    question("charger.name", "Name", "Any name."),
    question("charger.current", "Charging current", "On its label."),
];

/// What was planned with, and the cold.
pub(super) const PLAN: &[Question<'static>] = &[
    question(
        "plan.sun_hours",
        "Peak sun hours a day in the plane of the array",
        "One figure, or twelve from January on with spaces between. From a table for the place; without it a share of the clear sky is taken.",
    ),
    question(
        "plan.record_low",
        "Lowest temperature it may ever stand in",
        "Safety hangs on it: the colder, the higher the array's voltage. The place's record, not its usual winter.",
    ),
];

/// The logs.
pub(super) const LOGS: &[Question<'static>] = &[question(
    "log.files",
    "Files of the log",
    "A file or a pattern, from the design file's folder on, such as logs/*.csv.",
)];
