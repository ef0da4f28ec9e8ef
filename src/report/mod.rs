//! The result and its renderers: each a pure function of [`model::Report`].

pub mod charts;
pub mod model;
