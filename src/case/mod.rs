//! Cases: what people do with a journal. One patient, any number of set-ups, from the first sealed entry to the last drop.
//!
//! In: an unlocked person, what they typed, and the moment. Out: one event more, or a refusal. State is a fold over the
//! events ([`Case`]); where a reading stands, the card and what was given are worked out from it each time.

mod accounting;
pub mod actions;
mod audit;
mod basis;
mod board;
mod card_code;
mod cards;
mod clock;
mod code;
pub mod data;
mod decision;
mod editions;
mod timeline;
mod emergency;
mod enter;
mod error;
mod state;
mod form_refused;
mod formularies;
mod reported;
mod history;
mod house;
mod alert_outcomes;
mod kinds;
mod in_the_line;
mod list;
mod patient;
mod not_recorded;
mod now;
mod open_cases;
mod people;
mod picture;
mod pins;
mod plain_name;
mod reaches;
mod recount;
mod read_back;
mod closing;
mod record;
mod restart;
mod round;
mod rounds;
mod review;
mod startable;
mod steps;
mod typings;
mod upgrade;
mod verified;
mod words;
mod record_event;

use serde::{Deserialize, Serialize};

use crate::entry::Entry;
use crate::journal::{Event, Hash, Journal, JournalError, NewEvent, Of, Signer, WriteView, Writing};
use crate::quantity::Moment;

use formularies::{Formularies, Known, kept_editions};

pub use accounting::{ClosingVolumes, Contradiction, Course, READY_BEFORE_MINUTES, Segment, SyringeTotals, Total};
pub use alert_outcomes::{
    DoseGiven, DoseZone, Ended, EntryOutcome, FindingOutcome, RunningNow, SetUpNames, Uncounted, Written,
};
pub use audit::Audit;
pub use basis::SyringeParameters;
pub use board::{Board, BoardDriver, DriverState, Fluid, Left, NextThing, SameDrug};
pub use card_code::{CardCode, Differs};
pub use cards::CardAnswer;
pub use clock::{confirm_clock, correct_clock};
pub use closing::{Balance, Closing, DriverTotal, VolumesRead};
pub use code::{CaseCode, SetUpCode};
pub use decision::{Afterwards, Decision, KeptFinding, Outcome};
pub use editions::{Edition, MadeWith};
pub use emergency::dose_is_the_same;
pub use enter::{Author, SubmittedForm, Task, Turn};
pub use error::{CaseError, Refusal};
pub use form_refused::note_refused_form;
pub use history::{EventTold, Inside};
pub use house::{Vouching, add, add_as_administrators_are_gone, admit_guest, rename, renew_pin, retire};
pub use in_the_line::InTheLine;
pub use kinds::kind_in_words;
pub use list::{Owed, Runs, SetUpRow};
pub use not_recorded::{EmergencyEntry, emergency_not_recorded};
pub use now::Gives;
pub use open_cases::{CaseList, OverCases};
pub use patient::{IdentifiersRead, Twice, Weighed, WeightRead};
pub use people::{People, Person, Role};
pub use picture::drawn;
pub use pins::{SHORTEST_PIN, change_pin, good_pin, note_refused_pin, slowed, unlock};
pub use plain_name::good_name;
pub use reaches::{DeliveryChange, Reaches};
pub use read_back::{HELD, against_agreed};
pub use record::{Confirmed, When};
pub use record_event::{Difference, MARKS, Mark, ReadBack, RecordEvent, Recorded, Shown, SyringeSaid, needs_even_so};
pub use recount::{ReadAgainDone, Recount, RecountStatement};
pub use reported::{Otherwise, ReportedAction};
pub use restart::{NextSyringe, RateAndDose, RunningDose};
pub use review::{ReviewStage, ReviewState, StartBlock};
pub use round::{DriverExpected, DriverRead, RoundCompared, RoundDifference, compare_round};
pub use rounds::{DriverTyped, RoundRead};
pub use state::{Case, EntryTurn, Reading, Sealed, SetUp, Signed};
pub use steps::{DoseStep, StepAsked};
pub use timeline::Correction;
pub use typings::{Typing, TypingShare, Typings};
pub use upgrade::Upgraded;
pub use words::{shown_moment, what_in_words};

/// What the second person signs before a case is forgotten.
const FORGETTING_AGREED: &str = "forgetting-agreed";

/// A journal, used for cases.
#[derive(Debug)]
pub struct Cases {
    journal: Journal,
    known: Known,
}

impl Cases {
    /// The cases of a journal.
    #[must_use]
    pub fn of(journal: Journal) -> Self {
        Self::knowing(journal, Known::default())
    }

    /// The same journal once more, by a handle of its own; what was read of its formularies is shared.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be opened.
    pub fn another(&self) -> Result<Self, JournalError> {
        Ok(Self::knowing(Journal::open(self.journal.folder())?, self.known.clone()))
    }

    fn knowing(mut journal: Journal, known: Known) -> Self {
        journal.project_with(open_cases::projector(known.clone()));
        Self { journal, known }
    }

    /// The journal beneath.
    #[must_use]
    pub const fn journal(&self) -> &Journal {
        &self.journal
    }

    /// The journal beneath, to add people.
    pub const fn journal_mut(&mut self) -> &mut Journal {
        &mut self.journal
    }

    /// Everybody in it.
    ///
    /// # Errors
    /// [`CaseError`] when the journal cannot be read.
    pub fn people(&self) -> Result<People, CaseError> {
        People::of(&self.journal)
    }

    /// Opens a case: a new code, and a key of its own.
    ///
    /// # Errors
    /// [`CaseError`] when it cannot be written.
    pub fn open(&mut self, now: Moment, by: Option<&Signer>) -> Result<CaseCode, CaseError> {
        self.journal.write_in_steps(now, |writing| {
            by.map(|signer| people::may_open(signer, writing)).transpose()?;
            append_opened(writing, by)
        })
    }

    /// The state of a case, with what was decided in it.
    ///
    /// # Errors
    /// When there is none of this code.
    pub fn case(&self, code: CaseCode) -> Result<Case, CaseError> {
        self.journal.look(|past| read_case(code, past, &self.known))
    }

    /// The code of every case, in the order in which they were opened.
    pub(super) fn codes(&self) -> Result<Vec<CaseCode>, CaseError> {
        let opened = self.journal.events(Of::Kind(state::OPENED))?;
        Ok(opened.iter().filter_map(|opened| CaseCode::parse(opened.scope()?).ok()).collect())
    }

    /// Every case that was not forgotten, one after the other.
    fn not_forgotten(&self) -> Result<impl Iterator<Item = Result<Case, CaseError>> + '_, CaseError> {
        let cases = self.codes()?.into_iter().map(|code| self.case(code));
        Ok(cases.filter(|case| case.as_ref().map_or(true, |case| case.forgotten_at.is_none())))
    }

    fn kept_of_case(&self, case: &Case) -> Result<Formularies, CaseError> {
        self.known.of_case(case, |missing| self.journal.look(|past| kept_editions(past, missing)))
    }

    fn kept_editions(&self, editions: &[&str]) -> Result<Formularies, CaseError> {
        self.known.of_editions(editions, |missing| self.journal.look(|past| kept_editions(past, missing)))
    }

    /// Hands over one entry of every reading that is settled, agreed or stopped, with the set-up it belongs to: the first
    /// of the two that say the same. What was forgotten, and what still awaits somebody, is passed over.
    ///
    /// # Errors
    /// When a case cannot be read; or whatever `with` says.
    pub fn each_settled_entry<E: From<CaseError>>(
        &self,
        mut with: impl FnMut(&str, Box<Entry>) -> Result<(), E>,
    ) -> Result<(), E> {
        for case in self.not_forgotten()? {
            let case = case?;
            for set_up in &case.set_ups {
                for reading in &set_up.readings {
                    let stage = case.standing(reading).stage;
                    let decision = match &stage {
                        ReviewStage::Agreed(decision)
                        | ReviewStage::CheckedAfterwards(decision, _)
                        | ReviewStage::Stopped(decision) => decision,
                        _ => continue,
                    };
                    if let Some(first) = reading.first_of(decision) {
                        with(&format!("{} reading {}", set_up.code, reading.number), case.entry(first)?)?;
                    }
                }
            }
        }
        Ok(())
    }

    /// Makes what was sealed in a case unreadable for ever. The chain of events still verifies. Two people sign it; one is
    /// enough only where nobody else is here.
    ///
    /// # Errors
    /// When there is no such case, it still runs, or the second person is missing.
    pub fn forget<'s>(&mut self, now: Moment, by: impl Into<Vouching<'s>>, code: CaseCode) -> Result<(), CaseError> {
        let Vouching { first: Some(first), second } = by.into() else {
            return Err(CaseError::Fault("nobody signs a forgetting".to_owned()));
        };
        self.act(now, code, |case, writing| {
            house::two_who_forget(&People::from_events(|of| writing.events(of))?, now, first, second)?;
            if case.forgotten_at.is_some() {
                let says = format!("case {code} was forgotten before");
                return Err(error::refuse("case-forgotten", says, "nothing is left to do"));
            }
            for set_up in &case.set_ups {
                // By the record as a whole: a clock that is behind does not make it stop.
                if set_up.is_running_by_the_record()?
                    && case.course(set_up, now)?.is_none_or(|course| course.is_running())
                {
                    let says = format!("{} is still running", set_up.code);
                    let help = "stop and close it first: `countersign record stop`";
                    return Err(error::refuse("set-up-runs", says, help));
                }
            }
            let event = |kind, by| {
                let (scope, body) = (Some(code.scope()), serde_json::json!({}));
                NewEvent { kind, scope, by: Some(by), body, introduces: None }
            };
            let agreed = second.map(|second| event(FORGETTING_AGREED, second));
            Ok((agreed.into_iter().chain([event(state::FORGOTTEN, first)]).collect(), ()))
        })?;
        Ok(self.journal.remove_forgotten_key(&code.scope())?)
    }

    /// What somebody wants to do with a case, decided and written while nobody else writes.
    fn act<'s, T>(
        &mut self,
        now: Moment,
        code: CaseCode,
        decide: impl FnOnce(&Case, &Writing<'_>) -> Result<(Vec<NewEvent<'s>>, T), CaseError>,
    ) -> Result<T, CaseError> {
        let known = &self.known;
        self.journal.write_in_steps(now, |writing| {
            let case = read_case(code, writing, known)?;
            refuse_repeated(&case, writing)?;
            let (drafts, decided) = decide(&case, writing)?;
            people::may_sign(&drafts, writing)?;
            append_decisions(&case, writing)?;
            for draft in drafts {
                writing.append(draft)?;
            }
            Ok(decided)
        })
    }
}

/// A case out of its events. What was decided before decisions were kept is worked out once more, by its own formulary.
fn read_case(code: CaseCode, past: &WriteView<'_>, known: &Known) -> Result<Case, CaseError> {
    let events = past.events(Of::Scope(&code.scope()))?;
    let mut case = Case::fold(code, &events, past.keys().case(&code.scope())?, past.journal_id())?;
    case.floor = past.floor();
    case.editions = known.editions_now(past)?;
    if case.key().is_ok() && case.has_decisions_due() {
        case.decide_what_is_due(&known.of_case(&case, |missing| kept_editions(past, missing))?, false)?;
    }
    Ok(case)
}

/// Opens a case: a new code, and a key of its own.
fn append_opened(writing: &mut Writing<'_>, by: Option<&Signer>) -> Result<CaseCode, CaseError> {
    let code = loop {
        let mut lot = [0_u8; 5];
        random(&mut lot)?;
        let code = CaseCode::drawn(lot);
        if writing.events(Of::Scope(&code.scope()))?.is_empty() {
            break code;
        }
    };
    open_as(code, writing, by)
}

/// Opens the case of an emergency, and whether it was there before: the same request never opens two. Its code is drawn
/// from the request, so that it is found again after a restart too.
fn append_opened_once(writing: &mut Writing<'_>) -> Result<(CaseCode, bool), CaseError> {
    let Some(request) = writing.request() else { return Ok((append_opened(writing, None)?, false)) };
    match code_for(request, writing)? {
        Some((code, true)) => Ok((code, true)),
        Some((code, false)) => Ok((open_as(code, writing, None)?, false)),
        None => Ok((append_opened(writing, None)?, false)),
    }
}

/// The code of the case that a request has opened, or may open: and whether it has.
fn code_for(request: Hash, past: &WriteView<'_>) -> Result<Option<(CaseCode, bool)>, CaseError> {
    for attempt in 0..=u8::MAX {
        let drawn = Hash::of(&[request.as_bytes().as_slice(), &[attempt]].concat());
        let [a, b, c, d, e, ..] = *drawn.as_bytes();
        let code = CaseCode::drawn([a, b, c, d, e]);
        let events = past.events(Of::Scope(&code.scope()))?;
        if events.is_empty() {
            return Ok(Some((code, false)));
        }
        if events.iter().any(|event| event.request() == Some(request)) {
            return Ok(Some((code, true)));
        }
    }
    Ok(None)
}

fn open_as(code: CaseCode, writing: &mut Writing<'_>, by: Option<&Signer>) -> Result<CaseCode, CaseError> {
    writing.keys().new_case(&code.scope())?;
    let body = serde_json::json!({});
    writing.append(NewEvent { kind: state::OPENED, scope: Some(code.scope()), by, body, introduces: None })?;
    Ok(code)
}

/// Whether what is asked for was done before: its answer was lost on the way.
fn refuse_repeated(case: &Case, writing: &Writing<'_>) -> Result<(), CaseError> {
    let Some(event) = writing.request().and_then(|request| case.done_for(request)) else { return Ok(()) };
    let says = format!("this request was done before: it is event {event}");
    Err(error::refuse("form-not-open", says, "look at it; for something else choose another key"))
}

/// Writes down what was decided and is not kept yet.
fn append_decisions(case: &Case, writing: &mut Writing<'_>) -> Result<(), CaseError> {
    for draft in case.drafts_of_decisions()? {
        writing.append(draft)?;
    }
    Ok(())
}

fn read_body<T: for<'de> Deserialize<'de>>(event: &Event) -> Result<T, CaseError> {
    T::deserialize(event.body()).map_err(|error| {
        CaseError::Fault(format!("event {} ({}) holds something else: {error}", event.seq(), event.kind()))
    })
}

fn to_value(value: &impl Serialize) -> Result<serde_json::Value, CaseError> {
    serde_json::to_value(value).map_err(|error| CaseError::Fault(error.to_string()))
}

fn random_id() -> Result<String, CaseError> {
    let mut bytes = [0_u8; 6];
    random(&mut bytes)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

fn random(bytes: &mut [u8]) -> Result<(), CaseError> {
    getrandom::fill(bytes).map_err(|error| CaseError::Fault(format!("the machine gives no random numbers: {error}")))
}
