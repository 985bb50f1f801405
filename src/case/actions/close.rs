//! Accounts for what was drawn up: the volumes that are found at the end, with a witness where the drug asks for one.

use crate::case::data::{Closed, owed_for};
use crate::case::error::CaseError;
use crate::case::people::Person;
use crate::case::{Cases, Closing, Owed, SetUpCode, VolumesRead};
use crate::journal::Signer;
use crate::quantity::{Moment, Quantity, Volume};

use super::{Actor, optional, read, request, when};

request! {
    /// What is found when a set-up comes to its end, each volume with its unit.
    Close {
        in_line: Option<String> = "What stayed in the line", "with its unit: 0.9 mL, or 0 mL";
        left: Option<String> = "What was left in the syringes and is kept", "with its unit: 0.9 mL, or 0 mL";
        discarded: Option<String> = "What was discarded", "with its unit: 0.9 mL, or 0 mL";
        driver_total: Option<String> = "Volume given, by the driver itself", "optional; with its unit: 19.2 mL";
        reason: Option<String> = "Why the two sides differ, where they do", "";
        time: Option<String> = "When it was done", "14:05; left out, now";
        late: Option<String> = "Why it is written down only now", "after more than 10 minutes";
    }
}

/// What became of it.
#[derive(Debug)]
pub struct Accounted {
    /// Closed, or to be read again.
    pub closing: Closing,
    /// What is outstanding.
    pub owed: Vec<Owed>,
    /// As data.
    pub data: Closed,
}

impl Close {
    /// Reads every field, before anybody is asked to sign.
    ///
    /// # Errors
    /// When one cannot be read.
    pub fn check(&self, now: Moment) -> Result<(), CaseError> {
        self.volumes()?;
        when(self.time.as_ref(), self.late.as_ref(), now).map(|_| ())
    }

    /// Accounts for it, or keeps it as a reading.
    ///
    /// # Errors
    /// When a field cannot be read, it runs still, or a witness is needed and is not another person.
    pub fn run(
        &self,
        cases: &mut Cases,
        code: SetUpCode,
        by: Actor<'_>,
        witness: Option<(&Person, &Signer)>,
    ) -> Result<Accounted, CaseError> {
        let (volumes, when) = (self.volumes()?, when(self.time.as_ref(), self.late.as_ref(), by.now)?);
        let reason = self.reason.as_deref().map(str::trim).filter(|reason| !reason.is_empty());
        let signed = (by.person, by.signer);
        let (closing, _) = cases.close(code, signed, volumes, witness, &when, reason, by.now)?;
        let owed = owed_for(cases, code, by.current, by.now)?;
        let seen_by = witness.map(|(person, _)| person.name.as_str());
        let data = Closed::of(cases, code, &closing, (reason, seen_by), &owed);
        Ok(Accounted { closing, owed, data })
    }

    fn volumes(&self) -> Result<VolumesRead, CaseError> {
        let volume = |field, typed: &Option<String>| {
            read(field, typed.as_deref().unwrap_or_default(), Quantity::<Volume>::parse_or_zero)
        };
        let total = self.driver_total.as_ref().filter(|text| !text.trim().is_empty());
        Ok(VolumesRead {
            in_line: volume("in_line", &self.in_line)?,
            left: volume("left", &self.left)?,
            discarded: volume("discarded", &self.discarded)?,
            driver_total: optional("driver_total", total, Quantity::<Volume>::parse_or_zero)?,
        })
    }
}
