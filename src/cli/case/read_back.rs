//! `case readback`: what the driver shows, held against the card or the record.

use std::fmt::Write as _;

use clap::Args;

use crate::card::wrapped;
use crate::case::data::ReadBackDone;
use crate::case::{HELD, ReadBack, Shown};
use crate::cli::answer::Answer;
use crate::cli::ask::{Prompt, terminal_or_lines};
use crate::cli::desk::{CaseArgs, SignedBy, one_set_up};
use crate::cli::entry_file::CommandError;
use crate::cli::record::marks_in_words;
use crate::cli::{Exit, Format};

#[derive(Debug, Args)]
pub(in crate::cli) struct ReadBackArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// A note on a difference; it stays outstanding all the same
    #[arg(long, value_name = "REASON")]
    because: Option<String>,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn read_back(args: &ReadBackArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let code = one_set_up(&cases, &args.code)?;
    let mut ask = terminal_or_lines();
    let (person, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let mut shown = Vec::new();
    for value in cases.to_read_back(code, now)? {
        let held = HELD.iter().find(|(held, _)| *held == value);
        let help =
            held.map_or_else(|| "empty where it is of no use now".to_owned(), |(_, example)| (*example).to_owned());
        let says = format!("What the driver shows as {value}:");
        let typed = ask.line(&Prompt { says: &says, help, offered: Vec::new(), judge: &|_| None })?;
        if !typed.is_empty() {
            shown.push(Shown { value, typed });
        }
    }
    let read_back = cases.read_back(code, (&person, &signer), &shown, args.because.as_deref(), now)?;
    let exit = if read_back.is_equal() { Exit::Proceed } else { Exit::Disagree };
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&ReadBackDone::of(code, &read_back), exit),
        Format::Text => Answer::text(in_words(&read_back), exit),
    })
}

fn in_words(read_back: &ReadBack) -> String {
    let mut text = String::new();
    if read_back.differences.is_empty() {
        let (compared, kept) = read_back.compared_and_kept();
        let what = compared.join(", ");
        if compared.is_empty() {
            text.push_str("NOTHING WAS COMPARED: no value was read that can be held against anything.\n");
        } else {
            wrapped(&mut text, "", &format!("WHAT WAS COMPARED IS RIGHT: {what}, held against {}.", read_back.against));
        }
        if !kept.is_empty() {
            wrapped(&mut text, "", &format!("Kept as read, and not compared: {}.", kept.join(", ")));
        }
        return text;
    }
    let _ = writeln!(text, "THE DISPLAY DIFFERS, held against {}:", read_back.against);
    for one in &read_back.differences {
        let cause = one.cause.as_deref().map(|cause| format!(". Perhaps {cause}")).unwrap_or_default();
        wrapped(&mut text, "  ", &format!("{}: it shows {}; expected {}{cause}", one.value, one.shown, one.expected));
    }
    marks_in_words(&mut text, "  ", &read_back.marks);
    if let Some(reason) = &read_back.reason {
        wrapped(&mut text, "", &format!("Noted: {reason}."));
    }
    let next = "It stays outstanding until the driver is set right and read back again, or what it shows is recorded: \
                `countersign record rate`.";
    wrapped(&mut text, "", next);
    text
}
