//! `record close`: given + left + in the line + discarded = drawn up, with a witness where the drug asks for one.

use std::fmt::Write as _;

use clap::Args;

use crate::card::DEMONSTRATION;
use crate::case::actions::{Accounted, Actor, Close};
use crate::case::{Balance, CaseError, Closing};
use crate::cli::answer::Answer;
use crate::cli::ask::terminal_or_lines;
use crate::cli::desk::{CaseArgs, Current, SignedBy, one_set_up};
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};
use crate::quantity::exact_or_about;

use super::Times;
use super::fields::{Spelling, placed};
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

impl CloseArgs {
    fn request(&self) -> Close {
        Close {
            in_line: Some(self.in_line.clone()),
            left: Some(self.left.clone()),
            discarded: Some(self.discarded.clone()),
            driver_total: self.driver_total.clone(),
            reason: self.reason.clone(),
            time: self.times.time.clone(),
            late: self.times.late.clone(),
        }
    }
}

pub(super) fn close(args: &CloseArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let named = |refused: CaseError| placed::<Close>(refused.into(), &|_| Some(Spelling::AsNamed));
    let request = args.request();
    request.check(now).map_err(named)?;
    let current = args.current.open()?;
    let code = one_set_up(&cases, &args.code)?;
    let mut ask = terminal_or_lines();
    let (person, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let witness = match &args.witness {
        Some(name) => Some(SignedBy { name: name.clone() }.unlock(&mut cases, now, ask.as_mut())?),
        None => None,
    };
    let seen = witness.as_ref().map(|(person, signer)| (person, signer));
    let by = Actor { person: &person, signer: &signer, current: current.as_ref(), now };
    let Accounted { closing, owed, data } = request.run(&mut cases, code, by, seen).map_err(named)?;
    let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
    let witness = witness.as_ref().map(|(person, _)| person.name.as_str());
    let exit = if matches!(closing, Closing::Closed { .. }) { Exit::Proceed } else { Exit::Disagree };
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&data, exit),
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
