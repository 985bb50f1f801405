//! A recipe that asks for less than can be drawn up.

use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Product, Stated, exact_or_about};

static TOO_SMALL: Code = Code::warning("recipe-too-small-to-draw-up");

pub(super) const RULE: Rule = Rule { codes: &[&TOO_SMALL], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let smallest = seen.formulary.policy().smallest_drawn_up;
    for one in &seen.drug.strengths {
        let Some(recipe) = &one.recipe else { continue };
        let Stated::Of { volume, .. } = recipe.of.stated() else { continue };
        let Ok(drawn) = Product::ONE.number(recipe.ampoules).ratio(volume.value()).finish() else { continue };
        if drawn < smallest.value() {
            let message =
                format!("the recipe of `{}` draws up {} mL, less than {smallest}", one.key, exact_or_about(drawn));
            remarks.add(&TOO_SMALL, &seen.drug.file, &["strengths", &one.key, "recipe", "ampoules"], message);
        }
    }
}
