//! Reads a display back: what the driver shows, held against the card or the record.

use crate::case::code::SetUpCode;
use crate::case::data::ReadBackDone;
use crate::case::error::CaseError;
use crate::case::record_event::{ReadBack, Shown};
use crate::case::{Cases, HELD};

use super::Actor;

/// What is read off a display: each value under its name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ReadDisplay {
    /// As typed; what is blank is left out.
    pub shown: Vec<Shown>,
    /// A note on a difference, which stays outstanding all the same.
    pub because: Option<String>,
}

impl ReadDisplay {
    /// How a value of a display is typed: the same for every driver.
    #[must_use]
    pub fn hint(value: &str) -> &'static str {
        HELD.iter().find(|(held, _)| *held == value).map_or("optional", |(_, hint)| hint)
    }

    /// Records what the driver shows, and what of it differs.
    ///
    /// # Errors
    /// When there is nothing to hold it against, or a value cannot be read.
    pub fn run(
        &self,
        cases: &mut Cases,
        code: SetUpCode,
        by: Actor<'_>,
    ) -> Result<(ReadBack, ReadBackDone), CaseError> {
        let trimmed =
            self.shown.iter().map(|one| Shown { value: one.value.clone(), typed: one.typed.trim().to_owned() });
        let shown: Vec<Shown> = trimmed.filter(|one| !one.typed.is_empty()).collect();
        let because = self.because.as_deref().map(str::trim).filter(|text| !text.is_empty());
        let read_back = cases.read_back(code, (by.person, by.signer), &shown, because, by.now)?;
        let data = ReadBackDone::of(code, &read_back);
        Ok((read_back, data))
    }
}
