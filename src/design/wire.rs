//! Conductor sizes as the trade writes them.

use super::system::WireSize;
use crate::quantity::{self, Dimension};

/// Reads `16 mm2`, `6 AWG`, `AWG 6`, `2/0 AWG`, `0000 AWG`.
///
/// # Errors
/// A text that says what is wrong with the given one and shows the right form. Metric sizes from
/// 0.05 to 1000 mm2 and gauges from 4/0 to 40 are accepted.
pub fn wire_size(text: &str) -> Result<WireSize, String> {
    let given = text.trim();
    let lower = given.to_ascii_lowercase();
    if let Some(gauge) = lower
        .strip_suffix("awg")
        .or_else(|| lower.strip_prefix("awg"))
    {
        return gauge_number(gauge.trim()).map(WireSize::Awg).ok_or_else(|| {
            format!("\"{given}\" is no wire gauge; 40 to 0 and 1/0 to 4/0 are, for instance \"6 AWG\" or \"2/0 AWG\"")
        });
    }
    let area = quantity::parse(given, Dimension::Area).map_err(|e| format!("{e} or \"6 AWG\""))?;
    match area {
        a if (0.05..=1000.0).contains(&a) => Ok(WireSize::Metric(a)),
        _ => Err(format!(
            "\"{given}\" is outside what is possible, 0.05 mm2 to 1000 mm2"
        )),
    }
}

/// The number a gauge counts as: 0 for 1/0, -1 for 2/0, -2 for 3/0, -3 for 4/0.
fn gauge_number(text: &str) -> Option<i32> {
    match text {
        "1/0" | "0" => Some(0),
        "2/0" | "00" => Some(-1),
        "3/0" | "000" => Some(-2),
        "4/0" | "0000" => Some(-3),
        digits => digits.parse().ok().filter(|n| (1..=40).contains(n)),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn metric_sizes_and_gauges() {
        assert_eq!(wire_size("16 mm2").unwrap(), WireSize::Metric(16.0));
        assert_eq!(wire_size("2.5mm²").unwrap(), WireSize::Metric(2.5));
        assert_eq!(wire_size("6 AWG").unwrap(), WireSize::Awg(6));
        assert_eq!(wire_size("awg 10").unwrap(), WireSize::Awg(10));
        assert_eq!(wire_size("2/0 AWG").unwrap(), WireSize::Awg(-1));
        assert_eq!(wire_size("0000AWG").unwrap(), WireSize::Awg(-3));
        assert!(wire_size("6").unwrap_err().contains("6 AWG"));
        assert!(wire_size("5/0 AWG").unwrap_err().contains("4/0"));
        assert!(wire_size("0 mm2").unwrap_err().contains("outside"));
    }
}
