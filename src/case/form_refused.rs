//! A form that the bedside page did not take for its own: forged, sent again, or from another site.

use serde::{Deserialize, Serialize};

use crate::journal::{Journal, NewEvent};
use crate::quantity::Moment;

use super::error::CaseError;

const FORM_REFUSED: &str = "form-refused";

#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct RefusedForm {
    /// Whose session sent it, where there was one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    id: Option<String>,
    /// The code of the refusal.
    why: String,
}

/// Writes down that a form was refused, at most once a minute for each person and code: a sender of many fills no
/// journal. Nothing of what the form said is kept.
///
/// # Errors
/// When the journal cannot be read or written.
pub fn note_refused_form(journal: &mut Journal, now: Moment, who: Option<&str>, why: &str) -> Result<(), CaseError> {
    let refused = RefusedForm { id: who.map(str::to_owned), why: why.to_owned() };
    let body = super::to_value(&refused)?;
    journal.write(now, |past| {
        let mut is_noted = Ok(false);
        past.newest(FORM_REFUSED, |event| {
            let within_a_minute = now.seconds_since(event.at()).abs() < 60;
            if within_a_minute {
                is_noted = super::read_body::<RefusedForm>(&event).map(|known| known == refused);
            }
            within_a_minute && matches!(is_noted, Ok(false))
        })?;
        if is_noted? {
            return Ok((Vec::new(), ()));
        }
        Ok::<_, CaseError>((vec![NewEvent { kind: FORM_REFUSED, scope: None, by: None, body, introduces: None }], ()))
    })
}
