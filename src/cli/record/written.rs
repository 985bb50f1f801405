//! What was recorded, and what follows, in words or as data.

use std::fmt::Write as _;

use crate::card::{DEMONSTRATION, wrapped};
use crate::case::actions::{Actor, Reported};
use crate::case::{CaseError, Cases, Course, SetUpCode, shown_moment};
use crate::cli::answer::Answer;
use crate::cli::ask::terminal_or_lines;
use crate::cli::desk::one_set_up;
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};
use crate::quantity::{Moment, exact_or_about};

use super::ActArgs;
use super::now::{BY_THE_RECORD, now_in_words, owed_in_words};
use super::words::marks_in_words;

/// Reads what was typed before anybody is asked for a PIN, lets them act, and says what follows.
pub(super) fn written(
    code: &str,
    args: &ActArgs,
    check: impl FnOnce(Moment) -> Result<(), CaseError>,
    act: impl FnOnce(&mut Cases, SetUpCode, Actor<'_>) -> Result<Reported, CaseError>,
) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    check(now)?;
    let current = args.current.open()?;
    let code = one_set_up(&cases, code)?;
    let (person, signer) = args.by.unlock(&mut cases, now, terminal_or_lines().as_mut())?;
    let by = Actor { person: &person, signer: &signer, current: current.as_ref(), now };
    let reported = act(&mut cases, code, by)?;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&reported.data, Exit::Proceed),
        Format::Text => Answer::text(in_words(code, &reported, cases.journal().is_demonstration()), Exit::Proceed),
    })
}

fn in_words(code: SetUpCode, reported: &Reported, demonstration: bool) -> String {
    let Reported { data, recorded, says, course, before, owed } = reported;
    let mut text = if demonstration { format!("{DEMONSTRATION}\n") } else { String::new() };
    if let Some(before) = before {
        wrapped(&mut text, "", &format!("Until then: {}.", before.says()));
    }
    let happened = shown_moment(&recorded.happened);
    wrapped(&mut text, "", &format!("Written for {code}, event {}: {happened}, {says}.", data.event));
    if let Some(late) = &recorded.late {
        wrapped(&mut text, "  ", &format!("written down later: {late}"));
    }
    if let Some(reason) = &recorded.reason {
        wrapped(&mut text, "  ", &format!("reason: {reason}"));
    }
    marks_in_words(&mut text, "  ", &recorded.marks);
    now_in_words(&mut text, data.now.as_ref());
    if let Some(beyond) = course.as_ref().map(Course::syringe).filter(|syringe| !syringe.beyond.is_zero()) {
        let beyond = exact_or_about(beyond.beyond);
        wrapped(&mut text, "", &format!("{beyond} mL more than the syringe should have held are recorded as given."));
    }
    owed_in_words(&mut text, owed);
    let _ = writeln!(text, "{BY_THE_RECORD}");
    text
}
