//! A card from outside, held against the journal. In: its data and its code; out: in what they differ.

use serde_json::Value;

use crate::journal::Of;

use super::Cases;
use super::card_code::{CardCode, Differs, compared};
use super::error::CaseError;
use super::recount::KeptRecount;
use super::state::{Case, Reading};

impl Cases {
    /// In what a card, its code and this journal differ: nothing where it is whole. Where data were altered, the card is
    /// drawn again, and each place that differs is named.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn card_differs(&self, card: &Value, code: &CardCode) -> Result<Vec<Differs>, CaseError> {
        let mut found = code.differs(card, &self.journal.store_public());
        let has_head = self.has_event_of(code)?;
        if !has_head {
            let says = format!("event {} of this journal is another one, or not of this case", code.head);
            found.push(Differs { what: "head".to_owned(), says });
        }
        if has_head && !found.is_empty() {
            let case = self.case(code.set_up.case)?;
            if let Some(own) = Self::drawn_at(&case, code) {
                found.extend(compared(card, &own));
            }
        }
        let mut known = Vec::new();
        found.retain(|one| {
            !known.contains(&one.what) && {
                known.push(one.what.clone());
                true
            }
        });
        Ok(found)
    }

    /// Whether the event that a code names is one of its case in this journal.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn has_event_of(&self, code: &CardCode) -> Result<bool, CaseError> {
        let events = self.journal.events(Of::Scope(&code.set_up.case.scope()))?;
        Ok(events.iter().any(|event| event.head() == code.head))
    }

    /// Why the card of a code is void, where it was counted again since: which card replaced it, or that two people enter it
    /// again.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn card_void(&self, code: &CardCode) -> Result<Option<String>, CaseError> {
        let case = self.case(code.set_up.case)?;
        let Ok(set_up) = case.set_up(code.set_up.number) else { return Ok(None) };
        let is_its = |reading: &&Reading| {
            with_recount(reading, code).is_some() || reading.entries.iter().any(|entry| entry.head == code.head)
        };
        let Some(reading) = set_up.readings.iter().find(is_its) else { return Ok(None) };
        let in_force = case.recounts_in_force(reading, None);
        let back = case.back_to_both(reading);
        if !back.is_empty() {
            return Ok(Some(format!("two people enter it again: {}", back.join("; "))));
        }
        let last = in_force.iter().rev().filter(|one| one.decision.is_some()).find_map(|one| one.recount.as_ref().ok());
        let replaced = last.filter(|last| last.because != code.head.seq);
        Ok(replaced.map(|last| format!("the card of event {} replaced it: {}", last.because, last.says())))
    }

    /// The data of the card that the code is about, as the journal has it; nothing where none was decided on.
    fn drawn_at(case: &Case, code: &CardCode) -> Option<Value> {
        let set_up = case.set_up(code.set_up.number).ok()?;
        let of_head = |reading: &Reading| {
            if let Some(recounted) = with_recount(reading, code) {
                return recounted.decision.as_ref()?.card.as_ref().map(|card| card.json());
            }
            let entry = reading.entries.iter().find(|entry| entry.head == code.head)?;
            reading.decided_after(entry.head.seq)?.decision.as_ref().ok()?.card.as_ref().map(|card| card.json())
        };
        set_up.readings.iter().find_map(of_head)
    }
}

/// The recount whose card a code is about.
fn with_recount<'r>(reading: &'r Reading, code: &CardCode) -> Option<&'r KeptRecount> {
    let is_its = |one: &&KeptRecount| {
        one.decision.is_some() && one.recount.as_ref().is_ok_and(|recount| recount.because == code.head.seq)
    };
    reading.recounts.iter().find(is_its)
}
