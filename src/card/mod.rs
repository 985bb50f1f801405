//! An agreement in, a set-up card out: neutral blocks, and one renderer per format.
//!
//! A [`Card`] cannot be had without an `Agreed`. It shows one rate, once, and no other number in mL/h.

mod block;
mod build;
mod json;
mod scale;
mod text;

use crate::agreement::Agreed;
use crate::quantity::Moment;

pub use block::{Block, Found, Mark, Row, Scale};
pub(crate) use build::DEMONSTRATION;
pub use text::WIDTH;
pub(crate) use text::wrapped;

/// A set-up card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Card {
    blocks: Vec<Block>,
}

impl Card {
    /// The card of an agreement, held at `at`.
    #[must_use]
    pub fn of(agreed: &Agreed<'_>, at: Moment) -> Self {
        Self { blocks: build::blocks(agreed, at) }
    }

    /// The blocks, in reading order.
    #[must_use]
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// For a terminal or a printer of 80 columns.
    #[must_use]
    pub fn text(&self) -> String {
        text::render(self)
    }

    /// The same as data.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        json::render(self)
    }
}
