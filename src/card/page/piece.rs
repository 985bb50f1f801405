//! What stands on a sheet: what it is, and its place.

use crate::card::draw::Sketch;

/// Something that is read as one, with its place.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub(super) role: Role,
    pub(super) sketch: Sketch,
    pub(super) at: (f64, f64),
    /// How much larger it is than it was drawn.
    pub(super) scale: f64,
}

/// What a piece is, for those who have it read to them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Role {
    /// The name of the card, or of a section.
    Heading { level: u8, text: String },
    /// Text.
    Paragraph,
    /// A picture, in words.
    Figure(String),
    /// A frame or a rule.
    Ornament,
}
