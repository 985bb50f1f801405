//! Entering: whose turn it is, and the sealing of what they typed.

use crate::check::{Checked, RunningInfusion};
use crate::diagnostic::{Fault, Source};
use crate::document::{Path, read_form};
use crate::entry::{Asking, Entry, EntryForm, FormContext, Identifiers, Patient};
use crate::formulary::{Formulary, is_same_person};
use crate::journal::Signer;
use crate::quantity::Moment;

use super::code::{CaseCode, SetUpCode};
use super::emergency::{judge_emergency, plain_author};
use super::error::{CaseError, refuse};
use super::formularies::{ENTER_ANEW, keep, kept_editions};
use super::people::{Person, may_sign};
use super::pins::signed_now;
use super::review::{ReviewStage, checked};
use super::state::{Case, ENTRY, EntryTurn, Header, Opened, Reading, Sealed};
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
    /// What this person entered in the round before.
    pub(super) own: Option<Opened>,
    opens_case: bool,
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
        let (place, patient, own) = (EntryTurn::Emergency, None, None);
        Self { set_up, reading: 1, place, round: 1, fields: None, patient, own, opens_case: true }
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
        FormContext { name, role, entered_at: now, patient: self.patient.clone(), may_assume }
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
        let judge = if task.place == EntryTurn::Emergency { Checked::in_an_emergency } else { Checked::of };
        let checked = checked(entry, formulary, now, judge)?;
        // Both entries are sealed and say the same: what lacks reasons is said, with what runs.
        let runs = match &task.fields {
            Some(fields) if fields.as_slice() == ["reasons"] => self.case(task.set_up.case)?.ran_beside(task),
            _ => None,
        };
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
        if let Some(signer) = author.signer().filter(|_| formulary.policy().sealing_asks_pin) {
            signed_now(signer)?;
        }
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

    fn task(&self, number: Option<u16>, turn: Turn, author: &Author<'_>, now: Moment) -> Result<Task, CaseError> {
        self.key()?;
        let patient = self.patient_known(u64::MAX, true)?;
        let new_set_up = |place| Task {
            set_up: SetUpCode { case: self.code, number: u16::try_from(self.set_ups.len()).unwrap_or(u16::MAX) + 1 },
            reading: 1,
            place,
            round: 1,
            fields: None,
            patient: patient.clone(),
            own: None,
            opens_case: false,
        };
        let (set_up, anew) = match (turn, number) {
            (Turn::Emergency, _) => return Ok(new_set_up(EntryTurn::Emergency)),
            (Turn::First { .. }, None) => match self.waits_again_for(author)? {
                Some(number) => (self.set_up(number)?, false),
                None => return Ok(new_set_up(EntryTurn::First)),
            },
            (Turn::First { anew }, Some(number)) => (self.set_up(number)?, anew),
            (Turn::Second, Some(number)) => (self.set_up(number)?, false),
            (Turn::Second, None) => (self.set_up(self.the_one_that_waits()?)?, false),
        };
        let Some(reading) = set_up.latest() else { return Ok(new_set_up(EntryTurn::First)) };
        let standing = self.standing(reading);
        let (place, round, fields) = match turn {
            Turn::Second => self.second(reading, &standing.stage, author, set_up.code)?,
            Turn::First { .. } => {
                if let Some((round, fields)) = self.first_again(reading, &standing.stage, author) {
                    (EntryTurn::First, round, Some(fields))
                } else {
                    self.may_begin(set_up, &standing, anew, now)?;
                    let next =
                        Task { set_up: set_up.code, reading: reading.number + 1, ..new_set_up(EntryTurn::First) };
                    return Ok(next);
                }
            }
            Turn::Emergency => unreachable!("an emergency entry is always a set-up of its own, above"),
        };
        let before = round.checked_sub(1).and_then(|before| reading.entry(place, before));
        let own = match before.filter(|entry| entry.by == signer_id(author)) {
            Some(mine) => Some(self.open(mine)?),
            None => None,
        };
        // Whoever takes over from an emergency entry reads everything: nothing of it is theirs.
        let fields = fields.filter(|_| own.is_some());
        Ok(Task { set_up: set_up.code, reading: reading.number, place, round, fields, patient, own, opens_case: false })
    }

    /// Whether another reading of a set-up may begin: the one before has come to its end, or is left on purpose.
    fn may_begin(
        &self,
        set_up: &super::state::SetUp,
        standing: &super::review::ReviewState,
        anew: bool,
        now: Moment,
    ) -> Result<(), CaseError> {
        let waiting = set_up.latest().filter(|latest| set_up.running_reading() != Some(latest.number));
        let good_card = match (&standing.stage, waiting) {
            (ReviewStage::Agreed(_), Some(latest)) => self.hindered(latest, standing, now)?.is_none(),
            _ => false,
        };
        let says = match &standing.stage {
            _ if anew => return Ok(()),
            ReviewStage::AwaitsSecond | ReviewStage::Unchecked => "waits for its second entry",
            ReviewStage::AwaitsAgain { .. } => "waits for fields to be read again",
            ReviewStage::AwaitsThird { .. } => "waits for a third person",
            ReviewStage::Agreed(_) if good_card => "is agreed and not started",
            // Two people who each sign make it double-checked.
            ReviewStage::NotAgreed { .. }
            | ReviewStage::Stopped(_)
            | ReviewStage::Agreed(_)
            | ReviewStage::CheckedAfterwards(..)
            | ReviewStage::NotReadable { .. } => return Ok(()),
        };
        let help = format!(
            "add --anew to leave that and read it from the start, or `case enter {}` for another set-up",
            self.code
        );
        Err(refuse("entry-under-way", format!("{} {says}", set_up.code), help))
    }

    fn second(
        &self,
        reading: &Reading,
        stage: &ReviewStage,
        author: &Author<'_>,
        code: SetUpCode,
    ) -> Result<(EntryTurn, u8, Option<Vec<&'static str>>), CaseError> {
        let entered = |place, round| reading.entry(place, round);
        match stage {
            ReviewStage::AwaitsSecond | ReviewStage::Unchecked => {
                self.another_person(entered(EntryTurn::First, 1).into_iter(), author)?;
                Ok((EntryTurn::Second, 1, None))
            }
            ReviewStage::AwaitsAgain { fields, round, second: true, .. } => {
                let mine = entered(EntryTurn::Second, 1).is_some_and(|entry| entry.by == signer_id(author));
                if mine {
                    return Ok((EntryTurn::Second, *round, Some(fields.clone())));
                }
                let says = format!("{code} waits for the two people who entered it");
                Err(refuse("not-your-turn", says, "the person of the second entry enters the fields again"))
            }
            ReviewStage::AwaitsThird { .. } => {
                self.another_person(reading.entries.iter(), author)?;
                Ok((EntryTurn::Third, 1, None))
            }
            ReviewStage::AwaitsAgain { .. } => Err(refuse(
                "not-your-turn",
                format!("{code} waits for the first person to enter fields again"),
                format!("they use `countersign case enter {code}`"),
            )),
            ReviewStage::Agreed(_)
            | ReviewStage::CheckedAfterwards(..)
            | ReviewStage::Stopped(_)
            | ReviewStage::NotAgreed { .. }
            | ReviewStage::NotReadable { .. } => Err(refuse(
                "nothing-waits",
                format!("nothing waits for a second entry in {code}"),
                format!("see `countersign case status {}`", self.code),
            )),
        }
    }

    /// The first person's turn to read fields again. After an emergency entry anybody but the second may take it.
    fn first_again(
        &self,
        reading: &Reading,
        stage: &ReviewStage,
        author: &Author<'_>,
    ) -> Option<(u8, Vec<&'static str>)> {
        let ReviewStage::AwaitsAgain { fields, round, first: true, .. } = stage else { return None };
        let was_first = reading.entry(EntryTurn::First, 1).is_some_and(|entry| entry.by == signer_id(author));
        let is_author = |entry: &Sealed| {
            entry.by == signer_id(author) || self.open(entry).is_ok_and(|one| is_same_person(&one.name, author.name()))
        };
        let was_second = reading.entry(EntryTurn::Second, 1).is_some_and(is_author);
        let took_over = reading.entry(EntryTurn::First, 2).is_none_or(|entry| entry.by == signer_id(author));
        let may = was_first || (reading.began_in_an_emergency() && !was_second && took_over);
        may.then(|| (*round, fields.clone()))
    }

    /// The same person twice is refused: by their key, and by their name.
    fn another_person<'e>(
        &self,
        entries: impl Iterator<Item = &'e Sealed>,
        author: &Author<'_>,
    ) -> Result<(), CaseError> {
        for entry in entries {
            if entry.by == signer_id(author) || is_same_person(&self.open(entry)?.name, author.name()) {
                let help = "a second person reads the order, the label and the line, without seeing the first entry";
                let says = format!("{} has entered this set-up already", author.name());
                return Err(refuse("same-person", says, help));
            }
        }
        Ok(())
    }

    fn waits_again_for(&self, author: &Author<'_>) -> Result<Option<u16>, CaseError> {
        for set_up in &self.set_ups {
            if let Some(reading) = set_up.latest() {
                let standing = self.standing(reading);
                if self.first_again(reading, &standing.stage, author).is_some() {
                    return Ok(Some(set_up.code.number));
                }
            }
        }
        Ok(None)
    }

    fn the_one_that_waits(&self) -> Result<u16, CaseError> {
        let mut waiting = Vec::new();
        for set_up in &self.set_ups {
            if let Some(reading) = set_up.latest()
                && matches!(
                    self.standing(reading).stage,
                    ReviewStage::AwaitsSecond
                        | ReviewStage::Unchecked
                        | ReviewStage::AwaitsThird { .. }
                        | ReviewStage::AwaitsAgain { second: true, .. }
                )
            {
                waiting.push(set_up.code.number);
            }
        }
        match waiting[..] {
            [one] => Ok(one),
            [] => Err(refuse(
                "nothing-waits",
                format!("nothing waits for a second entry in case {}", self.code),
                format!("see `countersign case status {}`", self.code),
            )),
            _ => {
                let which: Vec<String> = waiting.iter().map(|number| format!("{}/{number}", self.code)).collect();
                let says = format!("several set-ups wait for a second entry: {}", which.join(", "));
                Err(refuse("which-set-up", says, "name the one that is in your hands"))
            }
        }
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

/// Reads a form with all its faults; whoever enters it is who signs it.
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

fn signer_id<'a>(author: &'a Author<'_>) -> &'a str {
    match author {
        Author::Signed(_, signer) => signer.id(),
        // No event of a person bears this; names are compared besides.
        Author::Typed { .. } => "",
    }
}
