//! What a syringe was made from, and by whose word.

use crate::entry::{Entry, MadeFrom, Preparation};
use crate::formulary::HowMade;
use crate::quantity::{Product, Quantity, Ratio, Volume, exact_or_about};

use super::block::FactRow;
use super::build;

pub(super) fn row(entry: &Entry, other: Option<&Entry>, compared: bool) -> FactRow {
    let label = entry.label();
    let told = |entry: Option<&Entry>| {
        let made = entry.and_then(Entry::made_from);
        made.map(|made| made_from(made, label.volume))
    };
    let word = |entry: Option<&Entry>| match entry.and_then(Entry::preparation) {
        Some(Preparation::NotTold(word)) => format!("; {word} by the other"),
        Some(Preparation::Told(_)) | None => String::new(),
    };
    match (told(Some(entry)), told(other)) {
        (Some(made), Some(_)) if compared => build::row("made_from", "Made from", made),
        (Some(made), _) => build::row("made_from", "Made from (first entry)", format!("{made}{}", word(other))),
        (None, Some(made)) => {
            build::row("made_from", "Made from (second entry)", format!("{made}{}", word(Some(entry))))
        }
        (None, None) if !entry.carried().is_empty() && entry.preparation().is_none() => {
            build::row("made_from", "Made from", "not asked: the next syringe like the one before")
        }
        (None, None) => build::row("made_from", "Made from", nobody_told(entry, other)),
    }
}

/// What two entries say that tell no ampoules: a word of each where they differ.
fn nobody_told(first: &Entry, second: Option<&Entry>) -> String {
    let word = |entry: &Entry| match entry.preparation() {
        Some(Preparation::NotTold(word)) => Some(word.to_string()),
        Some(Preparation::Told(_)) | None => None,
    };
    match (word(first), second.map(word)) {
        (Some(one), None) => one,
        (Some(one), Some(Some(other))) if one == other => format!("{one} (both)"),
        (Some(one), Some(Some(other))) => format!("{one} (first entry), {other} (second entry)"),
        (Some(one), Some(None)) => format!("{one} (first entry)"),
        (None, Some(Some(other))) => format!("{other} (second entry)"),
        (None, _) => "not told: bought in, or not seen".to_owned(),
    }
}

/// How much is drawn up, out of what, and what it is made up to or added to.
fn made_from(made: &MadeFrom, volume: Quantity<Volume>) -> String {
    let drawn = Product::ONE.number(made.ampoules).ratio(made.volume.value()).finish().unwrap_or(Ratio::ZERO);
    let ampoules = format!("{} mL ({} x {} in {})", exact_or_about(drawn), made.ampoules, made.amount, made.volume);
    let diluent = made.diluent.as_deref().unwrap_or("diluent");
    match made.how {
        HowMade::MadeUpTo => format!("{ampoules}, made up to {volume} with {diluent}"),
        HowMade::AddedTo => {
            let rest = volume.value().less(drawn).unwrap_or(Ratio::ZERO);
            format!("{ampoules}, added to {} mL of {diluent}", exact_or_about(rest))
        }
        HowMade::Undiluted => format!("{ampoules}, undiluted"),
    }
}
