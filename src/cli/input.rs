//! What comes in from the command line: typed quantities, files, and the formulary.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::diagnostic::{Fault, Source};
use crate::formulary::{Faulty, Formulary, NotNamed};
use crate::quantity;

/// Refused input: each source with its faults.
#[derive(Debug)]
pub(crate) struct Refused(pub(super) Vec<(Source, Vec<Fault>)>);

impl Refused {
    /// One fault of something that is not a file.
    pub(super) fn one(name: &str, fault: Fault) -> Self {
        Self(vec![(Source::new(name, ""), vec![fault])])
    }

    /// For two people who must not learn each other's values from a refusal: no excerpt, nothing that was typed.
    pub(super) fn blind(mut self) -> Self {
        for (source, faults) in &mut self.0 {
            source.withhold(0..source.text.len());
            *faults = std::mem::take(faults).into_iter().map(Fault::blind).collect();
        }
        self
    }

    pub(super) fn first_message(&self) -> String {
        self.0.iter().flat_map(|(_, faults)| faults).next().map(|fault| fault.message.clone()).unwrap_or_default()
    }
}

/// Reads the text of an option by a grammar of `quantity`.
pub(super) fn argument<T>(
    name: &str,
    text: &str,
    parse: impl FnOnce(&str) -> Result<T, quantity::Refused>,
) -> Result<T, Refused> {
    parse(text).map_err(|refused| {
        let fault =
            Fault::new(refused.problem.code(), refused.to_string()).in_field(name).at(refused.range).help(refused.help);
        Refused(vec![(Source::new(name, text), vec![fault])])
    })
}

/// As [`argument`], for an option that may be left out.
pub(super) fn optional<T>(
    name: &str,
    text: Option<&String>,
    parse: impl FnOnce(&str) -> Result<T, quantity::Refused>,
) -> Result<Option<T>, Refused> {
    text.map(|text| argument(name, text, parse)).transpose()
}

#[derive(Debug, Args)]
pub(super) struct FormularyArg {
    /// The folder of the formulary, or `demonstration` for the one inside the program
    /// [default: a folder `formulary` where this is run]
    #[arg(long, value_name = "DIR", env = "COUNTERSIGN_FORMULARY", hide_env_values = true)]
    pub(super) formulary: Option<PathBuf>,
}

impl FormularyArg {
    /// The folder, where it is one. No formulary is ever assumed.
    pub(super) fn folder(&self) -> Result<PathBuf, Refused> {
        match &self.formulary {
            Some(folder) => Ok(folder.clone()),
            None if Path::new("formulary").is_dir() => Ok(PathBuf::from("formulary")),
            None => {
                let fault = Fault::new("formulary-not-named", "no formulary is named, and there is no folder `formulary` here")
                    .help("name the hospital's: --formulary DIR, or set COUNTERSIGN_FORMULARY; `--formulary demonstration` is for trying out");
                Err(Refused::one("--formulary", fault))
            }
        }
    }

    /// With every drug read: for a batch, and for the pharmacist.
    pub(super) fn open_whole(&self) -> Result<Formulary, Refused> {
        let formulary = self.open()?;
        formulary.load_all().map_err(Refused::from)?;
        Ok(formulary)
    }

    pub(super) fn open(&self) -> Result<Formulary, Refused> {
        let folder = self.folder()?;
        let opened: Result<Formulary, Faulty> =
            if folder.as_os_str() == "demonstration" { Formulary::demonstration() } else { Formulary::open(&folder) };
        opened.map_err(Refused::from)
    }
}

impl From<NotNamed> for Refused {
    fn from(not_named: NotNamed) -> Self {
        Self::one("formulary", Fault::new(not_named.code, not_named.message).help(not_named.help))
    }
}
