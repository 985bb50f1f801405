//! `case weight` and `case identifiers`: read again by two people, each alone.

use clap::Args;

use crate::card::wrapped;
use crate::case::data::ReadAgain;
use crate::case::{CaseCode, IdentifiersRead, ReadAgainDone, SetUpCode, Twice, WeightRead};
use crate::cli::answer::Answer;
use crate::cli::ask::{Ask, Prompt, terminal_or_lines};
use crate::cli::desk::{CaseArgs, SignedBy};
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::entry::{WeightFrom, body_weight};

#[derive(Debug, Args)]
pub(in crate::cli) struct WeightArgs {
    /// The case
    code: String,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct IdentifiersArgs {
    /// The case
    code: String,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn weight(args: &WeightArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let (code, _) = SetUpCode::parse(&args.code)?;
    let mut ask = terminal_or_lines();
    let (_, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let judge_weight = |typed: &str| {
        let refusal = body_weight(typed).err()?;
        Some(Fault::new(refusal.code, refusal.message).help(refusal.help.unwrap_or_default()))
    };
    let weight = line(ask.as_mut(), "Weight now, with its unit:", Vec::new(), &judge_weight)?;
    let offered: Vec<String> = WeightFrom::WORDS.iter().map(|word| (*word).to_owned()).collect();
    let judge_from = |typed: &str| {
        let help = format!("write one of: {}", WeightFrom::WORDS.join(", "));
        WeightFrom::written(typed).is_none().then(|| Fault::new("word-unknown", "not a source of a weight").help(help))
    };
    let from = line(ask.as_mut(), "Where it comes from:", offered, &judge_from)?;
    let stands = cases.read_weight(code, &signer, &WeightRead { weight, from }, now)?;
    Ok(shown(&stands, "weight", code, args.desk.format()))
}

pub(super) fn identifiers(args: &IdentifiersArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let (code, _) = SetUpCode::parse(&args.code)?;
    let mut ask = terminal_or_lines();
    let (_, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let judge = |typed: &str| {
        let empty = !typed.chars().any(char::is_alphanumeric);
        empty.then(|| Fault::new("field-empty", "nothing is written").help("read it off the wristband"))
    };
    let first = line(ask.as_mut(), "First identifier, off the wristband:", Vec::new(), &judge)?;
    let second = line(ask.as_mut(), "Second identifier, off the wristband:", Vec::new(), &judge)?;
    let read = IdentifiersRead { identifiers: vec![first, second] };
    let stands = cases.read_identifiers(code, &signer, &read, now)?;
    Ok(shown(&stands, "identifiers", code, args.desk.format()))
}

fn line(
    ask: &mut dyn Ask,
    says: &str,
    offered: Vec<String>,
    judge: &dyn Fn(&str) -> Option<Fault>,
) -> Result<String, CommandError> {
    let help = if offered.is_empty() { String::new() } else { "one of these".to_owned() };
    Ok(ask.line(&Prompt { says, help, offered, judge })?)
}

fn shown(done: &ReadAgainDone, what: &'static str, code: CaseCode, format: Format) -> Answer {
    let (exit, says) = match &done.stands {
        Twice::Quiet => (Exit::Proceed, format!("Two people read the same {what} for {code}.")),
        Twice::AwaitsSecond { .. } => (
            Exit::Proceed,
            format!(
                "Sealed. A second person reads the {what} next, without seeing this: `countersign case {what} {code} --as NAME`"
            ),
        ),
        Twice::Differ => {
            (Exit::Disagree, format!("DISAGREE\nThe two readings differ in: {what}. Both read it again, each alone."))
        }
    };
    match format {
        Format::Json => Answer::json(&ReadAgain::of(code, what, done), exit),
        Format::Text => {
            let mut text = format!("{says}\n");
            if let Some(clock) = &done.clock {
                wrapped(&mut text, "", &format!("Marked: {clock}."));
            }
            for one in &done.recounts {
                wrapped(&mut text, "", &format!("{}: {}.", one.named, one.says));
            }
            Answer::text(text, exit)
        }
    }
}
