//! What the design would have given, moment by moment.
