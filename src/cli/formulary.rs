//! `formulary`: what the pharmacist keeps.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde_json::json;

use crate::diagnostic::Fault;
use crate::formulary::{APPROVERS, Standing, approval_text, different_people};
use crate::upkeep::survey;

use super::answer::Answer;
use super::input::{FormularyArg, Refused};
use super::{Against, Exit, Format};

#[derive(Debug, Subcommand)]
pub(super) enum FormularyCommand {
    /// Every problem of every file, with its place
    Lint(KeepArgs),
    /// The SHA-256 of every file, and of all of them
    Fingerprint(KeepArgs),
    /// Every usual dose, strength and weight against the checks: alerts per 100
    Survey(KeepArgs),
    /// Writes approval.yaml for exactly these bytes, in the name of two people
    Approve(ApproveArgs),
}

#[derive(Debug, Args)]
pub(super) struct KeepArgs {
    /// The folder of the formulary [default: as for --formulary]
    folder: Option<PathBuf>,
    #[command(flatten)]
    against: Against,
}

#[derive(Debug, Args)]
pub(super) struct ApproveArgs {
    /// The name of a person who approves; twice
    #[arg(long, required = true, value_name = "NAME")]
    by: Vec<String>,
    #[command(flatten)]
    keep: KeepArgs,
}

impl KeepArgs {
    fn source(&self) -> FormularyArg {
        FormularyArg { formulary: self.folder.clone().or_else(|| self.against.formulary.formulary.clone()) }
    }
}

pub(super) fn run(command: &FormularyCommand) -> Answer {
    let (answer, format) = match command {
        FormularyCommand::Lint(args) => (lint(args), args.against.format()),
        FormularyCommand::Fingerprint(args) => (fingerprint(args), args.against.format()),
        FormularyCommand::Survey(args) => (surveyed(args), args.against.format()),
        FormularyCommand::Approve(args) => (approve(args), args.keep.against.format()),
    };
    answer.unwrap_or_else(|refused| Answer::refused(&refused, format))
}

fn lint(args: &KeepArgs) -> Result<Answer, Refused> {
    let source = args.source();
    let formulary = match source.open() {
        Ok(formulary) => formulary,
        Err(mut refused) => {
            refused.0.retain(|(_, faults)| !faults.is_empty());
            return Err(refused);
        }
    };
    let drugs = formulary.load_all().map_err(Refused::from)?.len();
    let standing = match formulary.standing() {
        Standing::Approved { by, on } => format!("approved by {} on {on}", by.join(" and ")),
        Standing::Unapproved => "not approved: every set-up is stopped until it is".to_owned(),
        Standing::Altered { changed } => format!("altered after its approval: {}", changed.join(", ")),
    };
    Ok(match args.against.format() {
        Format::Json => {
            Answer::json(&json!({"version": 1, "faults": [], "drugs": drugs, "standing": standing}), Exit::Proceed)
        }
        Format::Text => Answer::text(format!("{drugs} drugs, no problems; {standing}\n"), Exit::Proceed),
    })
}

fn fingerprint(args: &KeepArgs) -> Result<Answer, Refused> {
    let formulary = args.source().open()?;
    let fingerprint = formulary.fingerprint();
    Ok(match args.against.format() {
        Format::Json => {
            let files: serde_json::Map<String, serde_json::Value> =
                fingerprint.manifest().iter().map(|(path, sum)| (path.clone(), json!(sum))).collect();
            Answer::json(&json!({"version": 1, "fingerprint": fingerprint.to_string(), "files": files}), Exit::Proceed)
        }
        Format::Text => {
            let mut text = String::new();
            for (path, sum) in fingerprint.manifest() {
                let _ = writeln!(text, "{sum}  {path}");
            }
            let _ = writeln!(text, "{fingerprint}  (the lines above)");
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn surveyed(args: &KeepArgs) -> Result<Answer, Refused> {
    let formulary = args.source().open_whole()?;
    let now = args.against.now.moment()?;
    let survey = survey::survey(&formulary, now)
        .map_err(|message| Refused::one("survey", Fault::new("survey", message).help("run `formulary lint`")))?;
    Ok(match args.against.format() {
        Format::Json => Answer::json(&survey.json(), Exit::Proceed),
        Format::Text => Answer::text(survey.text(), Exit::Proceed),
    })
}

fn approve(args: &ApproveArgs) -> Result<Answer, Refused> {
    let refuse = |code, message: String, help: &str| Refused::one("--by", Fault::new(code, message).help(help));
    if different_people(&args.by) < APPROVERS {
        let message = "a formulary is approved by two different people".to_owned();
        return Err(refuse("approval-by-one", message, "give --by twice, with two names"));
    }
    let folder = args.keep.source().folder()?;
    if folder.as_os_str() == "demonstration" {
        let message = "the demonstration inside the program cannot be approved anew".to_owned();
        return Err(refuse("approval-not-a-folder", message, "name a folder"));
    }
    let formulary = args.keep.source().open_whole()?;
    let on = args.keep.against.now.moment()?.date();
    let text = approval_text(&args.by, on, formulary.fingerprint());
    let path = folder.join("approval.yaml");
    std::fs::write(&path, text).map_err(|error| {
        Refused::one(
            &path.display().to_string(),
            Fault::new("file-not-written", error.to_string()).help("look at the permissions of the folder"),
        )
    })?;
    let said = format!("{} approved by {} on {on}\n", formulary.fingerprint(), args.by.join(" and "));
    Ok(match args.keep.against.format() {
        Format::Json => {
            Answer::json(&json!({"version": 1, "fingerprint": formulary.fingerprint().to_string()}), Exit::Proceed)
        }
        Format::Text => Answer::text(said, Exit::Proceed),
    })
}
