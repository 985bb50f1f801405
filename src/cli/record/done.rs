//! `record start`, `rate`, `bolus`, `pause`, `resume`, `syringe` and `stop`: one line each, as typed.

use std::fmt::Write as _;

use clap::Args;

use crate::card::{DEMONSTRATION, wrapped};
use crate::case::data::{RecordWritten, owed_for};
use crate::case::{
    Cases, Confirmed, Course, Recorded, ReportedAction, RunningDose, SetUpCode, SyringeSaid, shown_moment,
    what_in_words,
};
use crate::cli::answer::Answer;
use crate::cli::ask::whoever_is_here;
use crate::cli::desk::one_set_up;
use crate::cli::entry_file::CommandError;
use crate::cli::input::{Refused, argument, optional};
use crate::cli::{Exit, Format};
use crate::quantity::{BolusDose, FlowRate, Moment, exact_or_about};

use super::now::{BY_THE_RECORD, now_in_words, owed_in_words};
use super::words::marks_in_words;
use super::{RecordArgs, Times};

#[derive(Debug, Args)]
pub(in crate::cli) struct StartArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// At this rate instead: "5.1 mL/h"
    #[arg(long, allow_hyphen_values = true)]
    rate: Option<String>,
    #[command(flatten)]
    said: LabelArgs,
    #[command(flatten)]
    times: Times,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct ResumeArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// At this rate instead: "5.1 mL/h" [default: the rate before the pause]
    #[arg(long, allow_hyphen_values = true)]
    rate: Option<String>,
    /// The dose is changed on purpose
    #[arg(long)]
    dose_changes: bool,
    #[command(flatten)]
    times: Times,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct RateArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// The new rate: "7.2 mL/h"
    #[arg(allow_hyphen_values = true)]
    to: String,
    #[command(flatten)]
    times: Times,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct BolusArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// The dose or the volume: "0.5 mg", "2 mL"
    #[arg(allow_hyphen_values = true)]
    given: String,
    #[command(flatten)]
    times: Times,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct PlainArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    #[command(flatten)]
    times: Times,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct SyringeArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// At this rate instead: "5.1 mL/h" [default: the rate that keeps the running dose]
    #[arg(long, allow_hyphen_values = true)]
    rate: Option<String>,
    /// Which reading of the set-up it is [default: the latest begun by then]
    #[arg(long, value_name = "NUMBER")]
    reading: Option<u16>,
    /// The dose is changed on purpose: to the rate given, or to the rate of the next syringe's card
    #[arg(long)]
    dose_changes: bool,
    #[command(flatten)]
    said: LabelArgs,
    #[command(flatten)]
    times: Times,
    #[command(flatten)]
    pub(super) line: RecordArgs,
}

/// What is in a syringe that two people have not agreed on.
#[derive(Debug, Args)]
struct LabelArgs {
    /// Where two people have not agreed: the drug in the syringe, as you read it
    #[arg(long, value_name = "NAME")]
    drug: Option<String>,
    /// Where two people have not agreed: the strength on its label, "80 mcg/mL"
    #[arg(long, value_name = "STRENGTH")]
    strength: Option<String>,
}

impl LabelArgs {
    fn read(&self) -> Result<SyringeSaid, Refused> {
        argument("--strength", self.strength.as_deref().unwrap_or_default(), |_| {
            SyringeSaid::read(self.drug.as_deref(), self.strength.as_deref())
        })
    }
}

pub(super) fn start(args: &StartArgs) -> Result<Answer, CommandError> {
    written(&args.code, &args.line, Some(&args.times), |_| {
        Ok(ReportedAction::Started(flow("--rate", args.rate.as_ref())?, args.said.read()?))
    })
}

pub(super) fn rate(args: &RateArgs) -> Result<Answer, CommandError> {
    written(&args.code, &args.line, Some(&args.times), |_| {
        Ok(ReportedAction::RateChanged(argument("the rate", &args.to, FlowRate::parse)?))
    })
}

pub(super) fn bolus(args: &BolusArgs) -> Result<Answer, CommandError> {
    written(&args.code, &args.line, Some(&args.times), |_| {
        Ok(ReportedAction::BolusGiven(argument("the bolus", &args.given, BolusDose::parse)?))
    })
}

pub(super) fn pause(args: &PlainArgs) -> Result<Answer, CommandError> {
    written(&args.code, &args.line, Some(&args.times), |_| Ok(ReportedAction::Paused))
}

pub(super) fn resume(args: &ResumeArgs) -> Result<Answer, CommandError> {
    restarted(&args.code, &args.line, Some(&args.times), args.dose_changes, |_| {
        Ok(ReportedAction::Resumed(flow("--rate", args.rate.as_ref())?))
    })
}

pub(super) fn syringe(args: &SyringeArgs) -> Result<Answer, CommandError> {
    let reading = args.reading;
    restarted(&args.code, &args.line, Some(&args.times), args.dose_changes, |_| {
        Ok(ReportedAction::SyringeChanged {
            rate: flow("--rate", args.rate.as_ref())?,
            reading,
            said: args.said.read()?,
        })
    })
}

pub(super) fn stop(args: &PlainArgs) -> Result<Answer, CommandError> {
    written(&args.code, &args.line, Some(&args.times), |_| Ok(ReportedAction::Stopped))
}

/// Reads what happened before anybody is asked for a PIN, writes it down, and says what follows.
pub(super) fn written(
    code: &str,
    line: &RecordArgs,
    times: Option<&Times>,
    happening: impl FnOnce(Moment) -> Result<ReportedAction, Refused>,
) -> Result<Answer, CommandError> {
    restarted(code, line, times, false, happening)
}

fn restarted(
    code: &str,
    line: &RecordArgs,
    times: Option<&Times>,
    dose_changes: bool,
    happening: impl FnOnce(Moment) -> Result<ReportedAction, Refused>,
) -> Result<Answer, CommandError> {
    let (mut cases, now) = line.desk.open()?;
    let happening = happening(now)?;
    let when = times.map(|times| times.when(now)).transpose()?.unwrap_or_default();
    let current = line.current.open()?;
    let code = one_set_up(&cases, code)?;
    let (person, signer) = line.by.unlock(&mut cases, now, whoever_is_here().as_mut())?;
    let by = (&person, &signer);
    let before = match &happening {
        ReportedAction::SyringeChanged { .. } | ReportedAction::Resumed(_) => {
            before(&cases, code, when.happened.unwrap_or(now))?
        }
        _ => None,
    };
    let confirmed = Confirmed { even_so: line.even_so, dose_changes };
    let (recorded, course) = cases.record(code, by, &happening, &when, line.reason.as_deref(), confirmed, now)?;
    let owed = owed_for(&cases, code, current.as_ref(), now)?;
    let people = cases.people()?;
    let data = RecordWritten::of(&cases, code, &person, (recorded.clone(), course.as_ref()), &owed)?;
    let demonstration = cases.journal().is_demonstration();
    Ok(match line.desk.format() {
        Format::Json => Answer::json(&data, Exit::Proceed),
        Format::Text => {
            let mut text = if demonstration { format!("{DEMONSTRATION}\n") } else { String::new() };
            if let Some(before) = &before {
                wrapped(&mut text, "", &format!("Until then: {}.", before.says()));
            }
            said(&mut text, code, data.event, &recorded, &what_in_words(&recorded.what, &people));
            now_in_words(&mut text, data.now.as_ref());
            if let Some(beyond) = course.as_ref().map(Course::syringe).filter(|syringe| !syringe.beyond.is_zero()) {
                let beyond = exact_or_about(beyond.beyond);
                wrapped(
                    &mut text,
                    "",
                    &format!("{beyond} mL more than the syringe should have held are recorded as given."),
                );
            }
            owed_in_words(&mut text, &owed);
            let _ = writeln!(text, "{BY_THE_RECORD}");
            Answer::text(text, Exit::Proceed)
        }
    })
}

/// What ran before a restart.
fn before(cases: &Cases, code: SetUpCode, at: Moment) -> Result<Option<RunningDose>, CommandError> {
    let case = cases.case(code.case)?;
    let course = case.course(case.set_up(code.number)?, at)?;
    Ok(course.as_ref().map(RunningDose::at_the_end).transpose()?.flatten())
}

/// What was written, with its marks.
fn said(out: &mut String, code: SetUpCode, seq: u64, recorded: &Recorded, what: &str) {
    wrapped(out, "", &format!("Written for {code}, event {seq}: {}, {what}.", shown_moment(&recorded.happened)));
    if let Some(late) = &recorded.late {
        wrapped(out, "  ", &format!("written down later: {late}"));
    }
    if let Some(reason) = &recorded.reason {
        wrapped(out, "  ", &format!("reason: {reason}"));
    }
    marks_in_words(out, "  ", &recorded.marks);
}

fn flow(name: &str, text: Option<&String>) -> Result<Option<FlowRate>, Refused> {
    optional(name, text, FlowRate::parse)
}
