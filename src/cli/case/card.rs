//! `case card`.

use clap::Args;
use serde_json::json;

use crate::cli::answer::Answer;
use crate::cli::desk::{Current, Desk, one_set_up};
use crate::cli::entry_file::NoAnswer;
use crate::cli::{CardFormat, Drawing, Exit};

#[derive(Debug, Args)]
pub(in crate::cli) struct CardArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    pub(super) desk: Desk<Drawing>,
}

pub(super) fn card(args: &CardArgs) -> Result<Answer, NoAnswer> {
    let (mut cases, now) = args.desk.open()?;
    let code = one_set_up(&cases, &args.code)?;
    let current = args.current.open()?;
    let card = cases.card(code, current.as_ref(), now)?;
    Ok(match args.desk.card_format() {
        CardFormat::Json => {
            let json = json!({
                "version": 1,
                "set_up": code.to_string(),
                "double_checked": !card.is_emergency(),
                "card": card.json(),
            });
            Answer::json(&json, Exit::Proceed)
        }
        CardFormat::Text => Answer::text(card.text(), Exit::Proceed),
        CardFormat::Html => Answer::text(card.html(), Exit::Proceed),
    })
}
