//! `case order`: an electronic order into its case, sealed and unread.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use crate::case::SetUpCode;
use crate::cli::answer::Answer;
use crate::cli::desk::CaseArgs;
use crate::cli::entry_file::CommandError;
use crate::cli::input::{FormularyArg, Refused};
use crate::cli::{Exit, Format};
use crate::document::{ENTRY_LIMIT, read_file};

#[derive(Debug, Args)]
pub(in crate::cli) struct OrderArgs {
    /// The case, with the number of the set-up where it has several
    code: String,
    /// The order: a FHIR R4 MedicationRequest as JSON; - is standard input
    file: PathBuf,
    #[command(flatten)]
    formulary: FormularyArg,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn order(args: &OrderArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let code = SetUpCode::parse(&args.code)?;
    let formulary = args.formulary.open()?;
    let name = args.file.display().to_string();
    let text = read_file(&args.file, ENTRY_LIMIT).map_err(|fault| Refused::one(&name, fault))?;
    let set_up = cases.seal_order(code, &text, &formulary, now)?;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "sealed": set_up.to_string()}), Exit::Proceed),
        Format::Text => {
            let says = "Sealed. It is compared when two people agree; until then nobody reads it.";
            Answer::text(format!("{set_up}\n{says}\n"), Exit::Proceed)
        }
    })
}
