//! Text with a unit, as owners write it, into base units.

/// What kind of quantity a key holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// V.
    Voltage,
}

/// Why a quantity could not be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// Not a number with a unit.
    #[error("not a quantity")]
    Malformed,
}

/// Parses `text` as a quantity of the given dimension into its base unit.
pub fn parse(_text: &str, _dimension: Dimension) -> Result<f64, QuantityError> {
    Err(QuantityError::Malformed)
}
