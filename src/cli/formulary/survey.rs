//! `formulary survey`: every usual set-up through the checks.

use super::KeepArgs;
use crate::cli::answer::Answer;
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::pharmacy::survey;

pub(super) fn run(args: &KeepArgs) -> Result<Answer, Refused> {
    let formulary = args.source().open_whole()?;
    let now = args.against.now.moment()?;
    let survey = survey::survey(&formulary, now)
        .map_err(|message| Refused::one("survey", Fault::new("survey", message).help("run `formulary lint`")))?;
    Ok(match args.against.format() {
        Format::Json => Answer::json(&survey.json(), Exit::Proceed),
        Format::Text => Answer::text(survey.text(), Exit::Proceed),
    })
}
