//! An agreement in, a set-up card out: neutral blocks, and one renderer per format.
//!
//! A [`Card`] cannot be had without an `Agreed`; an [`EmergencyCard`] can, and says so. Both show one rate, once, and no other number in mL/h.

mod arrives;
mod block;
mod build;
mod draw;
mod emergency;
mod emptying;
mod html;
mod json;
pub mod label;
mod page;
mod scale;
mod text;

use crate::agreement::Agreed;
use crate::quantity::Moment;

pub use block::{Arrives, Band, Block, Emptying, Found, Mark, Reached, Row, Scale};
pub(crate) use build::DEMONSTRATION;
pub use emergency::EmergencyCard;
pub use page::NoPage;
pub use text::WIDTH;
pub(crate) use text::wrapped;

/// What stands above a code.
const CODE_HEADING: &str = "Code, for `countersign case verify`";

/// How a card is drawn for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// 80 columns of plain characters.
    Text,
    /// A page for a browser.
    Html,
    /// A sheet as SVG.
    Svg,
    /// A sheet as PDF.
    #[cfg(feature = "pdf")]
    Pdf,
}

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

    /// The same card with the signed code of its data, [`Self::json`], which does not hold it.
    #[must_use]
    pub fn with_code(mut self, code: String) -> Self {
        self.blocks.push(Block::Code(code));
        self
    }

    /// Its code; one from two files has none.
    #[must_use]
    pub fn code(&self) -> Option<&str> {
        code(&self.blocks)
    }

    /// In one of these forms.
    ///
    /// # Errors
    /// [`NoPage`], where a sheet is asked for and one cannot hold it, or the font lacks a character.
    pub fn drawn(&self, form: Form) -> Result<Vec<u8>, NoPage> {
        drawn(&self.blocks, form)
    }

    /// One sheet of A5, or of A4 where there is more to say, as an SVG file: nothing fetched.
    ///
    /// # Errors
    /// [`NoPage`], where one sheet cannot hold it.
    pub fn svg(&self) -> Result<String, NoPage> {
        page::svg(&self.blocks)
    }

    /// The same as a PDF file.
    ///
    /// # Errors
    /// [`NoPage`], where one sheet cannot hold it, or the font lacks a character.
    #[cfg(feature = "pdf")]
    pub fn pdf(&self) -> Result<Vec<u8>, NoPage> {
        page::pdf(&self.blocks)
    }

    /// The same as data.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        json::render(&self.blocks)
    }
}

fn code(blocks: &[Block]) -> Option<&str> {
    blocks.iter().find_map(|block| match block {
        Block::Code(code) => Some(code.as_str()),
        _ => None,
    })
}

fn drawn(blocks: &[Block], form: Form) -> Result<Vec<u8>, NoPage> {
    match form {
        Form::Text => Ok(text::render(blocks).into_bytes()),
        Form::Html => Ok(html::render(blocks).into_bytes()),
        Form::Svg => page::svg(blocks).map(String::into_bytes),
        #[cfg(feature = "pdf")]
        Form::Pdf => page::pdf(blocks),
    }
}
