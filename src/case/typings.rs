//! Who typed which values of a proposed formulary, and when: events of the journal, each signed by the person who typed.
//! A value stands in them as a digest alone, so that nobody reads it there before typing it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::formulary::Formulary;
use crate::journal::{Hash, NewEvent, Of, Signer};
use crate::quantity::Moment;

use super::error::CaseError;
use super::formularies::{About, NOT_APPROVED, approvals, awaits};
use super::people::Person;
use super::{Cases, read_body, to_value};

const TYPED: &str = "formulary-typed";

/// Nobody reads a value in its source and types it with its unit in less time.
const SECONDS_A_VALUE: u64 = 2;

#[derive(Debug, Serialize, Deserialize)]
struct TypedValues {
    fingerprint: String,
    /// By place, the digest of the value.
    values: BTreeMap<String, String>,
    seconds: u64,
}

/// Values that one person typed in one go, and that came to the same as the author's.
#[derive(Debug)]
pub struct Typing {
    /// The number of its event.
    pub seq: u64,
    /// The hash of its event.
    pub hash: Hash,
    /// When it was kept.
    pub at: Moment,
    /// Who typed.
    pub by: String,
    /// By place, the digest of the value.
    pub values: BTreeMap<String, String>,
    seconds: u64,
}

impl Typing {
    /// Whether the values came faster than anybody types.
    #[must_use]
    pub fn is_at_once(&self) -> bool {
        self.seconds < SECONDS_A_VALUE.saturating_mul(self.values.len() as u64)
    }
}

/// What one person typed of an approved formulary.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TypingShare {
    /// Who.
    pub name: String,
    /// How many values.
    pub values: usize,
    /// Whether they came faster than anybody types, as from a sheet that a script filled.
    pub at_once: bool,
}

/// What was typed of a proposal since the last approval.
#[derive(Debug)]
pub struct Typings {
    /// What came to the same, in order.
    pub same: Vec<Typing>,
    /// What did not: the number of its event, and the places.
    pub differ: Vec<(u64, Vec<String>)>,
}

impl Cases {
    /// What others than its author typed of a proposed formulary since the last approval.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn typings(&self, formulary: &Formulary) -> Result<Typings, CaseError> {
        let since = approvals(|of| self.journal.events(of))?.last().map_or(0, |last| last.seq);
        let people = self.people()?;
        let author = formulary.approval();
        let (mut same, mut differ) = (Vec::new(), Vec::new());
        for event in self.journal.events(Of::Kind(TYPED))?.into_iter().filter(|event| event.seq() > since) {
            let by = people.name(event.by()).to_owned();
            let key = people.by_id(event.by()).and_then(Person::key).unwrap_or_default();
            if author.is_some_and(|author| author.is_authors(&by, &key)) {
                continue;
            }
            let TypedValues { values, seconds, .. } = read_body(&event)?;
            same.push(Typing { seq: event.seq(), hash: event.hash(), at: event.at(), by, values, seconds });
        }
        for event in self.journal.events(Of::Kind(NOT_APPROVED))?.into_iter().filter(|event| event.seq() > since) {
            let about: About = read_body(&event)?;
            differ.push((event.seq(), about.differ));
        }
        Ok(Typings { same, differ })
    }

    /// Keeps which values somebody typed as the author wrote them, and how long it took.
    ///
    /// # Errors
    /// As [`Cases::to_be_approved`].
    pub fn formulary_typed(
        &mut self,
        now: Moment,
        typist: (&Person, &Signer),
        formulary: &Formulary,
        values: BTreeMap<String, String>,
        seconds: u64,
    ) -> Result<(), CaseError> {
        let fingerprint = formulary.fingerprint().to_string();
        let body = to_value(&TypedValues { fingerprint, values, seconds })?;
        self.journal.write(now, |past| {
            awaits(typist.0, formulary, |of| past.events(of))?;
            let drafts = vec![NewEvent { kind: TYPED, scope: None, by: Some(typist.1), body, introduces: None }];
            super::signing::may_sign(&drafts, past)?;
            Ok::<_, CaseError>((drafts, ()))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::formularies::About;
    use super::Typing;
    use crate::journal::Hash;
    use crate::quantity::Moment;

    #[test]
    fn an_approval_that_an_earlier_program_wrote_is_read() {
        let earlier = serde_json::json!({"fingerprint": "ab", "since": "cd", "edition": "ab+ef", "typed": 144});
        let about: About = serde_json::from_value(earlier).expect("its fields are known");
        assert_eq!((about.typed, about.typed_by.len(), about.again), (Some(144), 0, None));
    }

    #[test]
    fn values_are_at_once_when_they_come_faster_than_one_in_two_seconds() {
        let typing = |values: usize, seconds: u64| Typing {
            seq: 1,
            hash: Hash::of(b"an event"),
            at: Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment"),
            by: "S. Naidoo".to_owned(),
            values: (0..values).map(|at| (at.to_string(), String::new())).collect(),
            seconds,
        };
        assert!(typing(75, 0).is_at_once() && typing(75, 149).is_at_once());
        assert!(!typing(75, 150).is_at_once() && !typing(1, 2).is_at_once());
    }
}
