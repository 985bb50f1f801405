//! How far the typing of a proposal is: which values came to the same, who typed them, whether they came faster than
//! anybody types, and which are typed again before the signature.

use std::collections::BTreeMap;

use crate::case::{CaseError, Cases, Person, Typing, TypingShare, Typings};
use crate::formulary::is_same_person;
use crate::journal::Hash;
use crate::quantity::Moment;

use super::{ApprovalError, Changes, Proposal, TypedPlace};

/// So few values may come at once: a person corrects one or two without a pause.
const FEW: usize = 5;
/// One in so many typed values is typed again.
const AGAIN: usize = 20;
/// Of values that came at once, one in so many is typed again by somebody else, and this many at least.
const AGAIN_AT_ONCE: usize = 5;
const LEAST_AGAIN: usize = 10;

/// How far the typing of a proposal is.
#[derive(Debug)]
pub struct Progress {
    typings: Vec<Typing>,
    /// For each place to be typed: which typing came to the same there.
    by: Vec<Option<usize>>,
}

/// How far one file is.
#[derive(Debug)]
pub struct FileProgress {
    /// The file, from the formulary folder on.
    pub file: String,
    /// How many values are to be typed.
    pub values: usize,
    /// How many came to the same.
    pub typed: usize,
    /// Who typed them, and when last.
    pub by: Vec<(TypingShare, Moment)>,
}

impl Progress {
    pub(super) fn read(cases: &Cases, proposal: &Proposal) -> Result<Self, CaseError> {
        let Typings { same, differ } = cases.typings(&proposal.formulary)?;
        let typed_by = |place: &TypedPlace| {
            let (says, digest) = (place.says(), place.digest());
            let (at, typing) =
                same.iter().enumerate().rev().find(|(_, typing)| typing.values.get(&says) == Some(&digest))?;
            // Typed otherwise since, by whomever: it is open again.
            let is_open = differ.iter().any(|(seq, places)| *seq > typing.seq && places.contains(&says));
            (!is_open).then_some(at)
        };
        let by = proposal.changes.typed.iter().map(typed_by).collect();
        Ok(Self { typings: same, by })
    }

    /// Whether the place of this number came to the same.
    #[must_use]
    pub fn is_typed(&self, at: usize) -> bool {
        self.by.get(at).is_some_and(Option::is_some)
    }

    /// How many values are still to be typed.
    #[must_use]
    pub fn left(&self) -> usize {
        self.by.iter().filter(|by| by.is_none()).count()
    }

    /// The places still to be typed.
    #[must_use]
    pub fn due<'c>(&self, changes: &'c Changes) -> Vec<&'c TypedPlace> {
        changes.typed.iter().enumerate().filter(|(at, _)| !self.is_typed(*at)).map(|(_, place)| place).collect()
    }

    /// Each file with anything to be typed.
    #[must_use]
    pub fn files(&self, changes: &Changes) -> Vec<FileProgress> {
        let mut files: Vec<FileProgress> = Vec::new();
        for (place, by) in changes.typed.iter().zip(&self.by) {
            if files.last().is_none_or(|last| last.file != place.file) {
                files.push(FileProgress { file: place.file.clone(), values: 0, typed: 0, by: Vec::new() });
            }
            let Some(file) = files.last_mut() else { continue };
            file.values += 1;
            let Some(typing) = by.and_then(|at| self.typings.get(at)) else { continue };
            file.typed += 1;
            let share = self.share_of(typing);
            match file.by.iter_mut().find(|(known, _)| is_of(known, &share)) {
                Some((known, at)) => {
                    known.values += 1;
                    *at = if at.is_before(typing.at) { typing.at } else { *at };
                }
                None => file.by.push((share, typing.at)),
            }
        }
        files
    }

    /// Who typed how many of the values that came to the same.
    #[must_use]
    pub fn shares(&self) -> Vec<TypingShare> {
        let mut shares: Vec<TypingShare> = Vec::new();
        for typing in self.by.iter().flatten().filter_map(|at| self.typings.get(*at)) {
            let share = self.share_of(typing);
            match shares.iter_mut().find(|known| is_of(known, &share)) {
                Some(known) => known.values += 1,
                None => shares.push(share),
            }
        }
        shares
    }

    /// Who filled values in at once, where these are more than a few.
    #[must_use]
    pub fn at_once(&self) -> Vec<TypingShare> {
        self.shares().into_iter().filter(|share| share.at_once).collect()
    }

    fn share_of(&self, typing: &Typing) -> TypingShare {
        TypingShare { name: typing.by.clone(), values: 1, at_once: self.came_at_once(typing) }
    }

    /// Whether the values of a typing came at once, and all that did are more than a few.
    fn came_at_once(&self, typing: &Typing) -> bool {
        let at_once = |at: &&usize| self.typings.get(**at).is_some_and(Typing::is_at_once);
        typing.is_at_once() && self.by.iter().flatten().filter(at_once).count() > FEW
    }

    /// Whether this person may sign: every value came to the same, and none of those filled in at once is theirs.
    ///
    /// # Errors
    /// [`ApprovalError::Left`] and [`ApprovalError::AtOnce`].
    pub fn may_be_signed_by(&self, person: &Person) -> Result<(), ApprovalError> {
        match (self.left(), self.at_once()) {
            (1.., _) => Err(ApprovalError::Left(self.left())),
            (_, at_once) if at_once.iter().any(|share| is_same_person(&share.name, &person.name)) => {
                Err(ApprovalError::AtOnce(at_once))
            }
            _ => Ok(()),
        }
    }

    /// The places that are typed once more before the signature. Which they are follows from the signature of what was
    /// typed last: nobody knows it before, and everybody can work it out afterwards.
    #[must_use]
    pub fn again<'c>(&self, changes: &'c Changes) -> Vec<&'c TypedPlace> {
        let Some(seed) = self.typings.last().map(|typing| typing.hash.to_string()) else { return Vec::new() };
        let came_at_once = |at: usize| {
            self.by.get(at).copied().flatten().is_some_and(|typing| self.came_at_once(&self.typings[typing]))
        };
        let drawn = |at_once: bool, count: &dyn Fn(usize) -> usize| {
            let places = changes.typed.iter().enumerate().filter(|(at, _)| came_at_once(*at) == at_once);
            let mut places: BTreeMap<String, &TypedPlace> =
                places.map(|(at, place)| (Hash::of(format!("{seed} {at}").as_bytes()).to_string(), place)).collect();
            let count = count(places.len());
            std::iter::from_fn(move || places.pop_first()).take(count).map(|(_, place)| place)
        };
        let by_hand = drawn(false, &|values| values / AGAIN);
        by_hand.chain(drawn(true, &|values| values.min(LEAST_AGAIN.max(values / AGAIN_AT_ONCE)))).collect()
    }
}

fn is_of(one: &TypingShare, other: &TypingShare) -> bool {
    (&one.name, one.at_once) == (&other.name, other.at_once)
}

/// In words: who typed how many, and what came at once.
#[must_use]
pub fn shares_in_words(shares: &[TypingShare]) -> String {
    let says = |share: &TypingShare| {
        let at_once = if share.at_once { ", filled in at once" } else { "" };
        format!("{} ({}{at_once})", share.name, share.values)
    };
    shares.iter().map(says).collect::<Vec<_>>().join(", ")
}
