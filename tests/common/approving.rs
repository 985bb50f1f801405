//! A second pharmacist who types what the files say, and takes the time that it takes.

use std::collections::HashMap;

use countersign::case::{Cases, Person};
use countersign::journal::Signer;
use countersign::pharmacy::approval::{Answers, NONE, Proposal, TypedPlace};
use countersign::pharmacy::sheet::{self, SheetValue};
use countersign::quantity::Moment;

/// Long enough for every value of a small formulary.
pub(crate) const AN_HOUR: u64 = 3600;

/// What the files say at each of these places.
pub(crate) fn values<'p>(proposal: &Proposal, places: impl IntoIterator<Item = &'p TypedPlace>) -> Vec<String> {
    let rows = sheet::rows(proposal.formulary.texts()).expect("files without a fault");
    let rows: HashMap<_, _> = rows.into_iter().map(|row| ((row.file.clone(), row.place.clone()), row)).collect();
    let value = |place: &TypedPlace| match rows.get(&(place.file.clone(), place.place.clone())) {
        Some(row) if row.what == SheetValue::Value => row.value.clone(),
        Some(row) => row.what.word().to_owned(),
        None => NONE.to_owned(),
    };
    places.into_iter().map(value).collect()
}

pub(crate) fn answers(proposal: &Proposal, places: &[&TypedPlace]) -> Answers {
    let mut answers = Answers::default();
    for (place, value) in places.iter().zip(values(proposal, places.iter().copied())) {
        answers.put(place, &value);
    }
    answers
}

/// Types everything that is still to be typed in the files that are wanted.
pub(crate) fn types(
    proposal: &Proposal,
    cases: &mut Cases,
    now: Moment,
    who: (&Person, &Signer),
    wanted: impl Fn(&str) -> bool,
) {
    let progress = proposal.progress(cases).expect("a journal");
    let mut due = progress.due(&proposal.changes);
    due.retain(|place| wanted(&place.file));
    let differ = proposal.take(cases, now, who, &answers(proposal, &due), AN_HOUR).expect("they may type");
    assert!(differ.is_empty(), "{differ:?}");
}

/// Types everything, some of it once more, and signs.
pub(crate) fn approves(proposal: &Proposal, cases: &mut Cases, now: Moment, who: (&Person, &Signer)) {
    types(proposal, cases, now, who, |_| true);
    let progress = proposal.progress(cases).expect("a journal");
    let again = answers(proposal, &progress.again(&proposal.changes));
    proposal.approve(cases, now, who, &again).expect("approved");
}
