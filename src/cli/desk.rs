//! What every command about cases needs: the journal, who signs, the moment, and how its answer is written.

use clap::Args;

use crate::case::{CaseCode, CaseError, Cases, People, Person, SetUpCode, unlock};
use crate::diagnostic::{Fault, Source};
use crate::formulary::Formulary;
use crate::journal::{Access, AccessKind, Journal, JournalError, Signer};
use crate::quantity::Moment;

use super::ask::Ask;
use super::entry_file::CommandError;
use super::input::{FormularyArg, Refused};
use super::journal_arg::JournalArg;
use super::{Common, Drawing, Format, Now};

/// The journal, the moment, the format.
#[derive(Debug, Args)]
pub(super) struct CaseArgs<F: Args = Common> {
    #[command(flatten)]
    journal: JournalArg,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: F,
}

/// Who signs.
#[derive(Debug, Args)]
pub(super) struct SignedBy {
    /// Who does this; the PIN is asked
    #[arg(long = "as", value_name = "NAME")]
    pub(super) name: String,
}

/// The formulary of now, where one is named.
#[derive(Debug, Args)]
pub(super) struct Current {
    #[command(flatten)]
    formulary: FormularyArg,
}

impl CaseArgs {
    pub(super) const fn format(&self) -> Format {
        self.common.format
    }
}

impl CaseArgs<Drawing> {
    /// For what is no card.
    pub(super) const fn format(&self) -> Format {
        self.common.plain()
    }

    pub(super) const fn drawing(&self) -> &Drawing {
        &self.common
    }
}

impl<F: Args> CaseArgs<F> {
    /// How the answer is written.
    pub(super) const fn common(&self) -> &F {
        &self.common
    }

    /// The folder of the journal that is named.
    pub(super) fn folder(&self) -> Option<&std::path::Path> {
        self.journal.folder()
    }

    /// The moment, where the journal cannot say whether it is one for patients.
    pub(super) fn moment(&self) -> Result<Moment, CommandError> {
        Ok(self.now.local_moment()?)
    }

    /// Opens the journal, and says which moment it is. In a journal for patients only the clock says so.
    pub(super) fn open(&self) -> Result<(Cases, Moment), CommandError> {
        let journal = self.journal.open().map_err(CommandError::Journal)?;
        if self.now.at.is_some() && !journal.is_demonstration() {
            let fault = Fault::new("time-is-the-clock", "in a journal for patients, the clock says which moment it is")
                .help("leave --at out; what happened before is recorded with --time and the reason for being late");
            return Err(Refused::one("--at", fault).into());
        }
        Ok((Cases::of(journal), self.now.local_moment()?))
    }
}

impl SignedBy {
    /// Asks for the PIN and opens the key.
    pub(super) fn unlock(
        &self,
        cases: &mut Cases,
        now: Moment,
        ask: &mut dyn Ask,
    ) -> Result<(Person, Signer), CommandError> {
        let known = People::of(cases.journal())?.active(&self.name, now)?.name.clone();
        let pin = ask.secret(&format!("PIN of {known}:"))?;
        Ok(unlock(cases.journal_mut(), now, &self.name, &pin)?)
    }
}

impl Current {
    /// The formulary, if one is named or there is a folder of that name here.
    pub(super) fn open(&self) -> Result<Option<Formulary>, CommandError> {
        let named = self.formulary.formulary.is_some() || std::path::Path::new("formulary").is_dir();
        Ok(if named { Some(self.formulary.open()?) } else { None })
    }
}

/// Writes down that somebody at the command line read something. It never keeps anything back: what cannot be written is
/// left out.
pub(super) fn note_read(journal: &Journal, now: Moment, kind: AccessKind, case: Option<CaseCode>) {
    let scope = case.map(|code| code.to_string());
    let access = Access { kind, who: None, scope, from: "the command line".to_owned() };
    let _ = journal.accesses().and_then(|mut log| log.note(now, &access));
}

/// The one set-up that is meant: named, or the only one of its case.
pub(super) fn one_set_up(cases: &Cases, code: &str) -> Result<SetUpCode, CommandError> {
    let (case, number) = SetUpCode::parse(code)?;
    let folded = cases.case(case)?;
    let number = match (number, folded.set_ups.len()) {
        (Some(number), _) => folded.set_up(number)?.code.number,
        (None, 1) => 1,
        (None, many) => {
            let fault = Fault::new("which-set-up", format!("case {case} has {many} set-ups"))
                .help(format!("write which one: {case}/1"));
            return Err(Refused::one(code, fault).into());
        }
    };
    Ok(SetUpCode { case, number })
}

impl From<CaseError> for CommandError {
    fn from(error: CaseError) -> Self {
        match error {
            CaseError::Refused(refusal) => {
                let fault = Fault::new(refusal.code, refusal.message).help(refusal.help);
                match (refusal.field, refusal.typed) {
                    (Some(field), Some((text, part))) => {
                        Refused(vec![(Source::new(field, text), vec![fault.in_field(field).at(part)])]).into()
                    }
                    (field, _) => Refused::one(field.unwrap_or("the journal"), fault).into(),
                }
            }
            CaseError::Form(faults) => Refused(faults).into(),
            CaseError::Journal(error) => error.into(),
            CaseError::Fault(message) => Self::Fault(message),
        }
    }
}

impl From<JournalError> for CommandError {
    fn from(error: JournalError) -> Self {
        Self::Journal(error.into())
    }
}
