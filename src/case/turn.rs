//! Whose turn it is to enter. In: a case, a person, and what they want to enter; out: the task, or why it is not theirs.

use crate::formulary::is_same_person;
use crate::quantity::Moment;

use super::code::SetUpCode;
use super::enter::{Author, Task, Turn, signer_id};
use super::error::{CaseError, refuse};
use super::review::ReviewStage;
use super::state::{Case, EntryTurn, Reading, Sealed};

impl Case {
    pub(super) fn task(
        &self,
        number: Option<u16>,
        turn: Turn,
        author: &Author<'_>,
        now: Moment,
    ) -> Result<Task, CaseError> {
        self.key()?;
        let patient = self.patient_known(u64::MAX, true)?;
        let new_set_up = |place| Task {
            set_up: SetUpCode { case: self.code, number: u16::try_from(self.set_ups.len()).unwrap_or(u16::MAX) + 1 },
            reading: 1,
            place,
            round: 1,
            fields: None,
            patient: patient.clone(),
            carried: None,
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
                    let number = reading.number + 1;
                    let carried = self.carried_to(set_up, number, now);
                    let next = new_set_up(EntryTurn::First);
                    return Ok(Task { set_up: set_up.code, reading: number, carried, ..next });
                }
            }
            Turn::Emergency => unreachable!("an emergency entry is always a set-up of its own, above"),
        };
        let before = round.checked_sub(1).and_then(|before| reading.entry(place, before));
        let own = match before.filter(|entry| entry.by == signer_id(author)) {
            Some(mine) => Some(self.open(mine)?),
            None => None,
        };
        // A person who takes over from an emergency entry reads everything: none of it is their reading.
        let fields = fields.filter(|_| own.is_some());
        let carried = match place {
            EntryTurn::First | EntryTurn::Second => self.carried_to(set_up, reading.number, now),
            EntryTurn::Third | EntryTurn::Emergency => None,
        };
        let (set_up, reading) = (set_up.code, reading.number);
        Ok(Task { set_up, reading, place, round, fields, patient, carried, own, opens_case: false })
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
