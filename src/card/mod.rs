//! An agreement in, a set-up card out: neutral blocks, and one renderer per format.
//!
//! A [`Card`] cannot be had without an `Agreed`; an [`EmergencyCard`] can, and says so. Both show one rate, once, and no other number in mL/h.

mod block;
mod build;
mod draw;
mod emergency;
mod html;
mod json;
pub mod label;
mod scale;
mod text;

use crate::agreement::Agreed;
use crate::quantity::Moment;

pub use block::{Block, Found, Mark, Row, Scale};
pub(crate) use build::DEMONSTRATION;
pub use emergency::EmergencyCard;
pub use text::WIDTH;
pub(crate) use text::wrapped;

/// Where the entries of a card come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Provenance {
    /// Two files on one desk: names as typed, not verified.
    Files,
    /// A case in a journal.
    Case {
        /// The set-up, as people say it: `K7M-4QX/1`.
        code: String,
        /// Which journal.
        journal: String,
        /// How far the journal had come with the last of these entries.
        head: String,
        /// Whether the first entry was signed under a PIN; an emergency entry was not.
        first_signed: bool,
    },
}

/// A set-up card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Card {
    blocks: Vec<Block>,
}

impl Card {
    /// The card of an agreement, held at `at`.
    #[must_use]
    pub fn of(agreed: &Agreed<'_>, at: Moment, provenance: &Provenance) -> Self {
        let pair = agreed.pair();
        let drawn = build::Drawn {
            first: pair.first(),
            second: Some(pair.second()),
            findings: pair.findings(),
            sum: agreed.sum(),
            at,
            provenance,
        };
        Self { blocks: build::blocks(&drawn) }
    }

    /// The blocks, in reading order.
    #[must_use]
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// For a terminal or a printer of 80 columns.
    #[must_use]
    pub fn text(&self) -> String {
        text::render(&self.blocks)
    }

    /// One page for a browser or a printer: no script, nothing fetched.
    #[must_use]
    pub fn html(&self) -> String {
        html::render(&self.blocks)
    }

    /// The same as data.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        json::render(&self.blocks)
    }
}
