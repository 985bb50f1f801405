//! `formulary approve`: two people approve exactly these bytes.

use clap::Args;
use serde_json::json;

use super::KeepArgs;
use crate::cli::answer::Answer;
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::formulary::{APPROVERS, approval_text, different_people};

#[derive(Debug, Args)]
pub(crate) struct ApproveArgs {
    /// The name of a person who approves; twice
    #[arg(long, required = true, value_name = "NAME")]
    by: Vec<String>,
    #[command(flatten)]
    pub(super) keep: KeepArgs,
}

pub(super) fn run(args: &ApproveArgs) -> Result<Answer, Refused> {
    let refuse = |code, message: String, help: &str| Refused::one("--by", Fault::new(code, message).help(help));
    if different_people(&args.by) < APPROVERS {
        let message = "a formulary is approved by two different people".to_owned();
        return Err(refuse("approval-by-one", message, "give --by twice, with two names"));
    }
    let folder = args.keep.source().folder()?;
    if folder.as_os_str() == "demonstration" {
        let message = "the demonstration inside the program cannot be approved anew".to_owned();
        return Err(refuse("approval-not-a-folder", message, "name a folder"));
    }
    let formulary = args.keep.source().open_whole()?;
    let on = args.keep.against.now.moment()?.date();
    let text = approval_text(&args.by, on, formulary.fingerprint());
    let path = folder.join("approval.yaml");
    std::fs::write(&path, text).map_err(|error| {
        Refused::one(
            &path.display().to_string(),
            Fault::new("file-not-written", error.to_string()).help("look at the permissions of the folder"),
        )
    })?;
    let said = format!("{} approved by {} on {on}\n", formulary.fingerprint(), args.by.join(" and "));
    Ok(match args.keep.against.format() {
        Format::Json => {
            Answer::json(&json!({"version": 1, "fingerprint": formulary.fingerprint().to_string()}), Exit::Proceed)
        }
        Format::Text => Answer::text(said, Exit::Proceed),
    })
}
