//! Pure numerics: regression, resampling, intervals.
