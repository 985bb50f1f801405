//! `formulary editions` and `formulary recall`: every approved edition of a journal, its files again, and its end.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use crate::case::{Cases, MadeWith};
use crate::cli::answer::Answer;
use crate::cli::ask::terminal_or_lines;
use crate::cli::desk::{CaseArgs, SignedBy};
use crate::cli::entry_file::CommandError;
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::pharmacy::editions::{EditionReport, editions};

#[derive(Debug, Args)]
pub(crate) struct EditionsArgs {
    /// Writes the files of one edition, named by the first digits of its fingerprint, into a new folder
    #[arg(long, num_args = 2, value_names = ["FINGERPRINT", "FOLDER"])]
    get: Vec<String>,
    #[command(flatten)]
    desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(crate) struct RecallArgs {
    /// The first digits of its fingerprint
    fingerprint: String,
    /// Why it is not to be used: everybody whose card is void is told
    #[arg(long)]
    why: String,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    desk: CaseArgs,
}

pub(super) fn list(args: &EditionsArgs) -> Answer {
    listed(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

pub(super) fn recall(args: &RecallArgs) -> Answer {
    recalled(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

fn listed(args: &EditionsArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    if let [fingerprint, folder] = args.get.as_slice() {
        return written(&cases, fingerprint, &PathBuf::from(folder));
    }
    let (editions, outside) = editions(&cases, now)?;
    Ok(match args.desk.format() {
        Format::Json => {
            let data: Vec<Value> = editions.iter().map(data).collect();
            Answer::json(&json!({"version": 1, "editions": data, "runs_outside": outside}), Exit::Proceed)
        }
        Format::Text if editions.is_empty() => {
            Answer::text("No formulary was approved in this journal.\n".to_owned(), Exit::Proceed)
        }
        Format::Text => {
            let mut text = editions.iter().rev().map(text).collect::<Vec<_>>().join("\n");
            if !outside.is_empty() {
                text += "\nRuns now, outside the limits in use\n";
            }
            outside.iter().for_each(|says| crate::card::wrapped(&mut text, "  ", says));
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn text(EditionReport { edition, changed, made }: &EditionReport) -> String {
    let version = edition.version.as_deref().unwrap_or("(cannot be read by this program)");
    let mut out = String::new();
    crate::card::wrapped(&mut out, "", &format!("{version}: {}", edition.stands()));
    crate::card::wrapped(&mut out, "  ", &edition.approved());
    let _ = writeln!(out, "  {}", edition.fingerprint);
    for (risk, count) in changed {
        crate::card::wrapped(&mut out, "  ", &format!("{}: {count}", risk.says()));
    }
    out + &made_text(made)
}

fn made_text(made: &[MadeWith]) -> String {
    let mut out = String::new();
    for (runs, head) in [(true, "runs"), (false, "card not started")] {
        for one in made.iter().filter(|one| one.runs == runs) {
            crate::card::wrapped(&mut out, "  ", &format!("{head}: {}", one.named));
        }
    }
    out
}

fn data(EditionReport { edition, changed, made }: &EditionReport) -> Value {
    let changed: Vec<Value> = changed.iter().map(|(risk, count)| json!({"risk": risk, "count": count})).collect();
    let recalled = edition.recalled.as_ref();
    json!({
        "fingerprint": edition.fingerprint, "version": edition.version, "approved_at": edition.at.to_rfc3339(),
        "approved_by": edition.by, "typed": edition.typed, "typed_by": edition.typed_by, "typed_again": edition.typed_again, "in_use": edition.in_use,
        "recalled": recalled.map(|(at, by, why)| json!({"at": at.to_rfc3339(), "by": by, "why": why})),
        "changed": changed, "set_ups": made_data(made),
    })
}

fn made_data(made: &[MadeWith]) -> Vec<Value> {
    made.iter().map(|one| json!({"named": one.named, "runs": one.runs})).collect()
}

fn written(cases: &Cases, fingerprint: &str, folder: &std::path::Path) -> Result<Answer, CommandError> {
    let mut kept = cases.kept_formularies(&fingerprint.to_ascii_lowercase())?;
    let Some(formulary) = kept.pop().filter(|_| kept.is_empty()) else {
        let fault = Fault::new("edition-unknown", format!("`{fingerprint}` names no kept formulary, or more than one"));
        return Err(
            Refused::one("--get", fault.help("see `countersign formulary editions`, and write more digits")).into()
        );
    };
    super::new::write_folder(folder, formulary.files().iter().map(|(path, text)| (path, text)))?;
    let said = format!("{}: {}, {}\n", folder.display(), formulary.policy().version, formulary.fingerprint());
    Ok(Answer::text(said, Exit::Proceed))
}

fn recalled(args: &RecallArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let mut ask = terminal_or_lines();
    let (person, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let edition = cases.recall_formulary(now, &person, &signer, &args.fingerprint, &args.why)?;
    let made = cases.made_with(&edition.fingerprint, now)?;
    Ok(match args.desk.format() {
        Format::Json => {
            let data = json!({"version": 1, "fingerprint": edition.fingerprint, "set_ups": made_data(&made)});
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let version = edition.version.as_deref().unwrap_or("this edition");
            let said = format!(
                "{version} is recalled by {}. No set-up is made with it, and no card of it is started.\nWhat runs goes on: look at each, and decide. Emergencies, the record, pauses and stops are not held up.\n",
                person.name
            );
            Answer::text(said + &made_text(&made), Exit::Proceed)
        }
    })
}
