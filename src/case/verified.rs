//! A card from outside, held against the journal. In: its data and its code; out: in what they differ.

use serde_json::Value;

use crate::journal::Of;

use super::Cases;
use super::card_code::{CardCode, Differs, compared};
use super::error::CaseError;
use super::fold::Case;
use super::standing::Formularies;

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
            if case.forgotten_at.is_none() {
                let kept = self.formularies(&case)?;
                if let Some(own) = self.drawn_at(&case, code, &kept)? {
                    found.extend(compared(card, &own));
                }
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

    /// The data of the card that the code is about, as the journal has it; nothing where what was given out is no longer
    /// what the entries come to, such as an emergency card that somebody has checked since.
    fn drawn_at(&self, case: &Case, code: &CardCode, kept: &Formularies) -> Result<Option<Value>, CaseError> {
        let Ok(set_up) = case.set_up(code.set_up.number) else { return Ok(None) };
        for reading in &set_up.readings {
            let standing = case.standing(reading, kept)?;
            let is_it = standing.since == code.head.seq && reading.entries.iter().any(|entry| entry.head == code.head);
            if is_it {
                return match case.draw(set_up, reading, &standing, self.journal.id(), kept) {
                    Ok(card) => Ok(Some(card.json())),
                    Err(CaseError::Refused(_)) => Ok(None),
                    Err(error) => Err(error),
                };
            }
        }
        Ok(None)
    }
}
