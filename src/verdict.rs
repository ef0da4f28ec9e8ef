//! Findings told as one story: what limits, and what to do first.
