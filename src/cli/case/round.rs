//! `case round` and `case sign-round`: the handover of a patient.

use clap::Args;

use crate::card::wrapped;
use crate::case::actions::{Actor, RoundShown, SignRound, TakeRound};
use crate::case::{Cases, DriverTyped, SetUpCode};
use crate::cli::answer::Answer;
use crate::cli::ask::terminal_or_lines;
use crate::cli::desk::{CaseArgs, SignedBy};
use crate::cli::entry_file::CommandError;
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;

#[derive(Debug, Args)]
pub(in crate::cli) struct RoundArgs {
    /// The case
    code: String,
    /// One driver as you read it, once for each: "DRUG, STRENGTH, RATE" or "SLOT: DRUG, STRENGTH, RATE, PORT"; RATE is
    /// 0 mL/h while it does not run; SLOT and PORT where you read them, PORT as labelled or "not hung yet"
    #[arg(long = "driver", value_name = "TEXT", required = true)]
    drivers: Vec<String>,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct SignRoundArgs {
    /// The case
    code: String,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn round(args: &RoundArgs) -> Result<Answer, CommandError> {
    let drivers = args.drivers.iter().map(|text| driver(text)).collect::<Result<Vec<_>, _>>()?;
    Cases::check_round(&drivers)?;
    let (mut cases, now) = args.desk.open()?;
    let (code, _) = SetUpCode::parse(&args.code)?;
    let mut ask = terminal_or_lines();
    let (person, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let by = Actor { person: &person, signer: &signer, current: None, now };
    let done = TakeRound { drivers }.run(&mut cases, code, by)?;
    Ok(shown(&done, &args.code, args.desk.format()))
}

pub(super) fn sign(args: &SignRoundArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let (code, _) = SetUpCode::parse(&args.code)?;
    let mut ask = terminal_or_lines();
    let (person, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let by = Actor { person: &person, signer: &signer, current: None, now };
    let done = SignRound {}.run(&mut cases, code, by)?;
    Ok(shown(&done, &args.code, args.desk.format()))
}

fn driver(text: &str) -> Result<DriverTyped, Refused> {
    let (slot, rest) = match text.split_once(": ") {
        Some((slot, rest)) => (Some(slot.trim().to_owned()), rest),
        None => (None, text),
    };
    let parts: Vec<&str> = rest.split(", ").map(str::trim).collect();
    let (parts, port) = match parts[..] {
        [drug, strength, rate, port] => (vec![drug, strength, rate], Some(port.to_owned())),
        _ => (parts, None),
    };
    let [drug, strength, rate] = parts[..] else {
        let says = format!("a driver is drug, strength, rate and perhaps a port, and this has {} parts", parts.len());
        let fault = Fault::new("driver-not-read", says).help("write --driver \"noradrenaline, 80 mcg/mL, 4.7 mL/h\"");
        return Err(Refused::one("--driver", fault));
    };
    Ok(DriverTyped { slot, port, drug: drug.to_owned(), strength: strength.to_owned(), rate: rate.to_owned() })
}

fn shown(done: &RoundShown, code: &str, format: Format) -> Answer {
    let exit = if done.differences.is_empty() { Exit::Proceed } else { Exit::Disagree };
    if format == Format::Json {
        return Answer::json(done, exit);
    }
    let mut text = String::new();
    if done.differences.is_empty() {
        text.push_str("Every driver is as the record says.\n");
    } else {
        text.push_str("THE ROUND DIFFERS FROM THE RECORD\n");
        done.differences.iter().for_each(|says| wrapped(&mut text, "  ", &format!("{says}.")));
        let next = "Each stays outstanding until the driver is set right and read back, or what it shows is recorded.";
        wrapped(&mut text, "", next);
    }
    if !done.signed {
        let next = format!("The person who hands over signs: `countersign case sign-round {code} --as NAME`");
        wrapped(&mut text, "", &next);
    } else {
        text.push_str("Both have signed the round.\n");
    }
    Answer::text(text, exit)
}
