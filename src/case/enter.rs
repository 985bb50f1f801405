//! Entering: what somebody is asked, and the sealing of what they typed. Whose turn it is stands in `turn.rs`.

use crate::check::{Checked, RunningInfusion};
use crate::diagnostic::{Fault, Source};
use crate::document::{Path, read_form};
use crate::entry::{Asking, Carried, Entry, EntryForm, FormContext, Identifiers, Patient};
use crate::formulary::{Formulary, is_same_person};
use crate::journal::Signer;
use crate::quantity::Moment;

use super::carried::require_alike;
use super::code::{CaseCode, SetUpCode};
use super::emergency::{judge_emergency, plain_author};
use super::error::{CaseError, refuse};
use super::formularies::{ENTER_ANEW, keep, kept_editions};
use super::order::names_the_prescriber;
use super::people::Person;
use super::pins::signed_now;
use super::review::checked;
use super::signing::may_sign;
use super::state::{Case, ENTRY, EntryTurn, Header, Opened};
use super::{Cases, append_decisions, append_opened_once, read_case, refuse_repeated};

/// What somebody wants to enter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// A first entry: a new set-up, the next syringe of one, or fields again.
    First {
        /// Even though an entry is under way or a card is good: another reading of the same set-up.
        anew: bool,
    },
    /// The blind second entry, fields again, or the third after two disagreements.
    Second,
    /// Alone, without a PIN.
    Emergency,
}

/// Who enters.
#[derive(Debug, Clone, Copy)]
pub enum Author<'a> {
    /// Somebody whose key was opened with their PIN.
    Signed(&'a Person, &'a Signer),
    /// A name as typed, in an emergency.
    Typed {
        /// The name.
        name: &'a str,
        /// The role.
        role: &'a str,
    },
}

/// What is to be entered: by whom it may be, which fields, what is known already.
#[derive(Debug, Clone)]
pub struct Task {
    /// Which set-up.
    pub set_up: SetUpCode,
    /// Which of its readings.
    pub reading: u16,
    /// In which turn.
    pub place: EntryTurn,
    /// In which round.
    pub round: u8,
    /// The fields that are read again; the whole form where there are none.
    pub fields: Option<Vec<&'static str>>,
    /// The patient, where two people agreed on one before.
    pub patient: Option<Patient>,
    /// What two people agreed on about the syringe that runs, where this is the next one of it.
    pub carried: Option<Box<Carried>>,
    /// What this person entered in the round before.
    pub(super) own: Option<Opened>,
    pub(super) opens_case: bool,
}

/// A form as it comes from a file or from answers.
#[derive(Debug, Clone)]
pub struct SubmittedForm {
    /// What a refusal calls it.
    pub name: String,
    /// As typed.
    pub text: String,
    /// Whether it is JSON; else YAML.
    pub json: bool,
    /// The dose, typed once more: for an emergency entry whose dose or rate lies beyond the limits, before its rate is shown.
    pub dose_again: Option<String>,
}

impl Author<'_> {
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Signed(person, _) => &person.name,
            Self::Typed { name, .. } => name,
        }
    }

    pub(super) fn role(&self) -> &str {
        match self {
            Self::Signed(person, _) => person.role.word(),
            Self::Typed { role, .. } => role,
        }
    }

    fn signer(&self) -> Option<&Signer> {
        match self {
            Self::Signed(_, signer) => Some(signer),
            Self::Typed { .. } => None,
        }
    }
}

impl Task {
    /// An emergency entry for which nobody has opened a case: sealing opens one, and nothing is written before.
    #[must_use]
    pub fn emergency_without_a_case() -> Self {
        // This code never stands anywhere: the case gets its own when it is opened.
        let set_up = SetUpCode { case: CaseCode::drawn([0; 5]), number: 1 };
        let (place, patient, carried, own) = (EntryTurn::Emergency, None, None, None);
        Self { set_up, reading: 1, place, round: 1, fields: None, patient, carried, own, opens_case: true }
    }

    /// What this person entered in the round before: the fields that are not read again stay as they were.
    #[must_use]
    pub fn own_form(&self) -> Option<SubmittedForm> {
        let own = self.own.as_ref()?;
        Some(SubmittedForm {
            name: "your own entry".to_owned(),
            text: own.form.clone(),
            json: own.json,
            dose_again: None,
        })
    }

    /// Who is asked.
    #[must_use]
    pub fn asking(&self, now: Moment) -> Asking {
        let second = matches!(self.place, EntryTurn::Second | EntryTurn::Third);
        let emergency = self.place == EntryTurn::Emergency;
        Asking { patient_known: self.patient.is_some(), second, emergency, today: now.date() }
    }

    /// What a form need not say here.
    #[must_use]
    pub fn given(&self, author: &Author<'_>, now: Moment) -> FormContext {
        let (name, role) = (author.name().to_owned(), author.role().to_owned());
        let may_assume = self.place == EntryTurn::Emergency;
        let may_carry = self.carried.is_some();
        FormContext { name, role, entered_at: now, patient: self.patient.clone(), may_assume, may_carry }
    }
}

impl Cases {
    /// What somebody may enter now.
    ///
    /// # Errors
    /// When it is not their turn: what is waited for, and for whom.
    pub fn task(
        &self,
        code: (CaseCode, Option<u16>),
        turn: Turn,
        author: &Author<'_>,
        now: Moment,
    ) -> Result<Task, CaseError> {
        let case = self.case(code.0)?;
        case.task(code.1, turn, author, now)
    }

    /// An entry as its author sees it before it is sealed: every fault of the form, and every finding.
    ///
    /// # Errors
    /// [`CaseError::Form`] with the faults; nothing typed about a patient is repeated.
    pub fn judge<'f>(
        &self,
        task: &Task,
        form: &SubmittedForm,
        author: &Author<'_>,
        formulary: &'f Formulary,
        now: Moment,
    ) -> Result<Checked<'f>, CaseError> {
        self.may_enter_with(formulary, task.place)?;
        let entry = good_form(task, form, author, now)?;
        names_the_prescriber(&entry)?;
        require_alike(task, form, formulary)?;
        let judge = if task.place == EntryTurn::Emergency { Checked::in_an_emergency } else { Checked::of };
        let checked = checked(entry, formulary, now, judge)?;
        // Both entries are sealed and say the same: what lacks reasons is said, with what runs.
        let (runs, order) = match &task.fields {
            Some(fields) if fields.as_slice() == ["reasons"] => {
                let case = self.case(task.set_up.case)?;
                (case.ran_beside(task), case.order_beside(task))
            }
            _ => (None, None),
        };
        let checked = checked.and(order.and_then(|held| held.finding()));
        Ok(match runs {
            Some(runs) => checked.beside(&runs),
            None => checked,
        })
    }

    /// Seals an entry. Nobody reads it before the other one is sealed too.
    ///
    /// # Errors
    /// When the form is refused, somebody else was quicker, or the house asks for the PIN and none was typed.
    pub fn seal(
        &mut self,
        task: &Task,
        form: &SubmittedForm,
        author: &Author<'_>,
        formulary: &Formulary,
        now: Moment,
    ) -> Result<SetUpCode, CaseError> {
        self.may_enter_with(formulary, task.place)?;
        let entry = good_form(task, form, author, now)?;
        names_the_prescriber(&entry)?;
        if let Some(signer) = author.signer().filter(|_| formulary.policy().sealing_asks_pin) {
            signed_now(signer)?;
        }
        require_alike(task, form, formulary)?;
        if task.place == EntryTurn::Emergency {
            judge_emergency(entry.clone(), form, formulary, now)?;
        }
        let opened = Opened {
            form: form.text.clone(),
            json: form.json,
            name: author.name().to_owned(),
            role: author.role().to_owned(),
            patient: says_patient(form),
            patient_of_two: true,
            dose_again: form.dose_again.clone().filter(|_| task.place == EntryTurn::Emergency),
        };
        let known = &self.known;
        self.journal.write_in_steps(now, |writing| {
            let (code, repeated) =
                if task.opens_case { append_opened_once(writing)? } else { (task.set_up.case, false) };
            let mut case = read_case(code, writing, known)?;
            if repeated {
                return case.made_by_the_same_form(form, author);
            }
            if !task.opens_case {
                refuse_repeated(&case, writing)?;
            }
            let turn = match task.place {
                EntryTurn::First => Turn::First { anew: true },
                EntryTurn::Second | EntryTurn::Third => Turn::Second,
                EntryTurn::Emergency => Turn::Emergency,
            };
            let edition = formulary.edition();
            let set_up = if task.place == EntryTurn::Emergency {
                // Whatever others have entered meanwhile, an emergency entry is the next set-up.
                case.task(None, turn, author, now)?.set_up
            } else {
                still_open(&case, task, turn, author, now)?;
                of_this_round(&case, task, &edition)?;
                task.set_up
            };
            if opened.patient
                && let Some(agreed) = case.patient_before(u64::MAX)?
            {
                same_patient(&agreed, &entry)?;
            }
            let header = Header {
                set_up: Some(set_up.number),
                reading: Some(task.reading),
                place: Some(task.place),
                round: Some(task.round),
                edition: Some(edition),
                ..Header::default()
            };
            if let Some(draft) = keep(formulary, writing)? {
                writing.append(draft)?;
            }
            let draft = case.draft(ENTRY, author.signer(), header, Some(&opened))?;
            may_sign(std::slice::from_ref(&draft), writing)?;
            case.take(&writing.append(draft)?)?;
            if case.has_decisions_due() {
                case.decide_what_is_due(&known.of_case(&case, |missing| kept_editions(writing, missing))?, true)?;
            }
            append_decisions(&case, writing)?;
            Ok(set_up)
        })
    }
}

impl Case {
    /// The set-up of an emergency form that was sent before: a second press, or a page that was loaded again.
    pub(super) fn made_by_the_same_form(
        &self,
        form: &SubmittedForm,
        author: &Author<'_>,
    ) -> Result<SetUpCode, CaseError> {
        let set_up = self.set_up(1)?;
        let before = set_up.readings.first().and_then(|reading| reading.entries.first());
        let before = before.ok_or_else(|| CaseError::Fault(format!("{} has no entry", set_up.code)))?;
        let before = self.open(before)?;
        if (&*before.form, &*before.name, &*before.role) == (&*form.text, author.name(), author.role()) {
            return Ok(set_up.code);
        }
        let says = format!("this form made the card of {}, and says something else now", set_up.code);
        Err(refuse("form-sent-before", says, "for another card begin a new form: `countersign case emergency`"))
    }

    /// What ran when the entries of the round before were decided.
    fn ran_beside(&self, task: &Task) -> Option<RunningInfusion> {
        let reading = self.set_up(task.set_up.number).ok()?.reading(task.reading)?;
        let decided = reading.decisions.last()?.decision.as_ref().ok()?;
        decided.runs.clone()
    }
}

/// Under the lock: the task is still the one that was given out.
fn still_open(case: &Case, task: &Task, turn: Turn, author: &Author<'_>, now: Moment) -> Result<(), CaseError> {
    let is_new = task.reading == 1 && task.place == EntryTurn::First && task.round == 1;
    let number = if is_new && case.set_up(task.set_up.number).is_err() { None } else { Some(task.set_up.number) };
    let too_late = || {
        let says = format!("{} has moved on while this was typed; this entry was not taken", task.set_up);
        refuse("somebody-was-first", says, format!("see `countersign case status {}`", case.code))
    };
    let now_open = case.task(number, turn, author, now).map_err(|error| match error {
        CaseError::Refused(refusal) if refusal.code == "same-person" => CaseError::Refused(refusal),
        CaseError::Refused(_) => too_late(),
        other => other,
    })?;
    let same = now_open.reading == task.reading && now_open.place == task.place && now_open.round == task.round;
    if same && now_open.set_up == task.set_up { Ok(()) } else { Err(too_late()) }
}

/// Both entries of a reading are held against the same limits.
fn of_this_round(case: &Case, task: &Task, edition: &str) -> Result<(), CaseError> {
    let reading = case.set_up(task.set_up.number).ok().and_then(|set_up| set_up.reading(task.reading));
    match reading.and_then(|reading| reading.entries.first()) {
        Some(first) if first.edition != edition => Err(refuse(
            "formulary-changed",
            format!("{} was first entered with another edition of the formulary", task.set_up),
            ENTER_ANEW,
        )),
        _ => Ok(()),
    }
}

fn same_patient(agreed: &Patient, entry: &Entry) -> Result<(), CaseError> {
    let said = entry.patient();
    if let (Identifiers::Known(known), Identifiers::Known(said)) = (&agreed.identifiers, &said.identifiers)
        && Identifiers::folded(known) != Identifiers::folded(said)
    {
        let help =
            "look at the wristband; another patient is another case, and here the patient need not be entered again";
        return Err(refuse("patient-not-of-case", "the identifiers are not those that this case was agreed on", help));
    }
    if agreed.weight != said.weight {
        let help = "a weight that has changed is read again by two people: `countersign case weight`";
        return Err(refuse("weight-not-of-case", "the weight is not the one that this case was agreed on", help));
    }
    Ok(())
}

/// Reads a form with all its faults; the person who enters it signs it.
pub(super) fn good_form(
    task: &Task,
    form: &SubmittedForm,
    author: &Author<'_>,
    now: Moment,
) -> Result<Box<Entry>, CaseError> {
    plain_author(author)?;
    let mut source = Source::new(form.name.clone(), form.text.clone());
    let mut faults = Vec::new();
    let root = read_form(&form.text, form.json, &mut faults);
    let given = task.given(author, now);
    let entry = root.as_ref().and_then(|root| {
        root.places_of("patient").into_iter().for_each(|place| source.withhold(place));
        EntryForm::at(root, Path::Root).given(&given).read(&mut faults)
    });
    let refused = |faults: Vec<Fault>, source| {
        let faults = faults.into_iter().map(Fault::without_what_was_typed).collect();
        Err(CaseError::Form(vec![(source, faults)]))
    };
    match entry {
        Some(entry) if faults.is_empty() => {
            if now.is_before(entry.entered_at()) {
                let fault = Fault::new("entered-after-now", "the form says that it was entered later than now")
                    .in_field("entered_at")
                    .help("leave `entered_at` out here: the journal says when it was entered");
                return refused(vec![fault], source);
            }
            if is_same_person(entry.name(), author.name()) {
                return Ok(entry);
            }
            let fault = Fault::new("entered-by-another", "the form names somebody else than who signs it")
                .in_field("entered_by")
                .help("each person enters their own reading; leave `entered_by` out here");
            refused(vec![fault], source)
        }
        _ => refused(faults, source),
    }
}

fn says_patient(form: &SubmittedForm) -> bool {
    let mut faults = Vec::new();
    let root = read_form(&form.text, form.json, &mut faults);
    root.is_some_and(|root| root.member("patient").is_some())
}

pub(super) fn signer_id<'a>(author: &'a Author<'_>) -> &'a str {
    match author {
        Author::Signed(_, signer) => signer.id(),
        // No event of a person bears this; names are compared besides.
        Author::Typed { .. } => "",
    }
}
