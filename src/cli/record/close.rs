//! `record close`: given + left + in the line + discarded = drawn up, with a witness where the drug asks for one.

use std::fmt::Write as _;

use clap::Args;

use crate::card::DEMONSTRATION;
use crate::case::data::{Closed, owed_for};
use crate::case::{Balance, Closing, VolumesRead, When};
use crate::cli::answer::Answer;
use crate::cli::ask::terminal_or_lines;
use crate::cli::desk::{CaseArgs, Current, SignedBy, one_set_up};
use crate::cli::entry_file::CommandError;
use crate::cli::input::{argument, optional};
use crate::cli::{Exit, Format};
use crate::quantity::{Quantity, Volume, exact_or_about};

use super::Times;
use super::now::owed_in_words;
use super::words::paragraph;

#[derive(Debug, Args)]
pub(in crate::cli) struct CloseArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// What stayed in the line: "0.9 mL", or "0 mL"
    #[arg(long, value_name = "VOLUME", allow_hyphen_values = true)]
    in_line: String,
    /// What was left in the syringes and is kept: "12 mL", or "0 mL"
    #[arg(long, value_name = "VOLUME", allow_hyphen_values = true)]
    left: String,
    /// What was discarded: "12 mL", or "0 mL"
    #[arg(long, value_name = "VOLUME", allow_hyphen_values = true)]
    discarded: String,
    /// What the driver itself says that it gave: "19.2 mL"
    #[arg(long, value_name = "VOLUME", allow_hyphen_values = true)]
    driver_total: Option<String>,
    /// Who saw it; their PIN is asked too. A controlled drug needs one
    #[arg(long, value_name = "NAME")]
    witness: Option<String>,
    /// Why the two sides differ, where they do
    #[arg(long, value_name = "REASON")]
    reason: Option<String>,
    #[command(flatten)]
    times: Times,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn close(args: &CloseArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let volume = |name, text: &str| argument(name, text, Quantity::<Volume>::parse_or_zero);
    let read = VolumesRead {
        in_line: volume("--in-line", &args.in_line)?,
        left: volume("--left", &args.left)?,
        discarded: volume("--discarded", &args.discarded)?,
        driver_total: optional("--driver-total", args.driver_total.as_ref(), Quantity::<Volume>::parse_or_zero)?,
    };
    let when: When = args.times.when(now)?;
    let current = args.current.open()?;
    let code = one_set_up(&cases, &args.code)?;
    let mut ask = terminal_or_lines();
    let (person, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let witness = match &args.witness {
        Some(name) => Some(SignedBy { name: name.clone() }.unlock(&mut cases, now, ask.as_mut())?),
        None => None,
    };
    let seen = witness.as_ref().map(|(person, signer)| (person, signer));
    let reason = args.reason.as_deref();
    let (closing, _) = cases.close(code, (&person, &signer), read, seen, &when, reason, now)?;
    let owed = owed_for(&cases, code, current.as_ref(), now)?;
    let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
    let witness = witness.as_ref().map(|(person, _)| person.name.as_str());
    let exit = if matches!(closing, Closing::Closed { .. }) { Exit::Proceed } else { Exit::Disagree };
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&Closed::of(&cases, code, &closing, (reason, witness), &owed), exit),
        Format::Text => {
            let mut text = notice.map(|notice| format!("{notice}\n")).unwrap_or_default();
            let done = if exit == Exit::Proceed { "Closed" } else { "NOT CLOSED" };
            let _ = writeln!(text, "{done}: {code}, signed by {}.", person.name);
            if let Some(witness) = witness {
                let _ = writeln!(text, "Witness, who signed too: {witness}.");
            }
            match &closing {
                Closing::Closed { balance, driver } => {
                    in_words(&mut text, balance.as_deref());
                    if let Some(driver) = driver {
                        paragraph(&mut text, "", &driver.says());
                    }
                }
                Closing::ReadAgain { tolerance, by_another } => {
                    paragraph(&mut text, "", &Closing::read_again_in_words(tolerance, *by_another));
                }
            }
            owed_in_words(&mut text, &owed);
            Answer::text(text, exit)
        }
    })
}

/// What stands where there is no account.
const NOTHING_AGREED: &str = "Nobody agreed on what was drawn up: there is no account of it.";

/// Both sides, a line each.
pub(super) fn in_words(out: &mut String, balance: Option<&Balance>) {
    let Some(balance) = balance else {
        paragraph(out, "", NOTHING_AGREED);
        return;
    };
    let _ = writeln!(out, "Drawn up      {} mL", exact_or_about(balance.drawn_up));
    for (name, volume) in [
        ("Given", balance.given),
        ("In the line", balance.in_line),
        ("Left, kept", balance.left),
        ("Discarded", balance.discarded),
    ] {
        let _ = writeln!(out, "{name:<14}{} mL", exact_or_about(volume));
    }
    match balance.mark() {
        Some(mark) => paragraph(out, "DIFFERS: ", &mark.says),
        None => out.push_str("Both sides are the same, as far as can be read.\n"),
    }
    paragraph(out, "", &format!("Up to {}.", balance.tolerance_in_words()));
}
