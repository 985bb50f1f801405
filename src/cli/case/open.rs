//! `case open` and `case forget`.

use clap::Args;
use serde_json::json;

use crate::case::SetUpCode;
use crate::case::data::CaseOpened;
use crate::cli::answer::Answer;
use crate::cli::ask::{Prompt, terminal_or_lines};
use crate::cli::desk::{CaseArgs, SignedBy};
use crate::cli::entry_file::CommandError;
use crate::cli::people::{SignedByTwo, both};
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;

#[derive(Debug, Args)]
pub(in crate::cli) struct OpenArgs {
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct ForgetArgs {
    /// The case
    code: String,
    #[command(flatten)]
    by: SignedByTwo,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn open(args: &OpenArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let (_, signer) = args.by.unlock(&mut cases, now, terminal_or_lines().as_mut())?;
    let code = cases.open(now, Some(&signer))?;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&CaseOpened::of(code), Exit::Proceed),
        Format::Text => {
            let text = format!("{code}\nCase opened. Next: `countersign case enter {code} --as NAME`\n");
            Answer::text(text, Exit::Proceed)
        }
    })
}

pub(super) fn forget(args: &ForgetArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let (code, _) = SetUpCode::parse(&args.code)?;
    let mut ask = terminal_or_lines();
    let (first, second) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let judge = |typed: &str| {
        let same = crate::case::CaseCode::parse(typed).is_ok_and(|typed| typed == code);
        (!same).then(|| {
            Fault::new("code-differs", "this is not the code of that case").help("type it, or leave with Ctrl-C")
        })
    };
    ask.line(&Prompt {
        says: "What was sealed in it cannot be read again. Type the code of the case:",
        help: String::new(),
        offered: Vec::new(),
        judge: &judge,
    })?;
    cases.forget(now, both(&first, &second), code)?;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "forgotten": code.to_string()}), Exit::Proceed),
        Format::Text => {
            Answer::text(format!("Forgotten: {code}. What was sealed in it cannot be read any more.\n"), Exit::Proceed)
        }
    })
}
