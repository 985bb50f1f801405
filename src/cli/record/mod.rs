//! `record`: what really happened, line by line, as part of the treatment.

mod close;
mod correct;
mod done;
mod now;
mod show;
mod words;

use clap::{Args, Subcommand};

use crate::case::When;
use crate::quantity::Moment;

use super::answer::Answer;
use super::desk::{CaseArgs, Current, SignedBy};
use super::entry_file::CommandError;
use super::input::{Refused, optional};

pub(super) use now::BY_THE_RECORD;
pub(super) use words::{marks_in_words, paragraph};

#[derive(Debug, Subcommand)]
pub(super) enum RecordCommand {
    /// The syringe was started, at the card's rate or another
    Start(done::StartArgs),
    /// The rate was changed
    Rate(done::RateArgs),
    /// A bolus was given
    Bolus(done::BolusArgs),
    /// It was paused
    Pause(done::PlainArgs),
    /// It went on, at the rate before or another
    Resume(done::ResumeArgs),
    /// The next syringe was put in, at the rate that keeps the running dose or another
    Syringe(done::SyringeArgs),
    /// It was stopped
    Stop(done::PlainArgs),
    /// Something written down was otherwise, or did not happen; the old line stays readable
    Correct(correct::CorrectArgs),
    /// The reason for something written down before
    Reason(correct::ReasonArgs),
    /// The whole course: what happened, what was given, what is left, what is owed
    Show(show::ShowArgs),
    /// Account for what was drawn up, once it is stopped
    Close(close::CloseArgs),
}

/// What every line of the record has.
#[derive(Debug, Args)]
struct RecordArgs {
    /// Why it was done
    #[arg(long, value_name = "REASON")]
    reason: Option<String>,
    /// It really happened, although it is not as agreed: it is written down and marked
    #[arg(long)]
    even_so: bool,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    desk: CaseArgs,
}

/// When it happened.
#[derive(Debug, Args)]
struct Times {
    /// When it happened: 14:05, "2026-03-14 14:05" or with an offset [default: now]
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    time: Option<String>,
    /// Why it is written down only now; needed after more than 10 minutes
    #[arg(long, value_name = "REASON")]
    late: Option<String>,
}

impl Times {
    fn when(&self, now: Moment) -> Result<When, Refused> {
        let happened = optional("--time", self.time.as_ref(), |text| Moment::parse_local(text, now))?;
        Ok(When { happened, late: self.late.clone() })
    }
}

pub(super) fn run(command: &RecordCommand) -> Answer {
    let (answer, desk): (Result<Answer, CommandError>, &CaseArgs) = match command {
        RecordCommand::Start(args) => (done::start(args), &args.line.desk),
        RecordCommand::Rate(args) => (done::rate(args), &args.line.desk),
        RecordCommand::Bolus(args) => (done::bolus(args), &args.line.desk),
        RecordCommand::Pause(args) => (done::pause(args), &args.line.desk),
        RecordCommand::Resume(args) => (done::resume(args), &args.line.desk),
        RecordCommand::Syringe(args) => (done::syringe(args), &args.line.desk),
        RecordCommand::Stop(args) => (done::stop(args), &args.line.desk),
        RecordCommand::Correct(args) => (correct::correct(args), &args.line.desk),
        RecordCommand::Reason(args) => (correct::reason(args), &args.line.desk),
        RecordCommand::Show(args) => (show::show(args), &args.desk),
        RecordCommand::Close(args) => (close::close(args), &args.desk),
    };
    answer.unwrap_or_else(|no_answer| no_answer.said(desk.format()))
}
