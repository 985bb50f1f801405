//! `formulary sign`: the author signs exactly these bytes, for a second pharmacist to read.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use crate::cli::answer::Answer;
use crate::cli::ask::whoever_is_here;
use crate::cli::desk::{Desk, SignedBy};
use crate::cli::entry_file::NoAnswer;
use crate::cli::input::{FormularyArg, Refused};
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::formulary::{Approval, Formulary};
use crate::upkeep::approval::Changes;

#[derive(Debug, Args)]
pub(crate) struct SignArgs {
    #[command(flatten)]
    pub(super) proposed: Proposed,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: Desk,
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
    pub(super) fn open(&self) -> Result<(PathBuf, Formulary), NoAnswer> {
        let named = FormularyArg { formulary: self.folder.clone().or_else(|| self.formulary.formulary.clone()) };
        let folder = named.folder()?;
        Ok((folder, named.open_whole()?))
    }
}

pub(super) fn run(args: &SignArgs) -> Answer {
    signed(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

fn signed(args: &SignArgs) -> Result<Answer, NoAnswer> {
    let (folder, formulary) = args.proposed.open()?;
    let (mut cases, now) = args.desk.open()?;
    let mut ask = whoever_is_here();
    let (author, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let changes = between(cases.approved_last()?.as_ref(), &formulary)?;
    let approval = cases.sign_formulary(now, &author, &signer, &formulary)?;
    write(&folder, &approval)?;
    let fingerprint = formulary.fingerprint().to_string();
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

/// What is otherwise than in the formulary that was approved before.
pub(super) fn between(old: Option<&Formulary>, new: &Formulary) -> Result<Changes, NoAnswer> {
    Changes::between(old, new).map_err(|message| {
        let fault = Fault::new("sheet-not-written", message).help("run `countersign formulary lint`");
        Refused::one("formulary", fault).into()
    })
}

/// Writes the approval beside the files, whole or not at all.
pub(super) fn write(folder: &Path, approval: &Approval) -> Result<(), NoAnswer> {
    let (path, beside) = (folder.join("approval.yaml"), folder.join(".approval.new"));
    std::fs::write(&beside, approval.text()).and_then(|()| std::fs::rename(&beside, &path)).map_err(|error| {
        let fault = Fault::new("file-not-written", error.to_string());
        let help = "look at the permissions of the folder, and do it once more";
        Refused::one(&path.display().to_string(), fault.help(help)).into()
    })
}

pub(super) fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
