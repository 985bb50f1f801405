//! `case card`.

use clap::Args;

use crate::case::data::CardShown;
use crate::cli::answer::Answer;
use crate::cli::desk::{CaseArgs, Current, note_read, one_set_up};
use crate::cli::entry_file::CommandError;
use crate::cli::{Drawing, Exit};
use crate::journal::AccessKind;

#[derive(Debug, Args)]
pub(in crate::cli) struct CardArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    pub(super) desk: CaseArgs<Drawing>,
}

pub(super) fn card(args: &CardArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    let code = one_set_up(&cases, &args.code)?;
    let current = args.current.open()?;
    let card = cases.card(code, current.as_ref(), now)?;
    note_read(cases.journal(), now, AccessKind::Card, Some(code.case));
    let data = || Answer::json(&CardShown::of(code, &card), Exit::Proceed);
    args.desk.drawing().answer(|form| card.drawn(form), data)
}
