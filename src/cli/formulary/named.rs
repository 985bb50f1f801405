//! A formulary as a pharmacist names it: a folder, the demonstration, or the fingerprint of one that a journal keeps.

use std::path::Path;

use clap::Args;

use crate::cli::input::Refused;
use crate::diagnostic::Fault;
use crate::formulary::Formulary;

#[derive(Debug, Args)]
pub(super) struct Named {
    #[cfg(feature = "journal")]
    #[command(flatten)]
    journal: crate::cli::journal_arg::JournalArg,
}

/// So many digits of a fingerprint, at least.
const SHORTEST: usize = 8;

impl Named {
    pub(super) fn open(&self, name: &str) -> Result<Formulary, Refused> {
        if name == "demonstration" {
            return Formulary::demonstration().map_err(Refused::from);
        }
        if Path::new(name).is_dir() {
            return Formulary::open(Path::new(name)).map_err(Refused::from);
        }
        let is_fingerprint = name.len() >= SHORTEST && name.bytes().all(|byte| byte.is_ascii_hexdigit());
        let fault = if is_fingerprint {
            #[cfg(feature = "journal")]
            if let Some(found) = self.kept(name)? {
                return Ok(found);
            }
            Fault::new("formulary-not-kept", format!("the journal keeps no formulary of the fingerprint `{name}`"))
                .help("name the journal with --journal DIR, or the formulary's folder")
        } else {
            Fault::new("formulary-not-named", format!("`{name}` is no folder, and no fingerprint"))
                .help("name a folder, `demonstration`, or eight and more hexadecimal digits of a fingerprint")
        };
        Err(Refused::one(name, fault))
    }

    /// The cases of the journal, where one is named.
    #[cfg(feature = "journal")]
    pub(super) fn cases(&self) -> Result<Option<crate::case::Cases>, Refused> {
        if !self.journal.is_named() {
            return Ok(None);
        }
        let journal = self.journal.open().map_err(crate::cli::journal_arg::Trouble::refused)?;
        Ok(Some(crate::case::Cases::of(journal)))
    }

    #[cfg(feature = "journal")]
    fn kept(&self, fingerprint: &str) -> Result<Option<Formulary>, Refused> {
        let Some(cases) = self.cases()? else { return Ok(None) };
        cases.kept_formulary(&fingerprint.to_ascii_lowercase()).map_err(|error| {
            let fault = Fault::new("formulary-not-kept", error.to_string()).help("run `countersign journal verify`");
            Refused::one("the journal", fault)
        })
    }
}
