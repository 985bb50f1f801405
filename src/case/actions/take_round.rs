//! The round at a handover: every driver read blind, then the second signature.

use serde::{Deserialize, Serialize};

use crate::case::Cases;
use crate::case::code::CaseCode;
use crate::case::error::CaseError;
use crate::case::rounds::{DriverTyped, RoundRead};

use super::Actor;

/// Every driver that is at the patient, as the person who takes over reads it, without the record.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct TakeRound {
    /// Each driver: the drug and the strength on its syringe, the rate on its display, and its slot where it has one.
    pub drivers: Vec<DriverTyped>,
}

/// The second signature of the last round: of somebody who did not read it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct SignRound {}

/// What a round came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct RoundShown {
    version: u8,
    case: String,
    /// Whether the second person has signed.
    pub signed: bool,
    /// What differs from the record, in words; each stays outstanding until it is put right.
    pub differences: Vec<String>,
}

impl RoundShown {
    fn of_round(case: CaseCode, round: &RoundRead, signed: bool) -> Self {
        Self { version: 1, case: case.to_string(), signed, differences: round.differences.clone() }
    }
}

impl TakeRound {
    /// Writes the round down, and names what differs.
    ///
    /// # Errors
    /// When a field cannot be read.
    pub fn run(&self, cases: &mut Cases, code: CaseCode, by: Actor<'_>) -> Result<RoundShown, CaseError> {
        let round = cases.take_round(code, (by.person, by.signer), &self.drivers, by.now)?;
        Ok(RoundShown::of_round(code, &round, false))
    }
}

impl SignRound {
    /// Signs the last round.
    ///
    /// # Errors
    /// When none waits, or the same person read it.
    pub fn run(self, cases: &mut Cases, code: CaseCode, by: Actor<'_>) -> Result<RoundShown, CaseError> {
        let round = cases.sign_round(code, (by.person, by.signer), by.now)?;
        Ok(RoundShown::of_round(code, &round, true))
    }
}
