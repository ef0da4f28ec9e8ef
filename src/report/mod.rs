//! The result and its renderers: each a pure function of [`model::Report`].
//!
//! A renderer formats and adds up; it judges nothing and computes no physics.

mod action;
mod cancelled;
pub mod charts;
pub mod compare_text;
pub mod comparison;
pub mod days_csv;
mod days_text;
pub mod format;
mod held_back;
pub mod html;
mod inputs;
pub mod json;
pub mod model;
mod open;
mod page;
pub mod plan_text;
pub mod planning;
pub mod post;
pub mod schema;
pub mod series;
pub mod spans;
pub mod text;
pub mod weigh_text;
pub mod weighing;
pub mod words;
pub mod write;

#[cfg(test)]
mod demo;
