//! Everything that was written down about a case, in order, opened as far as it may be.
//!
//! In: the events of a case. Out: each with who wrote it, when, and what is inside. An entry, a weight or identifiers stay
//! closed until two people have come to an end with them: nobody reads the first person's values before the second has.

use crate::journal::{Event, Of};
use crate::quantity::Moment;

use super::Cases;
use super::code::{CaseCode, SetUpCode};
use super::decision::Decision;
use super::error::CaseError;
use super::patient::{IdentifiersRead, WeightRead};
use super::record_event::{ReadBack, Recorded};
use super::recount::Recount;
use super::rounds::{RoundRead, RoundSignature};
use super::state::{
    CARD, Case, DECISION, ENTRY, EntryTurn, FORGOTTEN, Header, IDENTIFIERS, OPENED, READ_BACK, RECORD, RECOUNT, ROUND,
    ROUND_SIGNED, WEIGHT, WITNESSED,
};

/// One event of a case.
#[derive(Debug, Clone)]
pub struct EventTold {
    /// Its number in the journal.
    pub seq: u64,
    /// When it was written down, shown where that was.
    pub at: Moment,
    /// Who signed it: a person, or the store.
    pub by: String,
    /// What was odd about the clock then.
    pub clock: Option<String>,
    /// Its kind, as the journal keeps it.
    pub kind: String,
    /// Its kind in words.
    pub says: String,
    /// Which set-up it is about.
    pub set_up: Option<SetUpCode>,
    /// What is inside.
    pub inside: Inside,
}

/// What is inside an event.
#[derive(Debug, Clone)]
pub enum Inside {
    /// Nothing is sealed in it.
    Nothing,
    /// It was made unreadable.
    Forgotten,
    /// It stays closed until two people have come to an end.
    Closed,
    /// An entry as it was typed.
    Entry {
        /// Who entered it.
        name: String,
        /// In which role.
        role: String,
        /// The form.
        form: String,
        /// Whether the form is JSON; else YAML.
        json: bool,
    },
    /// A weight.
    Weight(WeightRead),
    /// Identifiers.
    Identifiers(IdentifiersRead),
    /// What a driver showed.
    ReadBack(ReadBack),
    /// What happened, or what a witness signed.
    Record(Recorded),
    /// What followed from entries.
    Decision(Box<Decision>),
    /// Every driver as it was read on a round.
    Round(Box<RoundRead>),
    /// The second signature of a round, by its event.
    RoundSigned(u64),
    /// Agreed entries, counted again.
    Recount(Box<Recount>),
    /// A card, as earlier programs wrote it down.
    Card {
        /// The salted hash of its text.
        hash: String,
        /// The version of the program that drew it.
        program: String,
        /// Whether two people had each signed a blind entry.
        double_checked: bool,
    },
}

impl Cases {
    /// Everything that was written down about a case, in order.
    ///
    /// # Errors
    /// When there is no such case, or something sealed does not open with its key.
    pub fn history(&self, code: CaseCode) -> Result<Vec<EventTold>, CaseError> {
        let case = self.case(code)?;
        let events = self.journal().events(Of::Scope(&code.scope()))?;
        events.iter().map(|event| case.told(event)).collect()
    }
}

impl Case {
    fn told(&self, event: &Event) -> Result<EventTold, CaseError> {
        let header = if matches!(
            event.kind(),
            ENTRY
                | DECISION
                | RECOUNT
                | CARD
                | WEIGHT
                | IDENTIFIERS
                | READ_BACK
                | RECORD
                | ROUND
                | ROUND_SIGNED
                | WITNESSED
        ) {
            super::read_body(event)?
        } else {
            Header::default()
        };
        Ok(EventTold {
            seq: event.seq(),
            at: event.at_local(),
            by: event.by().to_owned(),
            clock: event.clock().map(str::to_owned),
            kind: event.kind().to_owned(),
            says: in_words(event.kind(), &header),
            set_up: header.set_up.map(|number| SetUpCode { case: self.code, number }),
            inside: self.inside(event, &header)?,
        })
    }

    fn inside(&self, event: &Event, header: &Header) -> Result<Inside, CaseError> {
        if let Some(card) = &header.card {
            let (hash, program) = (card.hash.clone(), card.program.clone());
            return Ok(Inside::Card { hash, program, double_checked: !card.emergency && !card.checked_afterwards });
        }
        if header.sealed.is_none() {
            return Ok(Inside::Nothing);
        }
        if self.key().is_err() {
            return Ok(Inside::Forgotten);
        }
        Ok(match event.kind() {
            ENTRY => {
                let (set_up, number) = (header.set_up.unwrap_or(1), header.reading.unwrap_or(1));
                let reading = self.set_up(set_up)?.reading(number);
                let reading =
                    reading.ok_or_else(|| CaseError::Fault(format!("event {} lost its reading", event.seq())))?;
                let ended = self.standing(reading).stage.is_settled();
                match reading.entries.iter().find(|entry| entry.head.seq == event.seq()).filter(|_| ended) {
                    Some(entry) => {
                        let opened = self.open(entry)?;
                        Inside::Entry { name: opened.name, role: opened.role, form: opened.form, json: opened.json }
                    }
                    None => Inside::Closed,
                }
            }
            WEIGHT => {
                let agreed = self.weights_agreed()?.into_iter().map(|weighed| weighed.seq).max();
                match self
                    .weights
                    .iter()
                    .find(|one| one.head.seq == event.seq())
                    .filter(|one| Some(one.head.seq) <= agreed)
                {
                    Some(reread) => Inside::Weight(self.open_reread(reread)?),
                    None => Inside::Closed,
                }
            }
            IDENTIFIERS => {
                let agreed = self.identifiers_agreed()?.into_iter().map(|(seq, _)| seq).max();
                match self
                    .identifiers
                    .iter()
                    .find(|one| one.head.seq == event.seq())
                    .filter(|one| Some(one.head.seq) <= agreed)
                {
                    Some(reread) => Inside::Identifiers(self.open_reread(reread)?),
                    None => Inside::Closed,
                }
            }
            DECISION => {
                let mut decision: Box<Decision> = Box::new(self.unsealed(event, header)?);
                let reading = self.set_up(header.set_up.unwrap_or(1))?.reading(header.reading.unwrap_or(1));
                if !reading.is_some_and(|reading| self.standing(reading).stage.is_settled()) {
                    // A finding carries values, and somebody still reads blind.
                    decision.findings.clear();
                }
                Inside::Decision(decision)
            }
            RECOUNT => Inside::Recount(Box::new(self.unsealed(event, header)?)),
            ROUND => Inside::Round(Box::new(self.unsealed(event, header)?)),
            ROUND_SIGNED => Inside::RoundSigned(self.unsealed::<RoundSignature>(event, header)?.round),
            READ_BACK => Inside::ReadBack(self.unsealed(event, header)?),
            // Two people read volumes blind: the first reading shows once the set-up is closed.
            _ => {
                let recorded = self.unsealed(event, header)?;
                Inside::Record(self.set_up(header.set_up.unwrap_or(1))?.told_as_data(event.seq(), &recorded))
            }
        })
    }
}

fn in_words(kind: &str, header: &Header) -> String {
    let reading =
        header.reading.filter(|number| *number > 1).map_or_else(String::new, |number| format!(", reading {number}"));
    match kind {
        OPENED => "case opened".to_owned(),
        ENTRY => {
            let place = match header.place {
                Some(EntryTurn::Second) => "second entry sealed",
                Some(EntryTurn::Third) => "third entry sealed",
                Some(EntryTurn::Emergency) => "emergency entry sealed",
                _ => "first entry sealed",
            };
            let round =
                header.round.filter(|round| *round > 1).map_or_else(String::new, |round| format!(", round {round}"));
            format!("{place}{reading}{round}")
        }
        DECISION => format!("decided{reading}"),
        RECOUNT => format!("counted again{reading}"),
        CARD => format!("card given out{reading}"),
        WEIGHT => "weight read again".to_owned(),
        IDENTIFIERS => "identifiers read".to_owned(),
        ROUND => "round: every driver read".to_owned(),
        ROUND_SIGNED => "round signed".to_owned(),
        READ_BACK => "driver read back".to_owned(),
        RECORD => "recorded".to_owned(),
        WITNESSED => "witnessed".to_owned(),
        super::FORGETTING_AGREED => "a second person agreed to make it unreadable".to_owned(),
        FORGOTTEN => "what was sealed was made unreadable".to_owned(),
        other => other.to_owned(),
    }
}
