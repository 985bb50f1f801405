//! `case card`.

use clap::Args;
use serde_json::json;

use crate::cli::answer::Answer;
use crate::cli::desk::{Current, Desk, one_set_up};
use crate::cli::entry_file::NoAnswer;
use crate::cli::{Drawing, Exit};

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
    let data = || {
        let json = json!({
            "version": 1,
            "set_up": code.to_string(),
            "double_checked": !card.is_emergency(),
            "card": card.json(),
            "code": card.code(),
        });
        Answer::json(&json, Exit::Proceed)
    };
    args.desk.drawing().answer(|form| card.drawn(form), data)
}
