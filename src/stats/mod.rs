//! Pure numerics: regression, resampling, intervals.

pub mod bounded;
pub mod lines;
pub mod quantile;
pub mod regression;
pub mod resample;
pub mod student;
