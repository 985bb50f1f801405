//! `formulary alerts`: how often each rule spoke in a journal, and what came of it.

use clap::Args;

use crate::card::DEMONSTRATION;
use crate::cli::answer::Answer;
use crate::cli::desk::CaseArgs;
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};
use crate::pharmacy::alerts::{self, Alerts};

#[derive(Debug, Args)]
pub(crate) struct AlertsArgs {
    #[command(flatten)]
    desk: CaseArgs,
}

pub(super) fn run(args: &AlertsArgs) -> Answer {
    counted(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

fn counted(args: &AlertsArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    let counted = Alerts::of(&cases, now)?;
    let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
    Ok(match args.desk.format() {
        Format::Json => {
            let mut data = alerts::json(&counted);
            data["notice"] = notice.into();
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let banner = notice.map(|notice| format!("{notice}\n\n")).unwrap_or_default();
            Answer::text(banner + &alerts::text(&counted), Exit::Proceed)
        }
    })
}
