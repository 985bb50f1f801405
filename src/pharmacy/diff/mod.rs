//! Two formularies in, what changed between them out: in clinical words, the most dangerous first.
//!
//! Each formulary is taken apart into facts, one for each thing that somebody answers for; two lists of facts are then
//! held against each other. A kind of limit that is added to the formulary is added in `facts.rs`, and nowhere else.

mod facts;
mod html;
mod meaning;
mod text;

use std::collections::BTreeMap;

use serde::Serialize;

use crate::formulary::{Faulty, Formulary, Side};
use crate::quantity::{Ratio, exact_or_about};

pub use html::page;
pub use text::{json, text};

/// How dangerous a change is; the most dangerous first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Risk {
    /// The unit of a dose: every number beneath it means something else.
    DoseUnit,
    /// A strength, or how it is made up.
    Strength,
    /// A limit is gone.
    LimitRemoved,
    /// A limit lets more through.
    LimitWidened,
    /// A limit lets less through: alerts, and cards in use that it would stop.
    LimitNarrowed,
    /// A drug, a use, a limit or a piece of equipment is new.
    Added,
    /// A drug, a use or a piece of equipment is gone.
    Removed,
    /// Anything else that somebody answers for.
    Other,
}

/// One thing that differs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Change {
    /// How dangerous.
    pub risk: Risk,
    /// What it is about: `remifentanil, adult theatre, anaesthesia, maintenance`.
    pub place: String,
    /// Which thing: `soft upper limit`.
    pub what: String,
    /// As it was.
    pub old: Option<String>,
    /// As it is.
    pub new: Option<String>,
    /// By how many times the new number is the old one: `x 10`; nothing where they cannot be compared.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factor: Option<String>,
    /// File and line of the newer one, or of what is gone.
    pub file: String,
}

/// Something that somebody answers for.
#[derive(Debug, Clone)]
struct Fact {
    place: String,
    what: String,
    shown: String,
    /// What it comes to, where the same may be written in more ways than one.
    meaning: Option<String>,
    kind: FactKind,
    file: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FactKind {
    DoseUnit,
    Strength,
    /// A limit: its exact value, and on which side it stops.
    Limit(Side, Ratio),
    /// That something is there at all.
    Existence,
    /// What a limit or a strength rests on: it comes and goes with it.
    Source,
    Other,
}

/// Everything that differs in `new`.
///
/// # Errors
/// [`Faulty`] when either cannot be read whole.
pub fn diff(old: &Formulary, new: &Formulary) -> Result<Vec<Change>, Faulty> {
    let key = |fact: &Fact| (fact.place.clone(), fact.what.clone());
    let old: BTreeMap<_, Fact> = facts::of(old)?.into_iter().map(|fact| (key(&fact), fact)).collect();
    let new: BTreeMap<_, Fact> = facts::of(new)?.into_iter().map(|fact| (key(&fact), fact)).collect();
    let mut changes = Vec::new();
    let gone = whole_places(&old, &new);
    let come = whole_places(&new, &old);
    for (key, before) in &old {
        match new.get(key) {
            Some(after) if same(before, after) => {}
            Some(after) => changes.push(change(risk(Some(before), Some(after)), Some(before), Some(after))),
            // What belongs to something that is gone as a whole is said once.
            None if is_within(before, &gone) || before.kind == FactKind::Source => {}
            None => changes.push(change(risk(Some(before), None), Some(before), None)),
        }
    }
    for (key, after) in &new {
        if !old.contains_key(key) && after.kind != FactKind::Source {
            // What is new as a whole is said by its values: somebody answers for each.
            let risk = if is_within(after, &come) { Risk::Added } else { risk(None, Some(after)) };
            changes.push(change(risk, None, Some(after)));
        }
    }
    changes.sort_by(|one, other| (one.risk, &one.place, &one.what).cmp(&(other.risk, &other.place, &other.what)));
    Ok(changes)
}

impl Change {
    /// In one line: `remifentanil, adult theatre, maintenance: soft upper limit 0.5 -> 0.4 mcg/kg/min`.
    #[must_use]
    pub fn line(&self) -> String {
        let told = match (&self.old, &self.new) {
            (Some(old), Some(new)) => {
                // A unit that both have is written once, after the newer number.
                let (old_number, old_unit) = old.split_once(' ').unwrap_or((old, ""));
                let (_, new_unit) = new.split_once(' ').unwrap_or((new, ""));
                let one_unit = !old_unit.is_empty()
                    && old_unit == new_unit
                    && old_number.starts_with(|c: char| c.is_ascii_digit());
                format!("{} -> {new}", if one_unit { old_number } else { old })
            }
            (Some(old), None) => format!("{old} -> nothing"),
            (None, Some(new)) => format!("nothing -> {new}"),
            (None, None) => String::new(),
        };
        let factor = self.factor.as_ref().map(|factor| format!(", {factor}")).unwrap_or_default();
        format!("{}: {} {told}{factor}", self.place, self.what)
    }
}

impl Risk {
    /// Every risk, the gravest first.
    pub const ALL: [Self; 8] = [
        Self::DoseUnit,
        Self::Strength,
        Self::LimitRemoved,
        Self::LimitWidened,
        Self::LimitNarrowed,
        Self::Added,
        Self::Removed,
        Self::Other,
    ];

    /// As a heading.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::DoseUnit => "Dose units: every number beneath means something else",
            Self::Strength => "Strengths and how they are made up",
            Self::LimitRemoved => "Limits that are gone",
            Self::LimitWidened => "Limits that let more through",
            Self::LimitNarrowed => "Limits that let less through",
            Self::Added => "New",
            Self::Removed => "Gone",
            Self::Other => "Other",
        }
    }
}

/// A soft or hard limit of a formulary.
pub(super) struct Limit {
    /// What it is about: `remifentanil, adult theatre, anaesthesia, maintenance`.
    pub(super) place: String,
    /// In words, with its place.
    pub(super) says: String,
    /// File and line.
    pub(super) file: String,
    /// Whether it is an upper one.
    pub(super) upper: bool,
    /// Whether it stops; else it asks for a reason.
    pub(super) hard: bool,
}

/// Every soft and hard limit.
pub(super) fn soft_and_hard_limits(formulary: &Formulary) -> Result<Vec<Limit>, Faulty> {
    let limits = facts::of(formulary)?.into_iter().filter_map(|fact| {
        let FactKind::Limit(side, _) = fact.kind else { return None };
        let counts = fact.what.starts_with("soft") || fact.what.starts_with("hard");
        let says = format!("{}: {} {} ({})", fact.place, fact.what, fact.shown, fact.file);
        let hard = fact.what.starts_with("hard");
        counts.then_some(Limit { place: fact.place, says, file: fact.file, upper: side == Side::Above, hard })
    });
    Ok(limits.collect())
}

/// The places whose existence is in one and not in the other.
fn whole_places(one: &BTreeMap<(String, String), Fact>, other: &BTreeMap<(String, String), Fact>) -> Vec<String> {
    let only = one.iter().filter(|(key, fact)| fact.kind == FactKind::Existence && !other.contains_key(*key));
    only.map(|(_, fact)| fact.place.clone()).collect()
}

fn is_within(fact: &Fact, places: &[String]) -> bool {
    places.iter().any(|place| {
        let inner = fact.place.strip_prefix(place.as_str()).is_some_and(|rest| rest.starts_with(", "));
        inner || (fact.place == *place && fact.kind != FactKind::Existence)
    })
}

/// By meaning where it is a number: 0.5 mg is 500 mcg. The way it is written is no change that anybody answers for.
fn same(before: &Fact, after: &Fact) -> bool {
    match (&before.meaning, &after.meaning) {
        (Some(old), Some(new)) => old == new,
        _ => before.shown == after.shown,
    }
}

/// Whether two limits count the same thing, so that one of them is the wider.
fn comparable(before: &Fact, after: &Fact) -> bool {
    let counts =
        |fact: &Fact| fact.meaning.as_deref().and_then(|meaning| meaning.split_once(' ')).map(|(_, of)| of.to_owned());
    counts(before) == counts(after)
}

fn risk(before: Option<&Fact>, after: Option<&Fact>) -> Risk {
    if let (Some(old), Some(new)) = (before, after)
        && matches!((old.kind, new.kind), (FactKind::Limit(..), FactKind::Limit(..)))
        && !comparable(old, new)
    {
        return Risk::DoseUnit;
    }
    match (before.map(|fact| fact.kind), after.map(|fact| fact.kind)) {
        (Some(FactKind::DoseUnit), _) | (_, Some(FactKind::DoseUnit)) => Risk::DoseUnit,
        (Some(FactKind::Strength), _) | (_, Some(FactKind::Strength)) => Risk::Strength,
        (Some(FactKind::Limit(..)), None) => Risk::LimitRemoved,
        (Some(FactKind::Limit(side, old)), Some(FactKind::Limit(_, new))) => {
            let wider = match side {
                Side::Above => new > old,
                Side::Below => new < old,
            };
            if wider { Risk::LimitWidened } else { Risk::LimitNarrowed }
        }
        (None, Some(FactKind::Limit(..))) => Risk::LimitNarrowed,
        (None, Some(FactKind::Existence)) => Risk::Added,
        (Some(FactKind::Existence), None) => Risk::Removed,
        _ => Risk::Other,
    }
}

fn change(risk: Risk, old: Option<&Fact>, new: Option<&Fact>) -> Change {
    let either = new.or(old).expect("a change has at least one side");
    Change {
        risk,
        place: either.place.clone(),
        what: either.what.clone(),
        old: old.map(|fact| fact.shown.clone()),
        new: new.map(|fact| fact.shown.clone()),
        factor: old.zip(new).and_then(|(old, new)| factor(old, new)),
        file: either.file.clone(),
    }
}

/// By how many times the new number is the old one, where both count the same thing.
fn factor(old: &Fact, new: &Fact) -> Option<String> {
    let ((old, of_old), (new, of_new)) = (size(old.meaning.as_ref()?)?, size(new.meaning.as_ref()?)?);
    let factor = new.over(old).ok().filter(|_| of_old == of_new)?;
    (factor != Ratio::ONE).then(|| format!("x {}", exact_or_about(factor)))
}

/// The number of a meaning, and what it counts; of an amount in a volume, how much is in one of the volume.
fn size(meaning: &str) -> Option<(Ratio, &str)> {
    let number = |text: &str| {
        let (numerator, denominator) = text.split_once('/')?;
        Ratio::new(numerator.parse().ok()?, denominator.parse().ok()?).ok()
    };
    let (first, counts) = meaning.split_once(' ')?;
    match counts.split_once(" in ") {
        Some((counts, volume)) => Some((number(first)?.over(number(volume.split_once(' ')?.0)?).ok()?, counts)),
        None => Some((number(first)?, counts)),
    }
}

fn counted(changes: usize) -> String {
    match changes {
        0 => "no changes".to_owned(),
        1 => "one change".to_owned(),
        many => format!("{many} changes"),
    }
}
