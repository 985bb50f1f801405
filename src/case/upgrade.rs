//! Writes down what was decided in cases of an older form, before a later program would have to work it out.

use crate::quantity::Moment;

use super::Cases;
use super::error::CaseError;
use super::state::Case;

/// What an upgrade of a journal did.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Upgraded {
    /// How many decisions were written down, each sealed as its entries are.
    pub written: usize,
    /// How many decisions were kept before.
    pub kept: usize,
    /// How many cases were passed over, because they were forgotten or their key is not here.
    pub passed_over: usize,
    /// What cannot be decided any more, or not be read, with why: such a case goes on by what people say.
    pub not_readable: Vec<String>,
}

impl Cases {
    /// Writes down every decision that is not kept yet, case by case: what is done in one stays done where the next fails.
    /// A second run finds nothing to do. No event that is there is touched.
    ///
    /// # Errors
    /// When the journal cannot be read or written.
    pub fn upgrade(&mut self, now: Moment) -> Result<Upgraded, CaseError> {
        let mut upgraded = Upgraded::default();
        for code in self.codes()? {
            match self.case(code) {
                Ok(case) if case.key().is_err() => upgraded.passed_over += 1,
                Ok(case) => {
                    upgraded.count(&case);
                    if !case.drafts_of_decisions()?.is_empty() {
                        upgraded.written +=
                            self.act(now, code, |case, _| Ok((Vec::new(), case.drafts_of_decisions()?.len())))?;
                    }
                }
                Err(CaseError::Journal(error)) => return Err(error.into()),
                Err(error) => upgraded.not_readable.push(format!("case {code}: {error}")),
            }
        }
        Ok(upgraded)
    }
}

impl Upgraded {
    fn count(&mut self, case: &Case) {
        for set_up in &case.set_ups {
            for reading in &set_up.readings {
                self.kept += reading.decisions.iter().filter(|decided| decided.is_kept).count();
                let lost = reading.decisions.iter().filter_map(|decided| decided.decision.as_ref().err());
                self.not_readable.extend(lost.map(|why| format!("{} reading {}: {why}", set_up.code, reading.number)));
            }
        }
    }
}
