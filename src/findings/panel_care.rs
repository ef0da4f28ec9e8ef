//! The safety line of every check at the panels, in one wording.

/// What to mind at live panels.
pub(super) const CAUTION: &str = "Panels are live in daylight and can't be switched off: cover them, and open the array's disconnect before any connector is pulled; an arc drawn at these voltages does not go out by itself. Treat more than 60 V DC as dangerous to touch, more than 30 V on a wet deck or roof. No work on a roof alone or in the wet. Local code and a licensed practitioner come first.";
