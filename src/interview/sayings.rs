//! What owners say, in the words a design takes. Only where one thing alone can be meant.

use std::path::{Component, Path};

use crate::design::keys::{self, Kind};
use crate::quantity::{Dimension, of_wind};

/// What people call a chemistry, without spaces and marks, and its word. Lead alone is three things.
const CHEMISTRIES: [(&str, &str); 12] = [
    ("lithium", "lfp"),
    ("lifepo4", "lfp"),
    ("lithiumironphosphate", "lfp"),
    ("liion", "nmc"),
    ("lithiumion", "nmc"),
    ("glassmat", "agm"),
    ("absorbentglassmat", "agm"),
    ("leadgel", "gel"),
    ("wet", "flooded"),
    ("floodedlead", "flooded"),
    ("wetlead", "flooded"),
    ("openlead", "flooded"),
];

/// An answer as the design takes it, where that differs from how it was said.
pub(super) fn meant(path: &str, said: &str) -> Option<String> {
    let kind = keys::find(path)?.kind;
    let plain = letters(said);
    let meant = match kind {
        Kind::Word(words) => {
            let same = words.iter().find(|word| letters(word) == plain);
            same.map(|word| (*word).to_owned()).or_else(|| {
                let known = CHEMISTRIES.iter().find(|known| known.0 == plain);
                known
                    .filter(|known| words.contains(&known.1))
                    .map(|known| known.1.to_owned())
            })
        }
        Kind::Quantity(Dimension::Angle, ..) => match said.parse::<f64>() {
            Ok(_) => Some(format!("{said} deg")),
            Err(_) => of_wind(&plain).map(|bearing| format!("{bearing} deg")),
        },
        Kind::Zone | Kind::ZoneOrLocal => crate::calendar::of_city(said).map(str::to_owned),
        _ => None,
    };
    meant.filter(|meant| meant != said)
}

/// Why an answer cannot be taken although it is well written: it names several things at once, or files
/// that a design does not read.
pub(super) fn refusal(path: &str, said: &str) -> Option<&'static str> {
    if path == "log.files" && lies_outside(said) {
        return Some(
            "A design reads only what lies in its folder or below it: put it beside the logs or above them, or leave this empty and name the logs to reconcile",
        );
    }
    let lead = ["lead", "leadacid", "leisure", "sealedlead", "sla"];
    (path == "battery.chemistry" && lead.contains(&letters(said).as_str())).then_some(
        "Lead is of three kinds that are charged differently: agm or gel where it is sealed and says so, flooded where it has caps for water",
    )
}

/// Whether a file or pattern leads out of the folder it is written in.
fn lies_outside(files: &str) -> bool {
    let path = Path::new(files);
    path.is_absolute() || path.components().any(|part| part == Component::ParentDir)
}

/// Letters and digits alone, small.
fn letters(text: &str) -> String {
    let kept = text.chars().filter(|c| c.is_alphanumeric());
    kept.flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_owners_say_becomes_what_a_design_takes() {
        for (path, said, expected) in [
            ("battery.chemistry", "LiFePO4", Some("lfp")),
            ("battery.chemistry", "AGM", Some("agm")),
            ("battery.chemistry", "agm", None),
            ("battery.chemistry", "lead", None),
            ("controller.method", "MPPT", Some("mppt")),
            ("array.facing", "south", Some("180 deg")),
            ("array.facing", "South-West", Some("225 deg")),
            ("array.facing", "SSE", Some("157.5 deg")),
            ("array.facing", "180", Some("180 deg")),
            ("array.tilt", "30", Some("30 deg")),
            ("array.facing", "180 deg", None),
            ("place.timezone", "Zurich", Some("Europe/Zurich")),
            ("place.timezone", "new york", Some("America/New_York")),
            ("place.timezone", "Europe/Zurich", None),
            ("place.timezone", "Atlantis", None),
            ("battery.capacity", "200", None),
        ] {
            assert_eq!(meant(path, said).as_deref(), expected, "{path} = {said}");
        }
    }

    #[test]
    fn what_cannot_be_taken_is_refused() {
        assert!(refusal("battery.chemistry", "lead-acid").is_some());
        assert!(refusal("battery.chemistry", "gel").is_none());
        assert!(refusal("system.name", "lead").is_none());
        assert!(refusal("log.files", "../logs/*.csv").is_some());
        assert!(refusal("log.files", "logs/*.csv").is_none());
    }
}
