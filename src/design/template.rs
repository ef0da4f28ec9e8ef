//! The design file an owner starts from.

/// A commented design file, complete as it stands: `ampledger new FILE` writes it.
pub fn template() -> &'static str {
    include_str!("template.toml")
}
