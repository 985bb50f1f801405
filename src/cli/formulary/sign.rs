//! `formulary sign`: the author signs exactly these bytes, for a second pharmacist to read.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use crate::cli::answer::Answer;
use crate::cli::ask::terminal_or_lines;
use crate::cli::desk::{CaseArgs, SignedBy};
use crate::cli::entry_file::CommandError;
use crate::cli::input::{FormularyArg, Refused};
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::formulary::Formulary;
use crate::pharmacy::approval::{ApprovalError, Proposal};

#[derive(Debug, Args)]
pub(crate) struct SignArgs {
    #[command(flatten)]
    pub(super) proposed: Proposed,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

/// The proposed formulary.
#[derive(Debug, Args)]
pub(super) struct Proposed {
    /// The folder of the formulary [default: as for --formulary]
    folder: Option<PathBuf>,
    #[command(flatten)]
    formulary: FormularyArg,
}

impl Proposed {
    /// Its folder, and the formulary with every drug read.
    pub(super) fn open(&self) -> Result<(PathBuf, Formulary), CommandError> {
        let named = FormularyArg { formulary: self.folder.clone().or_else(|| self.formulary.formulary.clone()) };
        let folder = named.folder()?;
        Ok((folder, named.open_whole()?))
    }
}

pub(super) fn run(args: &SignArgs) -> Answer {
    signed(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

fn signed(args: &SignArgs) -> Result<Answer, CommandError> {
    let (folder, formulary) = args.proposed.open()?;
    let (mut cases, now) = args.desk.open()?;
    let mut ask = terminal_or_lines();
    let (author, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let proposal = Proposal::of(&cases, &folder, formulary)?;
    let approval = proposal.sign(&mut cases, now, (&author, &signer))?;
    let fingerprint = proposal.formulary.fingerprint().to_string();
    let changes = &proposal.changes;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(
            &json!({
                "version": 1,
                "fingerprint": fingerprint,
                "since": approval.since(),
                "author": author.name,
                "to_be_typed": changes.typed.len(),
                "to_be_read": changes.words.len(),
            }),
            Exit::Proceed,
        ),
        Format::Text => {
            let since = match approval.since() {
                Some(since) => format!("Changed since {since} was approved"),
                None => "No formulary was approved here before".to_owned(),
            };
            let folder = folder.display();
            let said = format!(
                "{fingerprint} is signed by {}; nobody has approved it yet.\n{since}: {} to be typed, {} to be read.\nNow another pharmacist, from the sources: countersign formulary approve {folder} --as NAME\n",
                author.name,
                counted(changes.typed.len(), "value"),
                counted(changes.words.len(), "text")
            );
            Answer::text(said, Exit::Proceed)
        }
    })
}

impl From<ApprovalError> for CommandError {
    fn from(not_done: ApprovalError) -> Self {
        let (code, help) = (not_done.code(), not_done.help());
        match not_done {
            ApprovalError::Case(error) => error.into(),
            ApprovalError::File { path, why } => {
                Refused::one(&path.display().to_string(), Fault::new(code, why.to_string()).help(help)).into()
            }
            other => Refused::one("formulary", Fault::new(code, other.to_string()).help(help)).into(),
        }
    }
}

pub(super) fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
