//! An agreement in, a set-up card out: neutral blocks, and one renderer per format.
//!
//! A [`Card`] cannot be had without an `Agreed`; an [`EmergencyCard`] can, and says so. Both show one rate, large and
//! once; the rates of other doses stand apart and small, each behind its dose.

mod arrives;
mod block;
mod blocked;
mod blocks;
mod build;
mod course;
mod draw;
mod emergency;
mod emptying;
mod html;
mod json;
pub mod label;
mod ladder;
mod layout;
mod lifted;
mod made;
mod page;
#[cfg(feature = "journal")]
mod recount;
mod steps;
mod text;

use crate::agreement::Agreed;
use crate::quantity::Moment;

pub use block::{
    Arrives, Band, Block, BolusRate, CardFinding, Emptying, FactRow, Ladder, LadderRow, Lead, Reached, Scale, ScaleMark,
};
pub use blocks::{Blocks, Rendering};
pub(crate) use build::DEMONSTRATION;
#[cfg(feature = "journal")]
pub(crate) use build::microgram_in_full;
pub use emergency::EmergencyCard;
pub use page::NoPage;
pub use text::WIDTH;
pub(crate) use text::wrapped;

/// What stands above a code.
const CODE_HEADING: &str = "Code, for `countersign case verify`";

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
        /// What the second entry could have known.
        independence: Independence,
    },
}

/// What the author of the second entry could have known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Independence {
    /// Nothing: both entries are blind and signed.
    Two,
    /// An emergency entry, as typed and signed by nobody, and its card.
    AfterEmergency,
    /// The rate at which it was started before two people agreed.
    AfterStart,
}

/// A set-up card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Card {
    blocks: Blocks,
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
        Self { blocks: Blocks::of(build::blocks(&drawn)) }
    }

    /// The same card with the signed code of its data, which does not hold it.
    #[must_use]
    pub fn with_code(self, code: String) -> Self {
        Self { blocks: self.blocks.with_code(code) }
    }
}

/// Everything that it is drawn from and into.
impl std::ops::Deref for Card {
    type Target = Blocks;

    fn deref(&self) -> &Blocks {
        &self.blocks
    }
}
