//! Pure numerics: regression, resampling, intervals.

pub mod lines;
pub mod quantile;
pub mod regression;
pub mod resample;
pub mod student;
