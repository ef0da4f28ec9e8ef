//! How far an owner's instruments are off, where nothing in the log tells it (trade reference 11). Each is
//! half of a 90 % range: 1.65 of the standard deviations stated there.

/// Gain of an ammeter, and so of a power made with it, share.
pub const GAIN: f64 = 0.0165;
/// Zero of a shunt, A.
pub const ZERO_A: f64 = 0.08;
