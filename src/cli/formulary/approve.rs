//! `formulary approve`: a second pharmacist types every changed value from its source, without seeing the author's.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::sign::{Proposed, counted};
use crate::cli::answer::Answer;
use crate::cli::ask::{Ask, Prompt, terminal_or_lines};
use crate::cli::desk::CaseArgs;
use crate::cli::desk::SignedBy;
use crate::cli::entry_file::CommandError;
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};
use crate::diagnostic::{Fault, Source};
use crate::document::read_file;
use crate::formulary::Formulary;
use crate::pharmacy::approval::{Answers, Changes, NONE, Proposal, TypedPlace, blank, fault_of, filled, in_words};

#[derive(Debug, Args)]
pub(crate) struct ApproveArgs {
    #[command(flatten)]
    proposed: Proposed,
    /// The second pharmacist; the PIN is asked
    #[arg(long = "as", value_name = "NAME", required_unless_present = "blank")]
    name: Option<String>,
    /// Write every place to be typed into FILE.csv, with its source and without any value, and stop there
    #[arg(long, value_name = "FILE", conflicts_with_all = ["name", "typed"])]
    blank: Option<PathBuf>,
    /// Take the values from the filled FILE.csv, in place of being asked one by one
    #[arg(long, value_name = "FILE")]
    typed: Option<PathBuf>,
    #[command(flatten)]
    desk: CaseArgs,
}

/// A sheet may be as long as this: a value a row.
const SHEET_LIMIT: usize = 16 * 1024 * 1024;

/// So often the second pharmacist goes back to the sources before the author does.
const ROUNDS: usize = 2;

pub(super) fn run(args: &ApproveArgs) -> Answer {
    let answer = match &args.blank {
        Some(file) => written_blank(args, file),
        None => approved(args),
    };
    answer.unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

fn written_blank(args: &ApproveArgs, file: &Path) -> Result<Answer, CommandError> {
    let (folder, formulary) = args.proposed.open()?;
    let (cases, _) = args.desk.open()?;
    let changes = Proposal::of(&cases, &folder, formulary)?.changes;
    // Nothing that somebody has filled is ever overwritten.
    let made = std::fs::OpenOptions::new().write(true).create_new(true).open(file);
    made.and_then(|mut made| std::io::Write::write_all(&mut made, blank(&changes).as_bytes())).map_err(|error| {
        let help = "name a file that is not there yet, in a folder that can be written";
        Refused::one(&file.display().to_string(), Fault::new("file-not-written", error.to_string()).help(help))
    })?;
    let count = changes.typed.len();
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "to_be_typed": count}), Exit::Proceed),
        Format::Text => {
            let file = file.display();
            let said = format!(
                "{file}: {} to be typed from their sources; `{NONE}` where nothing stands.\nThen: countersign formulary approve --as NAME --typed {file}\n",
                counted(count, "place")
            );
            Answer::text(said, Exit::Proceed)
        }
    })
}

fn approved(args: &ApproveArgs) -> Result<Answer, CommandError> {
    let (folder, formulary) = args.proposed.open()?;
    let (mut cases, now) = args.desk.open()?;
    let mut ask = terminal_or_lines();
    let by = SignedBy { name: args.name.clone().unwrap_or_default() };
    let (second, signer) = by.unlock(&mut cases, now, ask.as_mut())?;
    let proposal = Proposal::of(&cases, &folder, formulary)?;
    cases.to_be_approved(&second, &proposal.formulary)?;
    proposal.answered(now)?;
    let changes = &proposal.changes;
    let answers = match &args.typed {
        Some(file) => of_sheet(file, changes)?,
        None => typed(changes, ask.as_mut())?,
    };
    let differ = proposal.compare(&mut cases, now, (&second, &signer), &answers)?;
    if !differ.is_empty() {
        let named: Vec<String> = differ.iter().map(|place| place.says()).collect();
        return Ok(not_approved(args, &proposal.formulary, &named));
    }
    read_words(changes, ask.as_mut())?;
    let approval = proposal.approve(&mut cases, now, (&second, &signer))?;
    let fingerprint = proposal.formulary.fingerprint().to_string();
    let author = &approval.author().name;
    Ok(match args.desk.format() {
        Format::Json => {
            let answer = json!({"version": 1, "fingerprint": fingerprint, "approved": true, "author": author, "second": second.name, "typed": changes.typed.len()});
            Answer::json(&answer, Exit::Proceed)
        }
        Format::Text => {
            let said = format!(
                "{fingerprint} is approved by {author} and {}: {} came to the same.\n",
                second.name,
                counted(changes.typed.len(), "value")
            );
            Answer::text(said, Exit::Proceed)
        }
    })
}

fn not_approved(args: &ApproveArgs, formulary: &Formulary, places: &[String]) -> Answer {
    let fingerprint = formulary.fingerprint().to_string();
    match args.desk.format() {
        Format::Json => {
            let answer = json!({"version": 1, "fingerprint": fingerprint, "approved": false, "differ": places});
            Answer::json(&answer, Exit::Disagree)
        }
        Format::Text => {
            let list: String = places.iter().map(|place| format!("  {place}\n")).collect();
            let said = format!(
                "NOT APPROVED. The two do not come to the same here:\n{list}Both go back to the sources. Where the file is wrong, its author mends it and signs it anew; where the reading was, it is typed once more.\n"
            );
            Answer::text(said, Exit::Disagree)
        }
    }
}

fn of_sheet(file: &Path, changes: &Changes) -> Result<Answers, CommandError> {
    let name = file.display().to_string();
    let text = read_file(file, SHEET_LIMIT).map_err(|fault| Refused::one(&name, fault))?;
    filled(&text, changes).map_err(|bad| {
        let faults = bad.into_iter().map(|bad| Fault::new(bad.code, bad.to_string()).help(bad.help)).collect();
        Refused(vec![(Source::new(name.clone(), ""), faults)]).into()
    })
}

/// Every place, one by one; those that came to something else once more, without a word of what the author wrote.
fn typed(changes: &Changes, ask: &mut dyn Ask) -> Result<Answers, CommandError> {
    let mut answers = Answers::default();
    let mut due: Vec<&TypedPlace> = changes.typed.iter().collect();
    ask.say(&format!(
        "{} to be typed, each from its source; `{NONE}` where nothing stands. For many, leave and use --blank.",
        counted(due.len(), "value")
    ));
    for round in 1..=ROUNDS {
        for (at, place) in due.iter().enumerate() {
            let help = place.source.clone().map(|source| format!("from: {source}")).unwrap_or_default();
            let says = format!("({}/{}) {}:", at + 1, due.len(), place.says());
            let asked = Prompt { says: &says, help, offered: Vec::new(), judge: &|typed: &str| fault_of(place, typed) };
            let answer = ask.line(&asked)?;
            answers.put(place, &answer);
        }
        due = changes.differ(&answers);
        if due.is_empty() {
            break;
        }
        if round < ROUNDS {
            ask.say("Not the same as in the file. Go back to the source and type these once more:");
        }
    }
    Ok(answers)
}

/// What is not typed is read, and that is said.
fn read_words(changes: &Changes, ask: &mut dyn Ask) -> Result<(), CommandError> {
    if changes.words.is_empty() {
        return Ok(());
    }
    let nothing = || "(nothing)".to_owned();
    for words in &changes.words {
        let (old, new) = (words.old.clone().unwrap_or_else(nothing), words.new.clone().unwrap_or_else(nothing));
        ask.say(&format!("{}, {}: {old} -> {new}", words.file, in_words(&words.place)));
    }
    let says = format!("{} read, and right (write: read):", counted(changes.words.len(), "text"));
    let judge = |typed: &str| {
        let fault = || Fault::new("words-not-read", "they are not said to be read");
        (typed != "read").then(|| fault().help("write `read`, or leave: nothing is approved then"))
    };
    ask.line(&Prompt { says: &says, help: String::new(), offered: Vec::new(), judge: &judge })?;
    Ok(())
}
