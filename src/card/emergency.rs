//! The card of one entry that nobody checked: for when there is no second person. It says so in every format, what lies
//! beyond the limits stands first, in capitals, and what cannot be computed truthfully has no card at all.

use crate::check::{Checked, Finding, Severity, Stop};
use crate::quantity::Moment;

use super::block::Block;
use super::build::{self, Drawn};
use super::{Form, NoPage, Provenance, code, drawn, html, json, page, text};

/// The card of an entry that nobody checked. Another type than a [`super::Card`], so that none is taken for the other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EmergencyCard {
    blocks: Vec<Block>,
}

impl EmergencyCard {
    /// The card of one entry, made at `at`.
    ///
    /// # Errors
    /// The findings that say why nothing true can be computed.
    pub fn of<'c>(checked: &'c Checked<'_>, at: Moment, provenance: &Provenance) -> Result<Self, Vec<&'c Finding>> {
        let impossible = |finding: &&Finding| finding.severity() == Severity::Stop(Stop::Impossible);
        let stops: Vec<&Finding> = checked.findings().iter().filter(impossible).collect();
        let sum = match checked.computed().sum() {
            Ok(sum) if stops.is_empty() => sum,
            _ => return Err(stops),
        };
        let findings = checked.findings().iter().collect();
        Ok(Self { blocks: build::blocks(&Drawn { first: checked, second: None, findings, sum, at, provenance }) })
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
