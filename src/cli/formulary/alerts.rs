//! `formulary alerts`: how often each rule spoke in a journal, what came of it, and which doses ran.

use clap::builder::PossibleValuesParser;
use clap::{Args, ValueEnum};
use jiff::civil::Date;

use crate::card::DEMONSTRATION;
use crate::cli::answer::Answer;
use crate::cli::desk::CaseArgs;
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};
use crate::pharmacy::alerts::{Alerts, Dimension, Selection, for_committee};
use crate::quantity::parse_date;

#[derive(Debug, Args)]
pub(crate) struct AlertsArgs {
    /// Only set-ups entered on this day or later: 2026-03-01
    #[arg(long, value_name = "DAY", value_parser = day)]
    from: Option<Date>,
    /// Only set-ups entered on this day or earlier
    #[arg(long, value_name = "DAY", value_parser = day)]
    to: Option<Date>,
    /// Only one drug, area, and so on: `drug=noradrenaline`; may be given more than once
    #[arg(long, value_name = "WHAT=VALUE", value_parser = wanted)]
    only: Vec<(Dimension, String)>,
    /// A table for each of these
    #[arg(long, value_delimiter = ',', default_value = "drug,area,phase,role,hour,edition", value_parser = PossibleValuesParser::new(Dimension::WORDS))]
    by: Vec<String>,
    #[command(flatten)]
    desk: CaseArgs<ReportFormatArg>,
}

/// How a report is written.
#[derive(Debug, Args)]
struct ReportFormatArg {
    /// How the answer is written
    #[arg(long, value_enum, default_value = "text")]
    format: ReportFormat,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ReportFormat {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// One count a line, for a spreadsheet.
    Csv,
    /// One sheet to be printed and signed: the first rows of the tables that a committee looks at.
    Html,
}

pub(super) fn run(args: &AlertsArgs) -> Answer {
    let is_json = args.desk.common().format == ReportFormat::Json;
    counted(args).unwrap_or_else(|no_answer| no_answer.said(if is_json { Format::Json } else { Format::Text }))
}

fn counted(args: &AlertsArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    let by = args.by.iter().filter_map(|word| Dimension::written(word)).collect();
    let selection = Selection { from: args.from, to: args.to, only: args.only.clone(), by };
    let report = Alerts::of(&cases, selection, now)?.report();
    let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
    Ok(match args.desk.common().format {
        ReportFormat::Json => {
            let mut data = report.json();
            data["notice"] = notice.into();
            Answer::json(&data, Exit::Proceed)
        }
        ReportFormat::Text => {
            let banner = notice.map(|notice| format!("{notice}\n\n")).unwrap_or_default();
            Answer::text(banner + &report.text(), Exit::Proceed)
        }
        ReportFormat::Csv => Answer::text(report.csv(), Exit::Proceed),
        ReportFormat::Html => Answer::text(for_committee(report, notice), Exit::Proceed),
    })
}

fn day(text: &str) -> Result<Date, String> {
    parse_date(text).map_err(|refused| refused.to_string())
}

fn wanted(text: &str) -> Result<(Dimension, String), String> {
    let found = text.split_once('=').and_then(|(what, value)| Some((Dimension::written(what)?, value.to_owned())));
    found.ok_or_else(|| format!("write one of {} and its value: drug=noradrenaline", Dimension::WORDS.join(", ")))
}
