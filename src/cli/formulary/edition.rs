//! A formulary as a person names one: a folder, `demonstration`, or the fingerprint of one that a journal keeps.

use std::path::Path;

use clap::Args;

#[cfg(feature = "journal")]
use crate::case::Cases;
use crate::cli::entry_file::CommandError;
use crate::cli::input::Refused;
#[cfg(feature = "journal")]
use crate::cli::journal_arg::JournalArg;
use crate::diagnostic::Fault;
use crate::formulary::Formulary;

/// Where formularies are looked for besides folders.
#[derive(Debug, Args)]
pub(super) struct Editions {
    #[cfg(feature = "journal")]
    #[command(flatten)]
    pub(super) journal: JournalArg,
}

/// A formulary and the name it was opened by.
pub(super) struct Opened {
    pub(super) formulary: Formulary,
    name: String,
}

/// Number of digits of a fingerprint that are enough to look for it.
const DIGITS: usize = 8;

impl Editions {
    /// Opens the formulary that is named so, with every drug read. A folder of that name comes first.
    pub(super) fn open(&self, which: &str, name: &str) -> Result<Opened, CommandError> {
        let formulary = if name == "demonstration" {
            Formulary::demonstration().map_err(Refused::from)?
        } else if is_fingerprint(name) && !Path::new(name).exists() {
            self.kept(which, name)?
        } else {
            Formulary::open(Path::new(name)).map_err(Refused::from)?
        };
        formulary.load_all().map_err(Refused::from)?;
        Ok(Opened { formulary, name: name.to_owned() })
    }

    #[cfg(feature = "journal")]
    fn kept(&self, which: &str, name: &str) -> Result<Formulary, CommandError> {
        let cases = Cases::of(self.journal.open().map_err(CommandError::Journal)?);
        let mut found = cases.kept_formularies(&name.to_ascii_lowercase())?;
        let fault = match found.len() {
            1 => return Ok(found.remove(0)),
            0 => Fault::new("formulary-not-kept", format!("the journal keeps no formulary `{name}`")).help(
                "write the first digits of its fingerprint as a card shows it: a journal keeps what its entries were made with",
            ),
            many => {
                let all: Vec<String> = found.iter().map(|one| one.fingerprint().to_string()).collect();
                Fault::new("formulary-not-one", format!("{many} kept formularies begin with `{name}`"))
                    .help(format!("write more digits: {}", all.join(", ")))
            }
        };
        Err(Refused::one(which, fault).into())
    }

    #[cfg(not(feature = "journal"))]
    #[expect(clippy::unused_self, reason = "with a journal, it is looked for in it")]
    fn kept(&self, which: &str, name: &str) -> Result<Formulary, CommandError> {
        let fault = Fault::new("formulary-not-kept", format!("there is no folder `{name}`, and no journal to look in"));
        Err(Refused::one(which, fault.help("name a folder, or `demonstration`")).into())
    }
}

impl Opened {
    /// To be tried out before anybody approves it.
    pub(super) fn taken_as_approved(self) -> Self {
        Self { formulary: self.formulary.taken_as_approved(), ..self }
    }

    /// The name and the first digits of the fingerprint.
    pub(super) fn said(&self) -> String {
        let fingerprint = self.formulary.fingerprint().to_string();
        let policy = self.formulary.policy();
        let short = &fingerprint[..2 * DIGITS];
        if is_fingerprint(&self.name) {
            format!("{} (fingerprint {short})", policy.version)
        } else {
            format!("{} ({}, fingerprint {short})", self.name, policy.version)
        }
    }

    pub(super) const fn is_for_demonstration(&self) -> bool {
        self.formulary.policy().demonstration
    }
}

fn is_fingerprint(name: &str) -> bool {
    name.len() >= DIGITS && name.bytes().all(|byte| byte.is_ascii_hexdigit())
}
