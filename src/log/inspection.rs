//! How each file was understood.

use serde::Serialize;

/// What `inspect` shows.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Inspection {}
