//! `check`: one entry against the formulary, or many.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;

use crate::card::DEMONSTRATION;
use crate::check::{Audience, Checked, Verdict};
use crate::quantity::{exact_or_about, grouped, plain};

use super::answer::Answer;
use super::entry_file::{CommandError, check, read};
use super::report::{CheckedJson, NOT_DOUBLE_CHECKED, findings, headline, reasons_offered, working_lines};
use super::{Against, Exit, Format, batch};

#[derive(Debug, Args)]
pub(super) struct CheckArgs {
    /// The entry: a YAML file, or a JSON file by its ending; - for standard input
    #[arg(required_unless_present = "batch", conflicts_with = "batch")]
    entry: Option<PathBuf>,
    /// Many entries, one JSON object a line; - for standard input
    #[arg(long, value_name = "FILE")]
    batch: Option<PathBuf>,
    #[command(flatten)]
    against: Against,
}

pub(super) fn run(args: &CheckArgs) -> Answer {
    answer(args).unwrap_or_else(|no_answer| no_answer.said(args.against.format()))
}

fn answer(args: &CheckArgs) -> Result<Answer, CommandError> {
    let now = args.against.now.moment()?;
    if let Some(file) = &args.batch {
        let formulary = args.against.formulary.open_whole()?;
        return batch::run(file, &batch::Single { formulary: &formulary, now }).map_err(CommandError::Refused);
    }
    let entry = read(args.entry.as_deref().unwrap_or_else(|| std::path::Path::new("-")))?;
    let formulary = args.against.formulary.open()?;
    let checked = check(entry, &formulary, now)?;
    let verdict = checked.verdict();
    Ok(match args.against.format() {
        Format::Json => Answer::json(
            &CheckedJson::of(&checked, verdict, checked.findings(), Audience::Reader).whole(&checked, verdict),
            Exit::of(verdict),
        ),
        Format::Text => Answer::text(text(&checked, verdict), Exit::of(verdict)),
    })
}

fn text(checked: &Checked<'_>, verdict: Verdict) -> String {
    let mut out = String::new();
    let computed = checked.computed();
    if computed.formulary().policy().demonstration {
        let _ = writeln!(out, "{DEMONSTRATION}");
    }
    let _ = writeln!(out, "{}", headline(verdict));
    if verdict != Verdict::Stop
        && let Ok(sum) = computed.sum()
    {
        let _ = writeln!(out, "\n{} mL/h\n", grouped(&plain(sum.set)));
        for line in &working_lines(checked) {
            let _ = writeln!(out, "  {line}");
        }
        let _ = writeln!(out, "  gives {} {}", exact_or_about(sum.given), computed.entry().dose().unit());
    }
    findings(&mut out, verdict, checked.findings(), Audience::Reader, |finding| {
        computed.entry().reason(finding.code.id)
    });
    reasons_offered(&mut out, verdict, computed.formulary());
    let _ = writeln!(out, "\n{NOT_DOUBLE_CHECKED}");
    out
}
