//! `record correct` and `record reason`: about something that was written down before.

use clap::{ArgGroup, Args};

use crate::case::{Otherwise, ReportedAction};
use crate::cli::answer::Answer;
use crate::cli::entry_file::CommandError;
use crate::cli::input::{Refused, optional};
use crate::diagnostic::Fault;
use crate::quantity::{BolusDose, FlowRate, Moment};

use super::RecordArgs;
use super::done::written;

#[derive(Debug, Args)]
#[command(group = ArgGroup::new("instead").args(["not", "rate", "bolus", "pause", "resume", "stop"]))]
#[command(group = ArgGroup::new("something").args(["not", "rate", "bolus", "pause", "resume", "stop", "time"]).multiple(true).required(true))]
pub(in crate::cli) struct CorrectArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// The event, by its number in `record show`; a correction may be corrected too
    #[arg(long, value_name = "SEQ")]
    event: u64,
    /// It did not happen
    #[arg(long, conflicts_with = "time")]
    not: bool,
    /// At this rate instead: "7.2 mL/h"; of a bolus or a pause: the rate was changed instead
    #[arg(long, allow_hyphen_values = true)]
    rate: Option<String>,
    /// This bolus was given instead: "0.5 mg", "2 mL"
    #[arg(long, value_name = "GIVEN", allow_hyphen_values = true)]
    bolus: Option<String>,
    /// It was paused instead
    #[arg(long)]
    pause: bool,
    /// It went on instead, at the rate before
    #[arg(long)]
    resume: bool,
    /// It was stopped instead
    #[arg(long)]
    stop: bool,
    /// It happened at this time instead: 14:05, "2026-03-14 14:05" or with an offset
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    time: Option<String>,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct ReasonArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// The event, by its number in `record show`
    #[arg(long, value_name = "SEQ")]
    event: u64,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

pub(super) fn correct(args: &CorrectArgs) -> Result<Answer, CommandError> {
    written(&args.code, &args.line, None, |now| {
        let event = args.event;
        if args.not {
            return Ok(ReportedAction::Corrected { event, otherwise: None });
        }
        let rate = optional("--rate", args.rate.as_ref(), FlowRate::parse)?;
        let bolus = optional("--bolus", args.bolus.as_ref(), BolusDose::parse)?;
        let what = match (rate, bolus) {
            (Some(rate), _) => Some(ReportedAction::RateChanged(rate)),
            (None, Some(bolus)) => Some(ReportedAction::BolusGiven(bolus)),
            (None, None) if args.pause => Some(ReportedAction::Paused),
            (None, None) if args.resume => Some(ReportedAction::Resumed(None)),
            (None, None) if args.stop => Some(ReportedAction::Stopped),
            (None, None) => None,
        };
        let happened = optional("--time", args.time.as_ref(), |text| Moment::parse_local(text, now))?;
        Ok(ReportedAction::Corrected { event, otherwise: Some(Otherwise { what: what.map(Box::new), happened }) })
    })
}

pub(super) fn reason(args: &ReasonArgs) -> Result<Answer, CommandError> {
    written(&args.code, &args.line, None, |_| {
        if args.line.reason.as_ref().is_none_or(|reason| reason.trim().is_empty()) {
            let fault =
                Fault::new("reason-missing", "no reason is given").help("write it: --reason \"why it was done\"");
            return Err(Refused::one("--reason", fault));
        }
        Ok(ReportedAction::Explained { event: args.event })
    })
}
