//! `journal upgrade`: decisions of older cases, written down before a later program would have to work them out.

use std::fmt::Write as _;

use clap::Args;
use serde_json::json;

use super::answer::Answer;
use super::desk::CaseArgs;
use super::entry_file::CommandError;
use super::{Exit, Format};

#[derive(Debug, Args)]
pub(super) struct UpgradeArgs {
    #[command(flatten)]
    desk: CaseArgs,
}

pub(super) fn run(args: &UpgradeArgs) -> Answer {
    upgrade(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

fn upgrade(args: &UpgradeArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let done = cases.upgrade(now)?;
    Ok(match args.desk.format() {
        Format::Json => {
            let data = json!({
                "version": 1, "written": done.written, "kept_before": done.kept, "passed_over": done.passed_over,
                "not_readable": done.not_readable,
            });
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let mut text = format!("{} decisions written down, {} were kept before", done.written, done.kept);
            if done.passed_over > 0 {
                let _ = write!(text, "; {} cases passed over: forgotten, or without their key", done.passed_over);
            }
            text.push_str(".\n");
            for lost in &done.not_readable {
                let _ =
                    writeln!(text, "DECISION NOT READABLE: {lost}; this set-up goes on by the driver and the order");
            }
            Answer::text(text, Exit::Proceed)
        }
    })
}
