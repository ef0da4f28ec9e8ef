//! What was found: one file a kind.
