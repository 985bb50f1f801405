//! What two people agree on about the patient after the first card: a weight that changed, identifiers that followed.
//! Each is read blind by two people, as often as it takes.

use serde::{Deserialize, Serialize};

use crate::entry::{Identifiers, WeightFrom, body_weight};
use crate::formulary::is_same_person;
use crate::journal::{NewEvent, Signer};
use crate::quantity::{BodyMass, Moment, Quantity, clip};

use super::code::CaseCode;
use super::error::{CaseError, refuse};
use super::formularies::kept_editions;
use super::people::{People, may_sign};
use super::recount::ReadAgainDone;
use super::state::{Case, Header, IDENTIFIERS, Reread, WEIGHT};
use super::{Cases, append_decisions, read_case, refuse_repeated};

/// A weight as one person read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WeightRead {
    /// As typed.
    pub weight: String,
    /// Where it comes from.
    pub from: String,
}

/// Identifiers as one person read them off the wristband.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct IdentifiersRead {
    /// As typed.
    pub identifiers: Vec<String>,
}

/// A weight that two people agree on.
#[derive(Debug, Clone, Copy)]
pub struct Weighed {
    /// With which event.
    pub seq: u64,
    /// When.
    pub at: Moment,
    /// The weight.
    pub weight: Quantity<BodyMass>,
    /// Where it comes from.
    pub from: WeightFrom,
}

/// What became of the weight since a moment.
#[derive(Debug, Clone, Copy)]
pub(super) enum WeightState {
    /// Nobody read it again.
    Unchanged,
    /// Somebody did, and nobody has confirmed it yet.
    InDoubt,
    /// Two people agree on it.
    Agreed(Weighed),
}

/// How a value stands that two people read again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Twice {
    /// Nobody reads it at the moment.
    Quiet,
    /// One person did; the second enters next.
    AwaitsSecond {
        /// Who was first.
        by: String,
    },
    /// The last two readings differ: both again.
    Differ,
}

impl Cases {
    /// Seals a weight that somebody read again. When a second person reads the same, it is the case's weight; what
    /// counts by another one and has not started is void from then on.
    ///
    /// # Errors
    /// When the weight cannot be read, nothing is agreed yet, or the same person reads it twice.
    pub fn read_weight(
        &mut self,
        code: CaseCode,
        by: &Signer,
        read: &WeightRead,
        now: Moment,
    ) -> Result<ReadAgainDone, CaseError> {
        body_weight(&read.weight)?;
        if WeightFrom::written(&read.from).is_none() {
            let says = format!("`{}` is not where a weight comes from", clip(&read.from));
            return Err(refuse("word-unknown", says, format!("write one of: {}", WeightFrom::WORDS.join(", "))));
        }
        let people = self.people()?;
        self.reread(now, code, |case| {
            if case.patient_before(u64::MAX)?.is_none() {
                let says = format!(
                    "no two people have agreed on a set-up of case {code} yet: the weight is part of their entries"
                );
                let help = format!("enter it with the set-up: `countersign case enter {code}`; again with --anew");
                return Err(refuse("nothing-agreed", says, help));
            }
            require_second_person(&case.weight_reading()?, by, &people)?;
            case.draft(WEIGHT, Some(by), Header::default(), Some(read))
        })
    }

    /// Seals identifiers that somebody read off the wristband, where they were to follow.
    ///
    /// # Errors
    /// When there are fewer than the formulary asks for, or the same person reads them twice.
    pub fn read_identifiers(
        &mut self,
        code: CaseCode,
        by: &Signer,
        read: &IdentifiersRead,
        now: Moment,
    ) -> Result<ReadAgainDone, CaseError> {
        let different = Identifiers::folded(&read.identifiers).len();
        let people = self.people()?;
        self.reread(now, code, |case| {
            let needed = case.identifiers_needed();
            if different < needed {
                let says = format!("{different} identifiers that differ were given, and {needed} are needed");
                return Err(refuse("identifiers-too-few", says, "read each one off the wristband"));
            }
            let pending =
                case.patient_before(u64::MAX)?.is_none_or(|patient| patient.identifiers == Identifiers::Pending);
            if !pending {
                let says = format!("the identifiers of case {code} are agreed already");
                return Err(refuse(
                    "identifiers-known",
                    says,
                    "another patient is another case: `countersign case open`",
                ));
            }
            require_second_person(&case.identifiers_reading()?, by, &people)?;
            case.draft(IDENTIFIERS, Some(by), Header::default(), Some(read))
        })
    }

    /// Seals what one person read again; where two people agree with it, what rests on it is counted again in the same
    /// transaction.
    fn reread<'s>(
        &mut self,
        now: Moment,
        code: CaseCode,
        draft: impl FnOnce(&Case) -> Result<NewEvent<'s>, CaseError>,
    ) -> Result<ReadAgainDone, CaseError> {
        let known = &self.known;
        self.journal.write_in_steps(now, |writing| {
            let mut case = read_case(code, writing, known)?;
            refuse_repeated(&case, writing)?;
            case.key()?;
            let draft = draft(&case)?;
            may_sign(std::slice::from_ref(&draft), writing)?;
            append_decisions(&case, writing)?;
            let event = writing.append(draft)?;
            case.take(&event)?;
            let stands = if event.kind() == WEIGHT { case.weight_reading()? } else { case.identifiers_reading()? };
            if stands == Twice::Quiet {
                let kept = known.of_case(&case, |missing| kept_editions(writing, missing))?;
                for draft in case.drafts_of_recounts(event.head(), now, &kept)? {
                    case.take(&writing.append(draft)?)?;
                }
            }
            let recounts = case.recounts_in_words(event.seq(), now)?;
            Ok(ReadAgainDone { stands, recounts, clock: event.clock().map(str::to_owned) })
        })
    }
}

impl Case {
    /// How many identifiers the house asks for, by the decisions of this case; two where there are none yet.
    fn identifiers_needed(&self) -> usize {
        let readings = self.set_ups.iter().flat_map(|set_up| &set_up.readings);
        let decisions = readings.flat_map(|reading| &reading.decisions).flat_map(|decided| &decided.decision);
        decisions.map(|decision| decision.identifiers_needed).max().filter(|needed| *needed > 0).unwrap_or(2)
    }

    /// How the weight stands that is being read again.
    ///
    /// # Errors
    /// When the case was forgotten.
    pub fn weight_reading(&self) -> Result<Twice, CaseError> {
        Ok(self.pairs(&self.weights, same_weight)?.1)
    }

    /// How the identifiers stand that follow.
    ///
    /// # Errors
    /// When the case was forgotten.
    pub fn identifiers_reading(&self) -> Result<Twice, CaseError> {
        Ok(self.pairs(&self.identifiers, same_identifiers)?.1)
    }

    pub(super) fn weights_agreed(&self) -> Result<Vec<Weighed>, CaseError> {
        let mut agreed = Vec::new();
        for (seq, at, read) in self.pairs(&self.weights, same_weight)?.0 {
            let weight = Quantity::<BodyMass>::parse(&read.weight)?;
            let from = WeightFrom::written(&read.from).unwrap_or(WeightFrom::Stated);
            agreed.push(Weighed { seq, at, weight, from });
        }
        Ok(agreed)
    }

    pub(super) fn identifiers_agreed(&self) -> Result<Vec<(u64, Vec<String>)>, CaseError> {
        let pairs = self.pairs(&self.identifiers, same_identifiers)?.0;
        Ok(pairs.into_iter().map(|(seq, _, read)| (seq, read.identifiers)).collect())
    }

    pub(super) fn weight_since(&self, since: u64) -> Result<WeightState, CaseError> {
        // Whenever it began: what is agreed meanwhile rests on the weight that is in doubt.
        if self.weight_reading()? != Twice::Quiet {
            return Ok(WeightState::InDoubt);
        }
        let last = self.weights_agreed()?.into_iter().rev().find(|weighed| weighed.seq > since);
        Ok(last.map_or(WeightState::Unchanged, WeightState::Agreed))
    }

    /// Takes readings two by two: those that agree, each with the event that made it so, and how it stands now.
    fn pairs<T: for<'de> Deserialize<'de>>(
        &self,
        rereads: &[Reread],
        same: impl Fn(&T, &T) -> bool,
    ) -> Result<(Vec<AgreedOn<T>>, Twice), CaseError> {
        let (mut agreed, mut stands, mut waiting) = (Vec::new(), Twice::Quiet, None::<(&Reread, T)>);
        for reread in rereads {
            let read: T = self.open_reread(reread)?;
            (stands, waiting) = match waiting.take() {
                None => (Twice::AwaitsSecond { by: reread.by.clone() }, Some((reread, read))),
                // As the first of the two wrote it, like every value of an entry.
                Some((_, first)) if same(&first, &read) => {
                    agreed.push((reread.head.seq, reread.at, first));
                    (Twice::Quiet, None)
                }
                Some(_) => (Twice::Differ, None),
            };
        }
        Ok((agreed, stands))
    }
}

/// What two people read alike: with which event, when, and what.
type AgreedOn<T> = (u64, Moment, T);

/// Told apart by key and by name: somebody retired and added again has another key.
fn require_second_person(reading: &Twice, by: &Signer, people: &People) -> Result<(), CaseError> {
    match reading {
        Twice::AwaitsSecond { by: first }
            if first == by.id() || is_same_person(people.name(first), people.name(by.id())) =>
        {
            Err(refuse("same-person", "you have read it already", "a second person reads it, without seeing yours"))
        }
        _ => Ok(()),
    }
}

fn same_weight(first: &WeightRead, second: &WeightRead) -> bool {
    let value = |read: &WeightRead| Quantity::<BodyMass>::parse(&read.weight).ok();
    value(first).is_some() && value(first) == value(second)
}

fn same_identifiers(first: &IdentifiersRead, second: &IdentifiersRead) -> bool {
    Identifiers::folded(&first.identifiers) == Identifiers::folded(&second.identifiers)
}
