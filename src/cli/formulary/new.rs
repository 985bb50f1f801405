//! `formulary new`: a folder to begin with.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::cli::answer::Answer;
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::pharmacy::template;

#[derive(Debug, Args)]
pub(crate) struct NewArgs {
    /// The folder that is made; it must not be there yet
    folder: PathBuf,
}

pub(super) fn run(args: &NewArgs) -> Answer {
    let folder = args.folder.display();
    match write_folder(&args.folder, template::FILES) {
        Err(refused) => Answer::refused(&refused, Format::Text),
        Ok(()) => Answer::text(
            format!(
                "{folder}: one area and one drug with invented values, for demonstration\nChange the values and their sources, then write `demonstration: false` in {folder}/formulary.yaml\nNow: countersign formulary lint {folder}\n"
            ),
            Exit::Proceed,
        ),
    }
}

/// Makes a folder of a formulary; files that exist stay as they are.
pub(super) fn write_folder<P: AsRef<str>, T: AsRef<str>>(
    folder: &Path,
    files: impl IntoIterator<Item = (P, T)>,
) -> Result<(), Refused> {
    let name = folder.display().to_string();
    if folder.symlink_metadata().is_ok() {
        let fault = Fault::new("folder-is-there", "this is there already, and nothing is ever overwritten");
        return Err(Refused::one(&name, fault.help("name a folder that is not there yet")));
    }
    let write = || -> std::io::Result<()> {
        std::fs::create_dir(folder)?;
        std::fs::create_dir(folder.join("drugs"))?;
        files.into_iter().try_for_each(|(path, text)| std::fs::write(folder.join(path.as_ref()), text.as_ref()))
    };
    write().map_err(|error| {
        let fault = Fault::new("file-not-written", error.to_string());
        Refused::one(&name, fault.help("look at the folder above it and its permissions"))
    })
}
