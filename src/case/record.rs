//! The running record: what really happened can always be written down, even what the limits forbid, marked so.

use crate::journal::Signer;
use crate::quantity::Moment;

use super::Cases;
use super::accounting::Course;
use super::code::SetUpCode;
use super::error::{CaseError, refuse};
use super::people::Person;
use super::record_event::{DOSE_CHANGED, RecordEvent, Recorded, asked};
use super::reported::{self, ReportedAction};
use super::state::{Case, Header, RECORD, SetUp};

/// When something happened, and why it is written down only now.
#[derive(Debug, Clone, Default)]
pub struct When {
    /// The moment; now where it is left out.
    pub happened: Option<Moment>,
    /// The reason for being late.
    pub late: Option<String>,
}

/// What the person who reports something has confirmed about it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Confirmed {
    /// It really happened, although it is not as agreed.
    pub even_so: bool,
    /// The dose is changed on purpose with the next syringe, or after a pause.
    pub dose_changes: bool,
}

/// Later than this many minutes, a reason is asked for (common practice, no source).
const LATE_MINUTES: u128 = 10;

impl Cases {
    /// Writes down what was done with a set-up, and gives the course that follows. What lies outside what was agreed, and a
    /// restart with another dose, are taken only when the person has confirmed it; each is marked.
    ///
    /// # Errors
    /// When the record cannot follow from what is written, or something odd was not confirmed.
    #[expect(clippy::too_many_arguments, reason = "what one line of a record needs, each once")]
    pub fn record(
        &mut self,
        code: SetUpCode,
        by: (&Person, &Signer),
        happening: &ReportedAction,
        when: &When,
        reason: Option<&str>,
        confirmed: Confirmed,
        now: Moment,
    ) -> Result<(Recorded, Option<Course>), CaseError> {
        let happened = happened_at(when, now)?;
        let about_another = matches!(happening, ReportedAction::Corrected { .. } | ReportedAction::Explained { .. });
        if about_another && reason.is_none_or(|reason| reason.trim().is_empty()) {
            let says = "what was written down is changed or explained, and no reason is given";
            return Err(refuse("reason-missing", says, "write why: --reason \"read off another driver\""));
        }
        self.act(now, code.case, |case, _| {
            case.key()?;
            let set_up = case.set_up(code.number)?;
            let what = reported::resolve(case, set_up, happening, (happened, confirmed.dose_changes), now)?;
            let (at, before) = case.before(set_up, &what, happened, now)?;
            if let Some(stopped) = before.as_ref().and_then(|course| course.stopped).filter(|_| {
                // A time that was typed puts it before the stop of its minute; what happens now comes after it.
                when.happened.is_none() && !about_another
            }) {
                let says = format!("it was stopped already, at {}", stopped.local());
                let help = "it happened before the stop: give its time, --time HH:MM. It went on: correct the stop, `record correct`";
                return Err(refuse("record-order", says, help));
            }
            // While the clock is behind what was written already, no moment that it allows tells how old anything is.
            let judged_at = if now.is_before(case.floor) { case.age_counts_at(set_up, at) } else { at };
            let marks = reported::marks(case, set_up, &what, before.as_ref(), judged_at)?;
            let asked = asked(&marks);
            if !asked.is_empty() && !confirmed.even_so {
                let help = "before it is done, two people enter it again; if it really happened, say so with --even-so; it is written down and marked";
                return Err(refuse("not-as-agreed", asked.join("; "), help));
            }
            // What is corrected has its own reason, which is asked for already.
            let changes = marks.iter().find(|mark| mark.code == DOSE_CHANGED && !about_another);
            if let Some(mark) = changes.filter(|_| !confirmed.dose_changes) {
                let help = "leave the rate out to keep the dose that ran; where the dose is changed on purpose, say so with --dose-changes; it is written down and marked";
                return Err(refuse("dose-would-change", mark.says.clone(), help));
            }
            let recorded = Recorded {
                what,
                happened: happened.to_rfc3339(),
                late: when.late.clone(),
                reason: reason.map(str::to_owned),
                marks,
            };
            case.follows(set_up, &recorded)?;
            let course = case.course_with(set_up, Some(&recorded), now)?;
            let header = Header { set_up: Some(code.number), ..Header::default() };
            Ok((vec![case.draft(RECORD, Some(by.1), header, Some(&recorded))?], (recorded, course)))
        })
    }
}

impl Case {
    /// The moment at which something happened, and the course until then without the event that it corrects.
    fn before(
        &self,
        set_up: &SetUp,
        what: &RecordEvent,
        happened: Moment,
        now: Moment,
    ) -> Result<(Moment, Option<Course>), CaseError> {
        let RecordEvent::Correct { event, happened: Some(at), .. } = what else {
            return Ok((happened, self.course(set_up, happened)?));
        };
        let at = Moment::parse(at)?;
        let without = Recorded {
            what: RecordEvent::Correct { event: *event, instead: None, happened: None },
            happened: happened.to_rfc3339(),
            late: None,
            reason: None,
            marks: Vec::new(),
        };
        // Without it, the others may not follow each other: then it is held against the course that is written down.
        match self.course_with(set_up, Some(&without), at) {
            Ok(course) => Ok((at, course)),
            Err(CaseError::Refused(_)) => Ok((at, self.course(set_up, now)?)),
            Err(other) => Err(other),
        }
    }
}

/// To the minute, as it is kept and shown: what one minute holds stays in the order in which it is written down.
pub(super) fn happened_at(when: &When, now: Moment) -> Result<Moment, CaseError> {
    let happened = when.happened.unwrap_or(now);
    let Some(ago) = now.hours_since(happened) else {
        let says = format!("{happened} is still to come; it is {now}");
        return Err(refuse("time-to-come", says, "record what has happened, when it has"));
    };
    let late = ago.numerator() * 60 > LATE_MINUTES * ago.denominator();
    if late && when.late.as_ref().is_none_or(|why| why.trim().is_empty()) {
        let says = format!("{happened} is more than {LATE_MINUTES} min ago");
        return Err(refuse("late-without-reason", says, "add --late and the reason for writing it down only now"));
    }
    Ok(Moment::parse(&happened.to_rfc3339())?)
}
