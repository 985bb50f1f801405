//! `agree`: two entries of two people, and the set-up card when they agree.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;

use crate::agreement::{NotComparable, Outcome, Pair, agree};
use crate::card::{Card, DEMONSTRATION, Provenance};
use crate::check::{Audience, Verdict};
use crate::diagnostic::Fault;
use crate::entry::Entry;
use crate::formulary::Formulary;
use crate::quantity::Moment;

use super::answer::Answer;
use super::entry_file::{CommandError, check, read};
use super::input::Refused;
use super::report::{CheckedJson, DisagreeJson, code, findings, headline, reasons_offered};
use super::{Against, Drawing, Exit, Format, batch};

#[derive(Debug, Args)]
pub(super) struct AgreeArgs {
    /// The first person's entry
    #[arg(required_unless_present = "batch", conflicts_with = "batch")]
    first: Option<PathBuf>,
    /// The second person's entry, made without seeing the first
    #[arg(required_unless_present = "batch", conflicts_with = "batch")]
    second: Option<PathBuf>,
    /// Many pairs, one JSON object {"first": …, "second": …} a line; - for standard input
    #[arg(long, value_name = "FILE")]
    batch: Option<PathBuf>,
    #[command(flatten)]
    against: Against<Drawing>,
}

pub(super) fn run(args: &AgreeArgs) -> Answer {
    answer(args).unwrap_or_else(|no_answer| no_answer.said(args.against.common.plain()))
}

fn answer(args: &AgreeArgs) -> Result<Answer, CommandError> {
    let now = args.against.now.moment()?;
    if let Some(file) = &args.batch {
        let formulary = args.against.formulary.open_whole()?;
        return batch::run(file, &batch::Pairs { formulary: &formulary, now }).map_err(CommandError::Refused);
    }
    let (first, second) = match (args.first.as_deref().map(read), args.second.as_deref().map(read)) {
        (Some(Ok(first)), Some(Ok(second))) => (first, second),
        (first, second) => {
            let refused = [first, second].into_iter().flatten().filter_map(Result::err);
            return Err(Refused(refused.flat_map(|refused| refused.blind().0).collect()).into());
        }
    };
    compare((first, second), &args.against.formulary.open()?, now, &args.against.common)
}

/// Holds two entries against each other and the formulary.
pub(super) fn compare(
    (first, second): (Box<Entry>, Box<Entry>),
    formulary: &Formulary,
    now: Moment,
    drawing: &Drawing,
) -> Result<Answer, CommandError> {
    let first = check(first, formulary, now)?;
    let second = check(second, formulary, now)?;
    let format = drawing.plain();
    match agree(first, second) {
        Err(NotComparable::RatesDiffer) => Err(CommandError::Fault(NotComparable::RatesDiffer.to_string())),
        Err(refused) => {
            let fault = Fault::new(code(&refused), refused.to_string()).help(refused.help());
            Err(Refused::one("the two entries", fault).into())
        }
        Ok(Outcome::Differ(differ)) => Ok(match format {
            Format::Json => Answer::json(&DisagreeJson::of(differ.fields()), Exit::Disagree),
            Format::Text => Answer::text(disagreement(differ.fields(), formulary), Exit::Disagree),
        }),
        Ok(Outcome::Stopped(pair)) => Ok(not_agreed(&pair, Verdict::Stop, format)),
        Ok(Outcome::ReasonsMissing(pair)) => Ok(not_agreed(&pair, Verdict::Justify, format)),
        Ok(Outcome::Agreed(agreed)) => {
            let card = Card::of(&agreed, now, &Provenance::Files);
            let data = || Answer::json(&pair_json(agreed.pair(), Verdict::Proceed).card(card.json()), Exit::Proceed);
            drawing.answer(|form| card.drawn(form), data)
        }
    }
}

fn pair_json<'c>(pair: &'c Pair<'_>, verdict: Verdict) -> CheckedJson<'c> {
    CheckedJson::of(pair.first(), verdict, pair.findings(), Audience::of_pair(verdict))
        .whole(pair.first(), verdict)
        .agreed(true)
}

fn not_agreed(pair: &Pair<'_>, verdict: Verdict, format: Format) -> Answer {
    if format == Format::Json {
        return Answer::json(&pair_json(pair, verdict), Exit::of(verdict));
    }
    let mut out = String::new();
    if pair.first().computed().formulary().policy().demonstration {
        let _ = writeln!(out, "{DEMONSTRATION}");
    }
    let _ = writeln!(out, "{}", headline(verdict));
    let says = match verdict {
        Verdict::Stop => "Both entries say the same, and it stops. There is no card.",
        _ => {
            "Both entries say the same. There is no card until each person has written a reason, in their own words, for:"
        }
    };
    crate::card::wrapped(&mut out, "", says);
    if verdict == Verdict::Justify {
        for finding in pair.unreasoned() {
            let lacking: Vec<&str> = [pair.first(), pair.second()]
                .into_iter()
                .map(|checked| checked.computed().entry())
                .filter(|entry| entry.reason(finding.code.id).is_none())
                .map(Entry::name)
                .collect();
            let line = format!("{}, missing from {}", finding.code.id, lacking.join(" and "));
            crate::card::wrapped(&mut out, "  ", &line);
        }
    }
    findings(&mut out, verdict, pair.findings(), Audience::of_pair(verdict), |_| None);
    reasons_offered(&mut out, verdict, pair.first().computed().formulary());
    Answer::text(out, Exit::of(verdict))
}

fn disagreement(fields: &[&'static str], formulary: &Formulary) -> String {
    let banner = if formulary.policy().demonstration { format!("{DEMONSTRATION}\n") } else { String::new() };
    let mut out = format!("{banner}DISAGREE\nThe two entries differ in:\n");
    for field in fields {
        let _ = writeln!(out, "  {field}");
    }
    let says = "Both go back to the order, the label and the line, and enter these fields again, each alone.";
    crate::card::wrapped(&mut out, "", says);
    out
}
