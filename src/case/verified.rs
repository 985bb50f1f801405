//! A card from outside, held against the journal. In: its data and its code; out: in what they differ.

use serde_json::Value;

use crate::journal::Of;

use super::Cases;
use super::card_code::{CardCode, Differs, compared};
use super::error::CaseError;
use super::state::{Case, Reading};

impl Cases {
    /// In what a card, its code and this journal differ: nothing where it is whole. Where data were altered, the card is
    /// drawn again, and each place is named that is otherwise there.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn card_differs(&self, card: &Value, code: &CardCode) -> Result<Vec<Differs>, CaseError> {
        let mut found = code.differs(card, &self.journal.store_public());
        let scope = code.set_up.case.scope();
        let events = self.journal.events(Of::Scope(&scope))?;
        let has_head = events.iter().any(|event| event.head() == code.head);
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

    /// The data of the card that the code is about, as the journal has it; nothing where none was decided on.
    fn drawn_at(case: &Case, code: &CardCode) -> Option<Value> {
        let set_up = case.set_up(code.set_up.number).ok()?;
        let of_head = |reading: &Reading| {
            let entry = reading.entries.iter().find(|entry| entry.head == code.head)?;
            reading.decided_after(entry.head.seq)?.decision.as_ref().ok()?.card.as_ref().map(|card| card.json())
        };
        set_up.readings.iter().find_map(of_head)
    }
}
