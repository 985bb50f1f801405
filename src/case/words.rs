//! The lines of a record in words: an event in, what was done out, as every command and page says it.

use crate::quantity::Moment;

use super::people::People;
use super::written::{SyringeSaid, What};

/// What was done, in words that can stand alone.
#[must_use]
pub fn what_in_words(what: &What, people: &People) -> String {
    match what {
        What::Start { rate, reading, said } => {
            format!("started at {rate}{}{}", of_reading(*reading), as_read(said.as_deref()))
        }
        What::Rate { to } => format!("rate changed to {to}"),
        What::Bolus { given } => format!("bolus of {given}"),
        What::Pause => "paused".to_owned(),
        What::Resume { rate: Some(rate) } => format!("resumed at {rate}"),
        What::Resume { rate: None } => "resumed at the rate before".to_owned(),
        What::Syringe { rate, reading, said } => {
            format!("next syringe put in, at {rate}{}{}", of_reading(*reading), as_read(said.as_deref()))
        }
        What::Stop => "stopped".to_owned(),
        What::Close { in_line, left, discarded, witness } => {
            let witness = witness.as_ref().map(|id| format!("; witness {}", people.name(id))).unwrap_or_default();
            format!("closed: {in_line} in the line, {left} left and kept, {discarded} discarded{witness}")
        }
        What::Correct { event, instead: None, .. } => format!("correction: event {event} did not happen"),
        What::Correct { event, instead: Some(what), happened } => {
            let at = happened.as_ref().map(|text| format!(", at {}", shown_moment(text))).unwrap_or_default();
            format!("correction of event {event}: {}{at}", what_in_words(what, people))
        }
        What::Reason { event } => format!("reason for event {event}"),
    }
}

/// A moment as the journal keeps it, as people read it.
#[must_use]
pub fn shown_moment(kept: &str) -> String {
    Moment::parse(kept).map_or_else(|_| kept.to_owned(), |moment| moment.to_string())
}

/// What is in a syringe by the words of the person who put it in.
fn as_read(said: Option<&SyringeSaid>) -> String {
    said.map_or_else(String::new, |said| format!("; in the syringe, as read then: {}", said.says()))
}

fn of_reading(reading: u16) -> String {
    if reading > 1 { format!(" (reading {reading})") } else { String::new() }
}
