//! `formulary approve`: a second pharmacist types every changed value from its source, without seeing the author's.

use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Args;
use serde_json::json;

use super::sign::{Proposed, counted};
use crate::case::TypingShare;
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
use crate::pharmacy::approval::{
    Answers, ApprovalError, Changes, FileProgress, NONE, Progress, Proposal, TypedPlace, blank, fault_of, filled,
    in_words, shares_in_words,
};
use crate::quantity::Moment;

#[derive(Debug, Args)]
pub(crate) struct ApproveArgs {
    #[command(flatten)]
    proposed: Proposed,
    /// The pharmacist who types, or signs; the PIN is asked
    #[arg(long = "as", value_name = "NAME", required_unless_present_any = ["blank", "state"])]
    name: Option<String>,
    /// Type the values of this drug alone: others are typed on other days, or by other people
    #[arg(long)]
    drug: Option<String>,
    /// Say which values are typed, by whom and when, and stop there
    #[arg(long, conflicts_with_all = ["name", "typed", "blank", "drug"])]
    state: bool,
    /// Write every place that is still to be typed into FILE.csv, with its source and without any value, and stop there
    #[arg(long, value_name = "FILE", conflicts_with_all = ["name", "typed"])]
    blank: Option<PathBuf>,
    /// Take the values from the filled FILE.csv, in place of being asked one by one: a third pharmacist then types some
    /// of them again, and signs
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
        _ if args.state => state(args),
        Some(file) => written_blank(args, file),
        None => approved(args),
    };
    answer.unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

/// The places still to be typed, of the one drug that is named or of all files.
fn due<'c>(args: &ApproveArgs, progress: &Progress, changes: &'c Changes) -> Result<Vec<&'c TypedPlace>, CommandError> {
    let mut due = progress.due(changes);
    if let Some(drug) = &args.drug {
        let file = format!("drugs/{drug}.yaml");
        if !changes.typed.iter().any(|place| place.file == file) {
            let fault = Fault::new("drug-not-changed", format!("no value of `{drug}` is to be typed"));
            let help = "name a drug with changed values: `countersign formulary approve --state` lists the files";
            return Err(Refused::one("--drug", fault.help(help)).into());
        }
        due.retain(|place| place.file == file);
    }
    Ok(due)
}

fn state(args: &ApproveArgs) -> Result<Answer, CommandError> {
    let (folder, formulary) = args.proposed.open()?;
    let (cases, _) = args.desk.open()?;
    let proposal = Proposal::of(&cases, &folder, formulary)?;
    let progress = proposal.progress(&cases)?;
    let files = progress.files(&proposal.changes);
    let (left, again) = (progress.left(), progress.again(&proposal.changes).len());
    Ok(match args.desk.format() {
        Format::Json => {
            let by = |(share, at): &(TypingShare, Moment)| json!({"name": share.name, "values": share.values, "at_once": share.at_once, "at": at.to_rfc3339()});
            let file = |file: &FileProgress| {
                let by: Vec<_> = file.by.iter().map(by).collect();
                json!({"file": file.file, "values": file.values, "typed": file.typed, "by": by})
            };
            let files: Vec<_> = files.iter().map(file).collect();
            Answer::json(&json!({"version": 1, "files": files, "left": left, "again": again}), Exit::Proceed)
        }
        Format::Text => {
            let mut said = String::new();
            for file in &files {
                let by = |(share, at): &(TypingShare, Moment)| {
                    format!("{}, {}", shares_in_words(std::slice::from_ref(share)), at.local())
                };
                let by: Vec<String> = file.by.iter().map(by).collect();
                said += &format!("{}: {} of {} typed", file.file, file.typed, counted(file.values, "value"));
                said += &if by.is_empty() { "\n".to_owned() } else { format!(": {}\n", by.join("; ")) };
            }
            said += &match left {
                0 => format!("Every value came to the same. Before the signature {} typed once more.\n", are(again)),
                _ => format!("{} left to be typed.\n", counted(left, "value")),
            };
            if !progress.at_once().is_empty() {
                said += &format!("{}\n", third(&progress.at_once()));
            }
            Answer::text(said, Exit::Proceed)
        }
    })
}

fn are(values: usize) -> String {
    format!("{} {}", counted(values, "value"), if values == 1 { "is" } else { "are" })
}

fn third(at_once: &[TypingShare]) -> String {
    format!(
        "FILLED IN AT ONCE by {}: a third pharmacist, neither the author nor one of these, types some of the values again and signs.",
        shares_in_words(at_once)
    )
}

fn written_blank(args: &ApproveArgs, file: &Path) -> Result<Answer, CommandError> {
    let (folder, formulary) = args.proposed.open()?;
    let (cases, _) = args.desk.open()?;
    let proposal = Proposal::of(&cases, &folder, formulary)?;
    let due = due(args, &proposal.progress(&cases)?, &proposal.changes)?;
    // Nothing that somebody has filled is ever overwritten.
    let made = std::fs::OpenOptions::new().write(true).create_new(true).open(file);
    made.and_then(|mut made| std::io::Write::write_all(&mut made, blank(&due).as_bytes())).map_err(|error| {
        let help = "name a file that is not there yet, in a folder that can be written";
        Refused::one(&file.display().to_string(), Fault::new("file-not-written", error.to_string()).help(help))
    })?;
    let count = due.len();
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
    let due = due(args, &proposal.progress(&cases)?, changes)?;
    let mut differ: Vec<String> = Vec::new();
    let mut take = |answers: &Answers, seconds: u64| {
        let found = proposal.take(&mut cases, now, (&second, &signer), answers, seconds)?;
        differ.extend(found.iter().map(|place| place.says()));
        Ok::<_, CommandError>(())
    };
    match &args.typed {
        Some(file) => take(&of_sheet(file, &due)?, 0)?,
        None if due.is_empty() => {}
        None => {
            ask.say(&format!(
                "{} to be typed, each from its source; `{NONE}` where nothing stands. Each file is kept once it is typed.",
                counted(due.len(), "value")
            ));
            for file in due.chunk_by(|one, next| one.file == next.file) {
                let begun = Instant::now();
                let answers = typed(changes, file, ROUNDS, ask.as_mut())?;
                take(&answers, begun.elapsed().as_secs())?;
            }
        }
    }
    if !differ.is_empty() {
        return Ok(not_approved(args, &proposal.formulary, &differ));
    }
    let progress = proposal.progress(&cases)?;
    if progress.may_be_signed_by(&second).is_err() {
        return Ok(kept(args, &proposal.formulary, &progress));
    }
    let wanted = progress.again(changes);
    if !wanted.is_empty() {
        ask.say(&format!("{} typed once more, from the sources, before you sign.", are(wanted.len())));
    }
    let again = typed(changes, &wanted, 1, ask.as_mut())?;
    if wanted.iter().all(|place| changes.agrees(place, &again)) {
        read_words(changes, ask.as_mut())?;
    }
    let approval = match proposal.approve(&mut cases, now, (&second, &signer), &again) {
        Err(ApprovalError::Again(places)) => return Ok(not_approved(args, &proposal.formulary, &places)),
        approval => approval?,
    };
    let fingerprint = proposal.formulary.fingerprint().to_string();
    let (author, shares) = (&approval.author().name, progress.shares());
    Ok(match args.desk.format() {
        Format::Json => {
            let answer = json!({"version": 1, "fingerprint": fingerprint, "approved": true, "author": author, "second": second.name, "typed": changes.typed.len(), "typed_by": shares, "again": wanted.len()});
            Answer::json(&answer, Exit::Proceed)
        }
        Format::Text => {
            let mut said = format!(
                "{fingerprint} is approved by {author} and {}: {} came to the same.\n",
                second.name,
                counted(changes.typed.len(), "value")
            );
            if !shares.is_empty() {
                let again = if wanted.is_empty() { String::new() } else { format!("; {} once more", wanted.len()) };
                said += &format!("Typed by {}{again}.\n", shares_in_words(&shares));
            }
            Answer::text(said, Exit::Proceed)
        }
    })
}

/// What was typed came to the same and is kept, and it is not approved yet.
fn kept(args: &ApproveArgs, formulary: &Formulary, progress: &Progress) -> Answer {
    let (left, at_once) = (progress.left(), progress.at_once());
    match args.desk.format() {
        Format::Json => {
            let fingerprint = formulary.fingerprint().to_string();
            let answer =
                json!({"version": 1, "fingerprint": fingerprint, "approved": false, "left": left, "at_once": at_once});
            Answer::json(&answer, Exit::Proceed)
        }
        Format::Text => {
            let mut said = "NOT APPROVED YET. What was typed came to the same, and is kept.\n".to_owned();
            if left > 0 {
                let next = "countersign formulary approve --state";
                said += &format!("{} left to be typed: {next}\n", counted(left, "value"));
            }
            if !at_once.is_empty() {
                said += &format!("{}\n", third(&at_once));
            }
            Answer::text(said, Exit::Proceed)
        }
    }
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
                "NOT APPROVED. The second reading differs from the file here:\n{list}Both go back to the sources. Where the file is wrong, its author mends it and signs it anew; where the reading was, it is typed once more.\n"
            );
            Answer::text(said, Exit::Disagree)
        }
    }
}

fn of_sheet(file: &Path, due: &[&TypedPlace]) -> Result<Answers, CommandError> {
    let name = file.display().to_string();
    let text = read_file(file, SHEET_LIMIT).map_err(|fault| Refused::one(&name, fault))?;
    filled(&text, due).map_err(|bad| {
        let faults = bad.into_iter().map(|bad| Fault::new(bad.code, bad.to_string()).help(bad.help)).collect();
        Refused(vec![(Source::new(name.clone(), ""), faults)]).into()
    })
}

/// Every place, one by one; those that came to something else once more, without a word of what the author wrote.
fn typed(changes: &Changes, places: &[&TypedPlace], rounds: usize, ask: &mut dyn Ask) -> Result<Answers, CommandError> {
    let mut answers = Answers::default();
    let mut due = places.to_vec();
    for round in 1..=rounds {
        for (at, place) in due.iter().enumerate() {
            let help = place.source.clone().map(|source| format!("from: {source}")).unwrap_or_default();
            let says = format!("({}/{}) {}:", at + 1, due.len(), place.says());
            let asked = Prompt { says: &says, help, offered: Vec::new(), judge: &|typed: &str| fault_of(place, typed) };
            let answer = ask.line(&asked)?;
            answers.put(place, &answer);
        }
        due.retain(|place| !changes.agrees(place, &answers));
        if due.is_empty() {
            break;
        }
        if round < rounds {
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
