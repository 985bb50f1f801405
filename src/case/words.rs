//! The lines of a record in words: an event in, what was done out, as every command and page says it.

use crate::quantity::Moment;

use super::lumen::HangsAt;
use super::people::People;
use super::record_event::{RecordEvent, Recorded, SyringeSaid};
use super::state::{SetUp, Signed};

/// What was done, in words that can stand alone.
#[must_use]
pub fn what_in_words(what: &RecordEvent, people: &People) -> String {
    match what {
        RecordEvent::Start { rate, reading, said, hangs } => {
            let hangs = hangs.as_ref().map(|hangs| format!("; {}", hangs.says())).unwrap_or_default();
            format!("started at {rate}{}{}{hangs}", of_reading(*reading), as_read(said.as_deref()))
        }
        RecordEvent::Rate { to, dose: None, .. } => format!("rate changed to {to}"),
        RecordEvent::Rate { to, dose: Some(dose), strength } => {
            let with = strength.as_ref().map(|strength| format!(" with {strength}")).unwrap_or_default();
            format!("rate changed to {to}, for {dose}{with}")
        }
        RecordEvent::Bolus { given, .. } => format!("bolus of {given}"),
        RecordEvent::Pause => "paused".to_owned(),
        RecordEvent::Resume { rate: Some(rate) } => format!("resumed at {rate}"),
        RecordEvent::Resume { rate: None } => "resumed at the rate before".to_owned(),
        RecordEvent::Syringe { rate, reading, said } => {
            format!("next syringe put in, at {rate}{}{}", of_reading(*reading), as_read(said.as_deref()))
        }
        RecordEvent::Hang { hangs } => hangs_in_words(hangs),
        RecordEvent::Flush { volume } => format!("flushed with {volume}"),
        RecordEvent::Stop => "stopped".to_owned(),
        RecordEvent::Close { in_line, left, discarded, witness, driver_total } => {
            let witness = witness.as_ref().map(|id| format!("; witness {}", people.name(id))).unwrap_or_default();
            let driver = driver_total.as_ref().map(|total| format!("; the driver says {total}")).unwrap_or_default();
            format!("closed: {in_line} in the line, {left} left and kept, {discarded} discarded{driver}{witness}")
        }
        RecordEvent::ClosingRead { .. } => CLOSING_READ.to_owned(),
        RecordEvent::Correct { event, instead: None, .. } => format!("correction: event {event} did not happen"),
        RecordEvent::Correct { event, instead: Some(what), happened } => {
            let at = happened.as_ref().map(|text| format!(", at {}", shown_moment(text))).unwrap_or_default();
            format!("correction of event {event}: {}{at}", what_in_words(what, people))
        }
        RecordEvent::Reason { event } => format!("reason for event {event}"),
    }
}

/// A reading for the closing, while another person may still read blind.
const CLOSING_READ: &str = "volumes read for the closing: the two sides differ; to be read a second time";

impl SetUp {
    /// A line of its record in words. The volumes of a reading are told once it is closed: the second person reads blind.
    #[must_use]
    pub fn line_in_words(&self, signed: &Signed<Recorded>, people: &People) -> String {
        match &signed.what.what {
            RecordEvent::ClosingRead { in_line, left, discarded, .. } if self.is_closed_after(signed.seq) => {
                format!(
                    "read for the closing: {in_line} in the line, {left} left and kept, {discarded} discarded; the two sides differed"
                )
            }
            what => what_in_words(what, people),
        }
    }

    /// A line of its record as data, under the same rule.
    #[must_use]
    pub fn line_for_data(&self, signed: &Signed<Recorded>) -> Recorded {
        self.told_as_data(signed.seq, &signed.what)
    }

    /// The same of what an event of this number holds, also where it is no line of the record: a witness signs it too.
    pub(super) fn told_as_data(&self, seq: u64, recorded: &Recorded) -> Recorded {
        let mut recorded = recorded.clone();
        if let RecordEvent::ClosingRead { in_line, left, discarded, driver_total, .. } = &mut recorded.what
            && !self.is_closed_after(seq)
        {
            for volume in [in_line, left, discarded] {
                NOT_SHOWN.clone_into(volume);
            }
            *driver_total = None;
        }
        recorded
    }
}

/// In the place of a volume that another person may still read blind.
const NOT_SHOWN: &str = "not shown before it is closed";

/// A moment as the journal keeps it, as people read it.
#[must_use]
pub fn shown_moment(kept: &str) -> String {
    Moment::parse(kept).map_or_else(|_| kept.to_owned(), |moment| moment.to_string())
}

fn hangs_in_words(hangs: &HangsAt) -> String {
    match (hangs.says(), &hangs.carrier) {
        (says, Some(carrier)) if says.is_empty() => format!("carrier {carrier}"),
        (says, _) => format!("hangs: {says}"),
    }
}

/// What is in a syringe by the words of the person who put it in.
fn as_read(said: Option<&SyringeSaid>) -> String {
    said.map_or_else(String::new, |said| format!("; in the syringe, as read then: {}", said.says()))
}

fn of_reading(reading: u16) -> String {
    if reading > 1 { format!(" (reading {reading})") } else { String::new() }
}
