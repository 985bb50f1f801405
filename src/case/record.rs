//! The running record: what really happened can always be written down, even what the limits forbid, marked so.

use crate::entry::LineFilled;
use crate::journal::Signer;
use crate::quantity::{Moment, Quantity, Ratio, Volume};

use super::Cases;
use super::accounting::{ClosingVolumes, Course, SyringeTotals};
use super::code::SetUpCode;
use super::error::{CaseError, refuse};
use super::people::Person;
use super::record_event::{Mark, RecordEvent, Recorded, asked};
use super::reported::{self, ReportedAction};
use super::restart::DOSE_CHANGED;
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
            let marks = reported::marks(case, set_up, &what, before.as_ref(), at)?;
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

    /// Accounts for what was drawn up; a controlled drug needs a second person who saw it, and who signs too.
    ///
    /// # Errors
    /// When it runs still, or a witness is needed and is not another person.
    #[expect(clippy::too_many_arguments, reason = "three volumes of the same kind stand under their own names here")]
    pub fn close(
        &mut self,
        code: SetUpCode,
        by: (&Person, &Signer),
        in_line: Quantity<Volume>,
        left: Quantity<Volume>,
        discarded: Quantity<Volume>,
        witness: Option<(&Person, &Signer)>,
        when: &When,
        reason: Option<&str>,
        now: Moment,
    ) -> Result<(Option<Balance>, Course), CaseError> {
        let happened = happened_at(when, now)?;
        self.act(now, code.case, |case, _| {
            let set_up = case.set_up(code.number)?;
            let course = case.course(set_up, happened)?;
            let course = course
                .ok_or_else(|| refuse("not-started", format!("{code} was never started"), "nothing is to be closed"))?;
            // What nobody agreed on may be one.
            let may_be = |given: &&SyringeTotals| given.basis.controlled || given.basis.sealed;
            let controlled = course.syringes.iter().find(may_be).map(|given| &given.basis);
            if let Some((person, _)) = witness.filter(|(person, _)| person.id == by.0.id) {
                let says = format!("{} cannot be their own witness", person.name);
                return Err(refuse("same-person", says, "a second person looks at what is discarded"));
            }
            if let Some(basis) = controlled.filter(|_| witness.is_none()) {
                let says = match basis.sealed {
                    true => "two people have not agreed on what was in it: discarding it needs a witness".to_owned(),
                    false => format!("{} is a controlled drug: discarding it needs a witness", basis.drug),
                };
                let help = "add --witness and the name of a second person; their PIN is asked";
                return Err(refuse("witness-needed", says, help));
            }
            let what = RecordEvent::Close {
                in_line: in_line.to_string(),
                left: left.to_string(),
                discarded: discarded.to_string(),
                witness: witness.map(|(person, _)| person.id.clone()),
            };
            let balance = {
                let found =
                    ClosingVolumes { in_line: in_line.value(), left: left.value(), discarded: discarded.value() };
                Balance::of(&course, &found)?
            };
            let recorded = Recorded {
                what,
                happened: happened.to_rfc3339(),
                late: when.late.clone(),
                reason: reason.map(str::to_owned),
                marks: balance.as_ref().and_then(Balance::mark).into_iter().collect(),
            };
            case.follows(set_up, &recorded)?;
            if let (Some(basis), Some(mark), None) = (controlled, recorded.marks.first(), reason) {
                let says = format!("{}, and {} is a controlled drug", mark.says, basis.drug);
                let help = "look again, both of you; if it is so, say why with --reason";
                return Err(refuse("balance-differs", says, help));
            }
            let follows = case.course_with(set_up, Some(&recorded), now)?.unwrap_or(course);
            let header = || Header { set_up: Some(code.number), ..Header::default() };
            let mut drafts = vec![case.draft(RECORD, Some(by.1), header(), Some(&recorded))?];
            if let Some((_, signer)) = witness {
                // The witness signs the same words, in an event of their own that counts for nothing else.
                drafts.push(case.draft(WITNESSED, Some(signer), header(), Some(&recorded))?);
            }
            Ok((drafts, (balance, follows)))
        })
    }
}

/// A second signature under a closing.
pub(super) const WITNESSED: &str = "witnessed";

/// Drawn up = given + in the line + left + discarded, in mL.
#[derive(Debug, Clone, Copy)]
pub struct Balance {
    /// In all syringes after drawing up.
    pub drawn_up: Ratio,
    /// Given, by the record.
    pub given: Ratio,
    /// In the line.
    pub in_line: Ratio,
    /// Left in the syringe.
    pub left: Ratio,
    /// Discarded.
    pub discarded: Ratio,
    /// More accounted for than drawn up.
    pub too_much: Ratio,
    /// Less accounted for than drawn up.
    pub missing: Ratio,
}

impl Balance {
    /// Of a course, and what was found at its end; nothing where nobody agreed on what was drawn up. It is worked out anew
    /// from the record: what is written down later for an earlier moment counts too.
    ///
    /// # Errors
    /// When it cannot be kept exactly.
    pub fn of(course: &Course, found: &ClosingVolumes) -> Result<Option<Self>, CaseError> {
        if course.syringes.iter().any(|given| given.basis.sealed) {
            return Ok(None);
        }
        let ClosingVolumes { in_line, left, discarded } = *found;
        let drawn_up = course.syringes.iter().try_fold(Ratio::ZERO, |sum, one| sum.plus(one.basis.fill))?;
        let out = course.volume()?;
        // A line that was filled otherwise took its fill out of what the driver pushed: that much never left it.
        let first = course.syringes.first().is_some_and(|one| one.basis.line_filled != LineFilled::FromThisSyringe);
        let given = if first { out.less(in_line.min(out))? } else { out };
        let found = given.plus(in_line)?.plus(left)?.plus(discarded)?;
        let (too_much, missing) =
            if found > drawn_up { (found.less(drawn_up)?, Ratio::ZERO) } else { (Ratio::ZERO, drawn_up.less(found)?) };
        Ok(Some(Self { drawn_up, given, in_line, left, discarded, too_much, missing }))
    }

    /// Whether the two sides differ by more than volumes can be read: half of a tenth of a mL (common practice, no
    /// source).
    #[must_use]
    pub fn differs(&self) -> bool {
        let readable = Ratio::new(1, 20).unwrap_or(Ratio::ZERO);
        self.too_much > readable || self.missing > readable
    }

    /// Where they differ, by how much.
    #[must_use]
    pub fn mark(&self) -> Option<Mark> {
        let says = if self.too_much.is_zero() {
            format!("{} mL of what was drawn up are not accounted for", crate::quantity::exact_or_about(self.missing))
        } else {
            format!("{} mL more are accounted for than were drawn up", crate::quantity::exact_or_about(self.too_much))
        };
        self.differs().then(|| Mark::new("balance-differs", says))
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
fn happened_at(when: &When, now: Moment) -> Result<Moment, CaseError> {
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
