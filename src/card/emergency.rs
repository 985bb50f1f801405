//! The card of one entry that nobody checked: for when there is no second person. It says so in every format, what lies
//! beyond the limits stands first, in capitals, and what cannot be computed truthfully has no card at all.

use crate::check::{Checked, Finding, Severity, Stop};
use crate::quantity::Moment;

use super::build::{self, Drawn};
use super::{Blocks, Provenance};

/// The card of an entry that nobody checked. Another type than a [`super::Card`], so that none is taken for the other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EmergencyCard {
    blocks: Blocks,
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
        let drawn = Drawn { first: checked, second: None, findings, sum, at, provenance };
        Ok(Self { blocks: Blocks::of(build::blocks(&drawn)) })
    }

    /// The same card with the signed code of its data, which does not hold it.
    #[must_use]
    pub fn with_code(self, code: String) -> Self {
        Self { blocks: self.blocks.with_code(code) }
    }
}

/// Everything that it is drawn from and into.
impl std::ops::Deref for EmergencyCard {
    type Target = Blocks;

    fn deref(&self) -> &Blocks {
        &self.blocks
    }
}
