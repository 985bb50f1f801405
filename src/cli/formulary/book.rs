//! `formulary book`: the whole formulary as one page to be printed.

use std::path::PathBuf;

use clap::Args;

use crate::cli::answer::Answer;
use crate::cli::input::{FormularyArg, Refused};
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::pharmacy::book;

#[derive(Debug, Args)]
pub(crate) struct BookArgs {
    /// The folder of the formulary [default: as for --formulary]
    folder: Option<PathBuf>,
    /// The file that is written [default: standard output]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    #[command(flatten)]
    formulary: FormularyArg,
}

pub(super) fn run(args: &BookArgs) -> Answer {
    written(args).unwrap_or_else(|refused| Answer::refused(&refused, Format::Text))
}

fn written(args: &BookArgs) -> Result<Answer, Refused> {
    let source = FormularyArg { formulary: args.folder.clone().or_else(|| args.formulary.formulary.clone()) };
    let formulary = source.open_whole()?;
    let book = book::book(&formulary).map_err(Refused::from)?;
    let Some(path) = &args.output else { return Ok(Answer::text(book, Exit::Proceed)) };
    std::fs::write(path, book).map_err(|error| {
        let fault = Fault::new("file-not-written", error.to_string());
        Refused::one(&path.display().to_string(), fault.help("look at the permissions of the folder"))
    })?;
    Ok(Answer::text(format!("{}: {} drugs\n", path.display(), formulary.usable().len()), Exit::Proceed))
}
