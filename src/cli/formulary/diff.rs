//! `formulary diff`: what changed between two formularies, the most dangerous first.

use clap::{Args, ValueEnum};

use super::edition::{Editions, Opened};
use crate::cli::answer::Answer;
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};
use crate::pharmacy::diff;

#[derive(Debug, Args)]
pub(crate) struct DiffArgs {
    /// The older one: a folder, `demonstration`, or the fingerprint of one that the journal keeps (8 digits or more)
    old: String,
    /// The newer one, named likewise
    new: String,
    #[command(flatten)]
    editions: Editions,
    /// How the answer is written
    #[arg(long, value_enum, default_value = "text")]
    format: DiffFormat,
}

/// A page is drawn here too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum DiffFormat {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// A page to be printed.
    Html,
}

pub(super) fn run(args: &DiffArgs) -> Answer {
    let format = if args.format == DiffFormat::Json { Format::Json } else { Format::Text };
    compared(args).unwrap_or_else(|no_answer| no_answer.said(format))
}

fn compared(args: &DiffArgs) -> Result<Answer, CommandError> {
    let (old, new) = (args.editions.open("OLD", &args.old)?, args.editions.open("NEW", &args.new)?);
    let changes = diff::diff(&old.formulary, &new.formulary).map_err(crate::cli::input::Refused::from)?;
    let demonstration = [&old, &new].into_iter().any(Opened::is_for_demonstration);
    let (old, new) = (old.said(), new.said());
    let notice = demonstration.then_some(crate::card::DEMONSTRATION);
    Ok(match args.format {
        DiffFormat::Json => Answer::json(&diff::json(&old, &new, &changes), Exit::Proceed),
        DiffFormat::Html => Answer::text(diff::page(&old, &new, &changes, notice), Exit::Proceed),
        DiffFormat::Text => {
            let banner = notice.map(|notice| format!("{notice}\n\n")).unwrap_or_default();
            Answer::text(banner + &diff::text(&old, &new, &changes), Exit::Proceed)
        }
    })
}
