//! What is in a journal, counted: events by kind, and each event whose clock was odd. One row after the other is read, so
//! that a long journal needs no more memory than a short one.

use std::collections::BTreeMap;

use super::{Journal, JournalError, read};
use crate::quantity::Moment;

/// What is in a journal.
#[derive(Debug, Default, Clone)]
pub struct Tally {
    /// How many events there are of each kind.
    pub kinds: BTreeMap<String, u64>,
    /// Every event whose clock was odd: its number, when it was written by that clock, and what was odd.
    pub clock: Vec<(u64, Moment, String)>,
}

impl Journal {
    /// Counts every event. Each is held against its own hash and tag; the whole chain is [`Journal::verify`]'s.
    ///
    /// # Errors
    /// [`JournalError`] when one cannot be read or is damaged.
    pub fn tally(&self) -> Result<Tally, JournalError> {
        let mut tally = Tally::default();
        read::each_row(&self.connection, |row| {
            let event = read::proved(row, &self.id, &self.keys)?;
            *tally.kinds.entry(event.kind().to_owned()).or_default() += 1;
            if let Some(odd) = event.clock() {
                tally.clock.push((event.seq(), event.at_local(), odd.to_owned()));
            }
            Ok::<_, JournalError>(())
        })?;
        Ok(tally)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::NewEvent;

    #[test]
    fn events_are_counted_by_kind_and_odd_clocks_are_named() {
        let folder = std::env::temp_dir().join(format!("countersign-tally-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let at = |text: &str| Moment::parse(text).expect("a moment");
        let mut journal = Journal::create(&folder, true, at("2026-03-14T09:00:00+01:00")).expect("a journal");
        for when in ["2026-03-14T09:01:00+01:00", "2026-03-14T08:55:00+01:00"] {
            let draft =
                NewEvent { kind: "noted", scope: None, by: None, body: serde_json::json!({}), introduces: None };
            journal.write(at(when), |_| Ok::<_, JournalError>((vec![draft], ()))).expect("room");
        }
        let tally = journal.tally().expect("it is whole");
        assert_eq!(tally.kinds.get("noted"), Some(&2));
        assert_eq!(tally.kinds.values().sum::<u64>(), journal.head().expect("a head").seq);
        assert_eq!(tally.clock.len(), 1);
        assert!(tally.clock[0].0 == 3 && tally.clock[0].2.contains("went back"), "{tally:?}");
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
