//! The words reports use: one place, so that chart, page and terminal say the same.

use super::model::{Confidence, Day, DayState, Limiting, Severity, Verdict};

/// What a step of the accounts is called, and what it means.
pub fn step(name: &str) -> (&str, &'static str) {
    match name {
        "planned" => ("planned", "what the design said these days would bring"),
        "season" => (
            "season",
            "a clear sky at this date and place against the plan",
        ),
        "weather" => ("weather", "the real sky against a clear one"),
        "heat" => ("heat", "real panel temperature against the plan's"),
        "array" => (
            "panels",
            "panels giving less than such an array gives of its label",
        ),
        "shade" => ("shade", "shade that comes back at the same sun position"),
        "array_cable" => (
            "array cable",
            "panels to controller, beyond the design's own loss",
        ),
        "conversion" => (
            "conversion",
            "inside the controller, beyond the design's own loss",
        ),
        "controller_limit" => ("controller limit", "the controller at its largest output"),
        "held_back" => (
            "held back",
            "there for the taking and not taken: no loss where the bank was full, lost where it was not",
        ),
        "unmeasured" => ("not measured", "offered while the log had a gap"),
        "unexplained" => ("unexplained", "the rest that no step accounts for"),
        "harvested" => ("harvested", "what came out of the controller"),
        "other_charge" => ("other charging", "engine, shore, generator, wind"),
        "loads" => ("loads", "taken by what you run"),
        "bank_cable" => ("bank cable", "lost as heat between controller and bank"),
        "bank_change" => (
            "bank change",
            "more in the bank at the end than at the start",
        ),
        "bank_loss" => ("bank loss", "went in and did not come out again"),
        other => (other, ""),
    }
}

/// Said under an account with such a step: of these the design's own loss is no part.
pub const BEYOND: &str =
    "Array cable and conversion: only what they took beyond the design's own loss.";

/// Whether [`BEYOND`] is about a step.
pub fn is_beyond(step: &str) -> bool {
    matches!(step, "array_cable" | "conversion")
}

/// What a day's state means.
pub fn state(state: DayState) -> &'static str {
    match state {
        DayState::Unmeasured => "too little of the daylight was logged to judge",
        DayState::Short => "clearly less came than the sky offered",
        DayState::Full => "part of the offer was held back: no loss where the bank was full",
        DayState::Dull => "little sun, so little harvest",
        DayState::Ok => "the harvest fits what the sky offered",
        DayState::Unclear => "cannot be told from this day's readings",
    }
}

/// The word for a day: its state, or a starred one where charge was held back though the bank was not seen to
/// get full.
pub fn of_day(day: &Day) -> String {
    if held_unfilled(day) {
        STARRED.0.to_owned()
    } else {
        day.state.word().to_owned()
    }
}

/// Whether charge was held back on a day on which the bank did not get full.
pub fn held_unfilled(day: &Day) -> bool {
    day.state == DayState::Full && day.reached_full == Some(false)
}

/// What the star of [`of_day`] means.
pub const STARRED: (&str, &str) = (
    "held*",
    "the bank was not full: something else kept charge out; the reason beside the day says what",
);

/// A battery chemistry as owners write it.
pub fn chemistry(code: &str) -> &str {
    match code {
        "lfp" => "LFP",
        "agm" => "AGM",
        "nmc" => "NMC",
        other => other,
    }
}

/// The label of a figure of evidence, where its key without the unit does not say enough.
pub fn evidence(key: &str) -> Option<&'static str> {
    Some(match key {
        "at_a" => "at a current of",
        "drop_v" => "voltage lost",
        "heat_w" => "turned into heat",
        "lost_wh" => "energy lost",
        "held_min" => "held for",
        "held_v" => "held at",
        "lowest_pct" => "lowest charge",
        "lowest_pct_range" => "its range",
        "lowest_v" => "lowest voltage",
        "from_time" => "from",
        "to_time" => "until",
        "depth_range" => "its range",
        "sun_from_deg" => "sun bearing from",
        "sun_to_deg" => "sun bearing to",
        "depth" => "depth (1 is all)",
        "scale" => "scale (1 is the design)",
        "ratio" => "first over second",
        "false_full" => "false full charges",
        "string_voc_v" => "open string voltage",
        _ => return None,
    })
}

/// What a severity asks of the owner.
pub fn deed(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "a danger: stop using or charging until looked at",
        Severity::Fix => "worth a job",
        Severity::Watch => "keep an eye on it",
        Severity::Fine => "nothing needs mending",
    }
}

/// How a confidence is meant; the same words everywhere.
pub fn confidence(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::High => "the readings leave little room for another cause",
        Confidence::Medium => "the likeliest cause",
        Confidence::Low => "a hint; check before you spend money",
    }
}

/// How sure a verdict is, in words: of one without a cause they are others.
pub fn sure(verdict: &Verdict) -> &'static str {
    match (verdict.limiting, verdict.confidence) {
        (Limiting::Nothing, Confidence::High) => {
            "the readings leave little room for a hidden fault"
        }
        (Limiting::Nothing, Confidence::Medium) => {
            "nothing speaks against it, but a fault could hide from what this log shows"
        }
        (Limiting::Nothing, Confidence::Low) => "there were too few such days to be sure",
        (Limiting::Log, _) => "no cause is named on such a log",
        (_, sure) => confidence(sure),
    }
}

/// The area that limits, in words.
pub fn limiting(limiting: Limiting) -> &'static str {
    match limiting {
        Limiting::Nothing => "nothing limits",
        Limiting::Sun => "limited by the sun",
        Limiting::Use => "limited by use",
        Limiting::Array => "limited by the panels",
        Limiting::Wiring => "limited by the wiring",
        Limiting::Settings => "limited by settings",
        Limiting::Battery => "limited by the bank",
        Limiting::Log => "limited by the log",
    }
}

/// What the check of a finding is for, as a job to do.
pub fn job(kind: &str) -> &'static str {
    match kind {
        "harvest-short" => "Find which part of the array gives less",
        "array-weak" => "Wash half the panels and compare",
        "array-part-out" => "Find the string or panel that is out",
        "array-dark" => "Find where the array's circuit is open",
        "shade-repeating" => "Find what throws the shadow",
        "controller-limiting" => "See what limits the controller",
        "drop-battery-cable" => "Find the joint that takes the voltage",
        "drop-array-cable" => "Measure what is lost between panels and controller",
        "drop-rising" => "Find the joint that is getting worse",
        "meter-offset" => "Find which of the two meters is wrong",
        "never-full" => "Watch one sunny day's charge to its end",
        "absorption-short" => "See what ends absorption too soon",
        "charge-voltage-low" => "Compare the charge voltage with what is set",
        "charge-voltage-high" => "Measure the charge voltage, and lower it",
        "soc-unreliable" => "Put the monitor's settings right",
        "capacity-low" => "Measure what the bank holds",
        "bank-drained" => "See how low the bank really gets",
        "cell-limit-passed" => "Measure every cell",
        "cold-charge" => "See how cold the bank gets",
        "hot-charge" => "See how hot the bank gets",
        "charge-current-high" => "Measure the whole charge current",
        "runaway-signs" => "Stop charging, then find what is hot",
        "charge-loss-high" => "Find where the charge is lost",
        "battery-resistance-high" => "Find where the voltage sags under load",
        "load-over-budget" => "Find the circuit that takes more than planned",
        "standby-high" => "Find what draws with everything off",
        "use-exceeds-harvest" => "Find what uses most",
        "log-gaps" => "Find why the log stops",
        "clock-off" => "Compare the logger's clock with the right time",
        "current-reversed" => "See which way the current counts",
        "current-offset" => "See whether the ammeter rests at zero",
        "logs-disagree" => "Find which of the two meters is wrong",
        "cold-voltage-over-limit" => "Reckon the array's voltage on the coldest morning",
        "controller-undersized" => "See what the controller is made for",
        "cable-undersized" => "See what the cable is made for",
        "fuse-unsuitable" => "See what the fuse is made for",
        _ => "Check it",
    }
}

/// A finding's heading. A kind this version does not know is shown by its own name.
pub fn finding(kind: &str) -> String {
    let known = match kind {
        "harvest-short" => "Harvest falls short of the sky",
        "array-weak" => "Panels give less than they should",
        "array-part-out" => "Part of the array is out",
        "array-dark" => "Nothing from the array in daylight",
        "shade-repeating" => "Shade at the same hour",
        "controller-limiting" => "Controller at its limit",
        "drop-battery-cable" => "Drop between controller and bank",
        "drop-array-cable" => "Drop between panels and controller",
        "drop-rising" => "The drop is growing",
        "meter-offset" => "Two meters disagree",
        "never-full" => "The bank is not getting full",
        "absorption-short" => "Absorption ends too soon",
        "charge-voltage-low" => "Charge voltage too low",
        "charge-voltage-high" => "Charge voltage too high",
        "soc-unreliable" => "State of charge cannot be trusted",
        "capacity-low" => "The bank holds less than its label",
        "bank-drained" => "Bank drained below its reserve",
        "cell-limit-passed" => "A cell limit was passed",
        "cold-charge" => "Charged while too cold",
        "hot-charge" => "Charged while too hot",
        "charge-current-high" => "Charge current too high",
        "runaway-signs" => "Signs of the bank running away",
        "charge-loss-high" => "Much of the charge is lost",
        "battery-resistance-high" => "High resistance in the bank",
        "load-over-budget" => "Use above its budget",
        "standby-high" => "High standing use",
        "use-exceeds-harvest" => "More is used than harvested",
        "log-gaps" => "Gaps in the log",
        "clock-off" => "A clock is off",
        "current-reversed" => "Current logged the wrong way round",
        "current-offset" => "The ammeter does not rest at zero",
        "logs-disagree" => "Two meters of one thing differ",
        "cold-voltage-over-limit" => "Array voltage too high in the cold",
        "controller-undersized" => "Controller too small for the array",
        "cable-undersized" => "Cable too thin",
        "fuse-unsuitable" => "Fuse does not suit the cable",
        other => {
            let step = step(other).0;
            let mut letters = step.chars();
            return match letters.next() {
                Some(first) => {
                    first.to_uppercase().collect::<String>()
                        + &letters.as_str().replace(['-', '_'], " ")
                }
                None => String::new(),
            };
        }
    };
    known.to_string()
}

/// The parts of a system under which findings are grouped, in the order of the energy's way.
pub const GROUPS: [&str; 6] = [
    "panels",
    "controller",
    "wiring",
    "bank",
    "use",
    "meters and log",
];

/// The group of [`GROUPS`] that a kind of finding belongs to.
pub fn group(kind: &str) -> &'static str {
    match kind {
        "harvest-short"
        | "array-weak"
        | "array-part-out"
        | "array-dark"
        | "shade-repeating"
        | "cold-voltage-over-limit" => "panels",
        "controller-limiting"
        | "controller-undersized"
        | "charge-voltage-low"
        | "charge-voltage-high"
        | "absorption-short" => "controller",
        "drop-battery-cable" | "drop-array-cable" | "drop-rising" | "cable-undersized"
        | "fuse-unsuitable" => "wiring",
        "never-full"
        | "capacity-low"
        | "bank-drained"
        | "cell-limit-passed"
        | "cold-charge"
        | "hot-charge"
        | "charge-current-high"
        | "runaway-signs"
        | "charge-loss-high"
        | "battery-resistance-high" => "bank",
        "load-over-budget" | "standby-high" | "use-exceeds-harvest" => "use",
        _ => "meters and log",
    }
}

/// What ruled the array, by the letter of the profile: word and explanation.
pub fn regime(letter: char) -> (&'static str, &'static str) {
    match letter {
        'd' => ("dark", "no sun to speak of"),
        'f' => ("following", "the array gives what the sun offers"),
        'h' => (
            "held",
            "the voltage set is reached, and the controller holds the array back",
        ),
        'r' => ("refused", "the bank refuses charge"),
        'l' => ("limited", "the controller is at its largest output"),
        'x' => (
            "disconnected",
            "the array gives nothing though the sun is up",
        ),
        'g' => ("gap", "nothing logged"),
        _ => ("unknown", "cannot be told"),
    }
}

/// Trade words used in reports.
pub const GLOSSARY: [(&str, &str); 16] = [
    (
        "90 % range",
        "Printed in brackets after a figure: nine times in ten the true figure lies inside.",
    ),
    (
        "absorption",
        "The stage of charging at which the controller holds a set voltage while the current tapers off.",
    ),
    (
        "Ah, ampere-hour",
        "Charge: one ampere for one hour. Times the voltage it gives Wh.",
    ),
    (
        "allowance",
        "What a healthy array of this kind gives of its label in ordinary dirt and mismatch.",
    ),
    ("bank", "All batteries of the system taken together."),
    (
        "clear day",
        "What the array, as designed, would give under a cloudless sky at that date and place.",
    ),
    (
        "controller",
        "The charge controller between panels and bank.",
    ),
    (
        "full charge",
        "Held near the absorption voltage until the current has tapered off; the lamp alone does not tell.",
    ),
    (
        "held back",
        "Energy that was there for the taking and not taken. Where the bank was full it is no loss; where a voltage, a limit or a joint kept it out of a bank with room, as much is lost as the bank still lacked. Never a loss of the panels.",
    ),
    (
        "m\u{3a9}, milliohm",
        "Resistance. 10 m\u{3a9} at 20 A takes 0.2 V.",
    ),
    (
        "offered",
        "What the day's real sky and heat offered to the array as designed.",
    ),
    ("planned", "What the design counted on."),
    ("reserve", "The state of charge you mean to stay above."),
    (
        "state of charge",
        "How full the bank is, in percent. A meter's figure is an estimate.",
    ),
    ("W, Wh", "Power, and energy: one watt for one hour."),
    (
        "yield, h",
        "Energy over the label power of the array: hours a day at full label power.",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::catalogue::RULES;

    #[test]
    fn every_kind_that_is_looked_for_has_a_title_in_words() {
        for kind in RULES.iter().map(|r| r.kind) {
            let own_name = kind.replace('-', " ");
            assert_ne!(finding(kind).to_lowercase(), own_name, "{kind}");
            assert_ne!(job(kind), job("no kind"), "{kind} has no job");
        }
    }
}
