//! Words that the program looks up, and that are a slip away from one that it knows: the class, by which a label has its
//! colour, and the diluents.

use crate::card::label;
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::clip;

static CLASS: Code = Code::error("class-misspelled");
static COLOURLESS: Code = Code::warning("class-without-colour");
static DILUENT: Code = Code::error("diluent-misspelled");

/// What is put into syringes with a drug, as the demonstration spells it; any other that is unlike these is let be.
const DILUENTS: [&str; 7] = [
    "sodium chloride 0.9 %",
    "sodium chloride 0.45 %",
    "glucose 5 %",
    "glucose 10 %",
    "water for injections",
    "compound sodium lactate",
    "glucose 4 % with sodium chloride 0.18 %",
];

/// Number of letters apart that is still a slip.
const NEAR: usize = 2;

pub(super) const RULE: Rule = Rule { codes: &[&CLASS, &COLOURLESS, &DILUENT], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let (drug, class) = (seen.drug, seen.drug.class.as_str());
    if !label::classes().any(|known| known == class) {
        let shown = clip(class);
        if let Some(known) = near(class, label::classes()) {
            let message = format!("`{shown}` is no class of a label, and `{known}` is: its label would have no colour");
            remarks.add(&CLASS, &drug.file, &["class"], message).value(class);
        } else {
            let message = format!("`{shown}` is no class of a label: its label has no colour");
            remarks.add(&COLOURLESS, &drug.file, &["class"], message);
        }
    }
    for one in &drug.strengths {
        let Some(diluent) = one.recipe.as_ref().and_then(|recipe| recipe.diluent.as_deref()) else { continue };
        if DILUENTS.contains(&diluent) {
            continue;
        }
        if let Some(known) = near(diluent, DILUENTS.into_iter()) {
            let message = format!("`{}` is no diluent that is known here, and `{known}` is", clip(diluent));
            remarks.add(&DILUENT, &drug.file, &["strengths", &one.key, "recipe", "diluent"], message).value(diluent);
        }
    }
}

fn near<'k>(word: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    let word = word.to_lowercase();
    let near = known.map(|known| (strsim::osa_distance(&word, known), known));
    near.filter(|(apart, _)| *apart <= NEAR).min().map(|(_, known)| known)
}
