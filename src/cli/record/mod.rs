//! `record`: what really happened, line by line, as part of the treatment.

mod close;
mod correct;
mod fields;
mod now;
mod report;
mod show;
mod words;
mod written;

use clap::{Args, Subcommand};

use super::answer::Answer;
use super::desk::{CaseArgs, Current, SignedBy};
use super::entry_file::CommandError;

pub(super) use now::BY_THE_RECORD;
pub(super) use words::{marks_in_words, paragraph};

#[derive(Debug, Subcommand)]
pub(super) enum RecordCommand {
    #[command(flatten)]
    Report(report::ReportCommand),
    /// Something recorded was otherwise, or did not happen; the old line stays readable
    Correct(correct::CorrectArgs),
    /// The reason for something recorded before
    Reason(correct::ReasonArgs),
    /// The whole course: what happened, what was given, what is left, what is outstanding
    Show(show::ShowArgs),
    /// Account for what was drawn up, once it is stopped
    Close(close::CloseArgs),
}

/// Who acts, when, under which formulary.
#[derive(Debug, Args)]
struct ActArgs {
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

pub(super) fn run(command: &RecordCommand) -> Answer {
    let (answer, desk): (Result<Answer, CommandError>, &CaseArgs) = match command {
        RecordCommand::Report(args) => (report::report(args), &args.act.desk),
        RecordCommand::Correct(args) => (correct::correct(args), &args.act.desk),
        RecordCommand::Reason(args) => (correct::reason(args), &args.act.desk),
        RecordCommand::Show(args) => (show::show(args), &args.desk),
        RecordCommand::Close(args) => (close::close(args), &args.desk),
    };
    answer.unwrap_or_else(|no_answer| no_answer.said(desk.format()))
}
