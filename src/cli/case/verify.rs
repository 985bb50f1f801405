//! `case verify`.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;
use data_encoding::HEXLOWER_PERMISSIVE;
use serde_json::{Value, json};

use crate::card::wrapped;
use crate::case::{CardCode, Cases, Differs};
use crate::cli::answer::Answer;
use crate::cli::entry_file::CommandError;
use crate::cli::input::Refused;
use crate::cli::journal_arg::{JournalArg, JournalCommandError};
use crate::cli::unique_json::read_unique;
use crate::cli::{Common, Exit, Format};
use crate::diagnostic::Fault;
use crate::document::{DRUG_LIMIT, ENTRY_LIMIT, read_file};
use crate::journal::Journal;

#[derive(Debug, Args)]
pub(in crate::cli) struct VerifyArgs {
    /// The card as data, a file that `case card --format json` wrote; - for standard input; or the code alone, CARD1:...
    card: PathBuf,
    /// The code as it was scanned from the card [default: the one in the file]
    #[arg(long, value_name = "TEXT", conflicts_with = "code_file")]
    code: Option<String>,
    /// The same, in a file
    #[arg(long, value_name = "FILE")]
    code_file: Option<PathBuf>,
    /// The store's public key, as `store` in the first line of `journal export`: no journal is then needed
    #[arg(long, value_name = "HEX")]
    key: Option<String>,
    #[command(flatten)]
    journal: JournalArg,
    #[command(flatten)]
    common: Common,
}

impl VerifyArgs {
    pub(super) const fn format(&self) -> Format {
        self.common.format
    }
}

pub(super) fn verify(args: &VerifyArgs) -> Result<Answer, CommandError> {
    let name = args.card.display().to_string();
    if name.trim_start().to_ascii_uppercase().starts_with("CARD1:") {
        return code_alone(args, &CardCode::parse(&name)?);
    }
    let text = read_file(&args.card, DRUG_LIMIT).map_err(|fault| Refused::one(&name, fault))?;
    let data = read_unique(&text).map_err(|fault| Refused::one(&name, fault))?;
    let card = data.get("card").unwrap_or(&data);
    if card.get("rate").is_none() {
        let fault = Fault::new("not-a-card", "this is no card as data: it has no rate");
        return Err(Refused::one(&name, fault.help("write it with `case card --format json`")).into());
    }
    if card.get("unsigned").is_some() {
        return Ok(unsigned(args.format()));
    }
    let code = match (&args.code, &args.code_file) {
        (Some(text), _) => text.clone(),
        (None, Some(file)) => {
            read_file(file, ENTRY_LIMIT).map_err(|fault| Refused::one(&file.display().to_string(), fault))?
        }
        (None, None) => data.get("code").and_then(Value::as_str).map(str::to_owned).ok_or_else(|| {
            let fault = Fault::new("code-not-named", "no code is named, and the file holds none");
            Refused::one(&name, fault.help("scan it from the card: --code TEXT, or --code-file FILE"))
        })?,
    };
    let code = CardCode::parse(&code)?;
    let (mut differs, void, against) = match &args.key {
        Some(key) => (code.differs(card, &public(key)?), None, "the store's public key; the journal was not looked at"),
        None => {
            let (differs, void) = against_the_journal(args, card, &code)?;
            (differs, void, "the journal, each event of which is as it was written")
        }
    };
    differs.extend(around(&data, card, &code));
    Ok(shown(&code, &differs, void.as_deref(), against, args.format()))
}

/// The code without the card's data: whose card it is, and whether the store signed it. What is printed on the paper is not
/// in it, and so nothing is said to be whole.
fn code_alone(args: &VerifyArgs, code: &CardCode) -> Result<Answer, CommandError> {
    let (signed, void) = match &args.key {
        Some(key) => (code.is_signed_by(&public(key)?), None),
        None => {
            let cases = Cases::of(named(args)?);
            let signed = code.is_signed_by(&cases.journal().store_public()) && cases.has_event_of(code)?;
            let void = if signed { cases.card_void(code)? } else { None };
            cases
                .journal()
                .verify(&[], &mut |_, _| {})
                .map_err(|error| CommandError::Journal(JournalCommandError::from(error)))?;
            (signed, void)
        }
    };
    let set_up = code.set_up.to_string();
    let not_proven = format!(
        "Not proven: that the rate and every other line on the paper are those that were signed. Hold the paper against \
         `countersign case card {set_up}`, or give the card as data too."
    );
    if args.format() == Format::Json {
        let verdict = match (signed, &void) {
            (false, _) => "altered",
            (true, Some(_)) => "void",
            (true, None) => "signed",
        };
        let mut json = json!({"version": 1, "verdict": verdict, "set_up": set_up, "differs": []});
        if let Some(void) = &void {
            json["void"] = json!(void);
        }
        return Ok(Answer::json(&json, if signed && void.is_none() { Exit::Proceed } else { Exit::Stopped }));
    }
    let mut out = String::new();
    match (signed, &void) {
        (false, _) => {
            let _ = writeln!(out, "ALTERED: do not use this card");
            wrapped(&mut out, "", "The code is not one that this journal signed for an event of its own.");
            return Ok(Answer::text(out, Exit::Stopped));
        }
        (true, Some(void)) => {
            let _ = writeln!(out, "VOID: do not use this card of {set_up}");
            wrapped(&mut out, "", &format!("It was given out, and {void}."));
            return Ok(Answer::text(out, Exit::Stopped));
        }
        (true, None) => {
            let _ = writeln!(out, "THE CODE IS SIGNED: a card of {set_up}, made with event {}", code.head.seq);
        }
    }
    wrapped(&mut out, "", "Proven: this journal gave out a card of this set-up with this code.");
    wrapped(&mut out, "", &not_proven);
    Ok(Answer::text(out, Exit::Proceed))
}

/// What stands around the card in an answer is not signed, and must say what the card says.
fn around(data: &Value, card: &Value, code: &CardCode) -> Vec<Differs> {
    let emergency = card.get("title").and_then(Value::as_str) == Some("Emergency card");
    let expected = [("set_up", json!(code.set_up.to_string())), ("double_checked", json!(!emergency))];
    let differs = |(what, signed): (&str, Value)| {
        let found = data.get(what).filter(|found| **found != signed)?;
        Some(Differs { what: what.to_owned(), says: format!("beside the card it says {found}, and the card {signed}") })
    };
    expected.into_iter().filter_map(differs).collect()
}

/// In what it differs from the journal, and why it is void where it was counted again.
fn against_the_journal(
    args: &VerifyArgs,
    card: &Value,
    code: &CardCode,
) -> Result<(Vec<Differs>, Option<String>), CommandError> {
    let cases = Cases::of(named(args)?);
    let differs = cases.card_differs(card, code)?;
    let void = if differs.is_empty() { cases.card_void(code)? } else { None };
    // Of a journal that is not whole, nothing is said to agree.
    cases
        .journal()
        .verify(&[], &mut |_, _| {})
        .map_err(|error| CommandError::Journal(JournalCommandError::from(error)))?;
    Ok((differs, void))
}

fn named(args: &VerifyArgs) -> Result<Journal, CommandError> {
    if !args.journal.is_named() {
        let fault = Fault::new("journal-not-named", "neither a journal nor a public key is named");
        let help = "name its folder: --journal DIR, or set COUNTERSIGN_JOURNAL; or the store's public key: --key HEX";
        return Err(Refused::one("--journal", fault.help(help)).into());
    }
    args.journal.open().map_err(CommandError::Journal)
}

fn public(text: &str) -> Result<[u8; 32], Refused> {
    let bytes = HEXLOWER_PERMISSIVE.decode(text.trim().as_bytes()).ok();
    bytes.and_then(|bytes| bytes.try_into().ok()).ok_or_else(|| {
        let fault = Fault::new("key-not-a-key", "this is no public key: 64 hex digits");
        Refused::one("--key", fault.help("it stands as `store` in the first line of `countersign journal export`"))
    })
}

fn unsigned(format: Format) -> Answer {
    match format {
        Format::Json => Answer::json(&json!({"version": 1, "verdict": "unsigned", "differs": []}), Exit::Stopped),
        Format::Text => {
            let says = "UNSIGNED\nThis card was made from two files, without a journal. It has no code: if it was altered, no check can show it.\n";
            Answer::text(says.to_owned(), Exit::Stopped)
        }
    }
}

fn shown(code: &CardCode, differs: &[Differs], void: Option<&str>, against: &str, format: Format) -> Answer {
    let is_whole = differs.is_empty() && void.is_none();
    let exit = if is_whole { Exit::Proceed } else { Exit::Stopped };
    if format == Format::Json {
        let listed: Vec<Value> = differs.iter().map(|one| json!({"what": one.what, "says": one.says})).collect();
        let verdict = match void {
            _ if is_whole => "whole",
            Some(_) if differs.is_empty() => "void",
            _ => "altered",
        };
        let mut json = json!({"version": 1, "verdict": verdict, "set_up": code.set_up.to_string(), "differs": listed});
        if let Some(void) = void {
            json["void"] = json!(void);
        }
        return Answer::json(&json, exit);
    }
    let mut out = String::new();
    if is_whole {
        let _ = writeln!(out, "WHOLE: {}, as it was given out", code.set_up);
        wrapped(&mut out, "", &format!("Held against {against}."));
        wrapped(&mut out, "", "It proves the card, not what is in the syringe, nor that the card is still good.");
    } else if let Some(void) = void {
        let _ = writeln!(out, "VOID: do not use this card of {}", code.set_up);
        wrapped(&mut out, "", &format!("It is as it was given out, and {void}."));
        wrapped(&mut out, "", &format!("The card of now: `countersign case card {}`.", code.set_up));
    } else {
        let _ = writeln!(out, "ALTERED: do not use this card");
        for one in differs {
            wrapped(&mut out, "  ", &format!("{}: {}", one.what, one.says));
        }
        wrapped(&mut out, "", "Give the card out anew, and keep this one for those who look into it.");
    }
    Answer::text(out, exit)
}
