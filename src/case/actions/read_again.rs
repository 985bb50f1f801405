//! Reads the weight again, and identifiers that were to follow: one person each time, alone.

use crate::case::code::CaseCode;
use crate::case::data::ReadAgain;
use crate::case::error::CaseError;
use crate::case::{Cases, IdentifiersRead, ReadAgainDone, WeightRead};

use super::Actor;

/// A weight as one person reads it off the scale or the order, with where it comes from: both as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadWeight {
    /// With its unit.
    pub weight: String,
    /// `measured`, and the other words of the form.
    pub from: String,
}

/// Identifiers as one person reads them off the wristband.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadIdentifiers {
    /// Each as typed.
    pub identifiers: Vec<String>,
}

impl ReadWeight {
    /// Seals it; where two people read the same, what rests on it is counted again.
    ///
    /// # Errors
    /// When it cannot be read, nothing is agreed yet, or the same person reads it twice.
    pub fn run(
        &self,
        cases: &mut Cases,
        code: CaseCode,
        by: Actor<'_>,
    ) -> Result<(ReadAgainDone, ReadAgain), CaseError> {
        let read = WeightRead { weight: self.weight.trim().to_owned(), from: self.from.trim().to_owned() };
        let done = cases.read_weight(code, by.signer, &read, by.now)?;
        let data = ReadAgain::of(code, "weight", &done);
        Ok((done, data))
    }
}

impl ReadIdentifiers {
    /// Seals them; they count once two people have read the same.
    ///
    /// # Errors
    /// When there are fewer than the formulary asks for, or the same person reads them twice.
    pub fn run(
        &self,
        cases: &mut Cases,
        code: CaseCode,
        by: Actor<'_>,
    ) -> Result<(ReadAgainDone, ReadAgain), CaseError> {
        let identifiers = self.identifiers.iter().map(|text| text.trim().to_owned()).collect();
        let done = cases.read_identifiers(code, by.signer, &IdentifiersRead { identifiers }, by.now)?;
        let data = ReadAgain::of(code, "identifiers", &done);
        Ok((done, data))
    }
}
