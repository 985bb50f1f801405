//! The strengths of a drug: one list, each with what it is made of.

use crate::document::{Entries, Fields, Item, Refusal, Typed};
use crate::formulary::drug::{Composition, Recipe, Stocked};
use crate::formulary::words::HowMade;
use crate::quantity::{Amount, BolusDose, Number, NumberForm, Per, Product, Quantity, Ratio, Stated, Strength, Volume};

use super::{FileReading, by, plain, word};

pub(super) fn read(entries: Entries<'_, '_, '_>, reading: &FileReading<'_>) -> Option<Vec<Stocked>> {
    entries.read(|member, item| strength(&member.key, item, reading))
}

enum AmountWritten {
    Fixed(Quantity<Amount>),
    PerKilogram(BolusDose),
}

fn strength(key: &str, item: Item<'_, '_, '_>, reading: &FileReading<'_>) -> Option<Stocked> {
    let node = item.node();
    let mut fields = item.fields()?;
    let amount = fields.required("amount", amount);
    let volume = fields.required("volume", by(Quantity::<Volume>::parse));
    let source = fields.required("source", |typed| reading.cited(typed));
    let has_recipe = fields.node("recipe").is_some();
    let recipe = fields.item("recipe").and_then(recipe);
    let composition = match (amount?, volume?) {
        (AmountWritten::Fixed(amount), volume) => {
            Composition::Fixed { amount, volume, content: Strength::of(amount, volume).concentration() }
        }
        (AmountWritten::PerKilogram(amount), volume) => Composition::PerKilogram { amount, volume },
    };
    if let Some(recipe) = &recipe {
        check_recipe(&mut fields, recipe, composition);
    }
    fields.no_others();
    if has_recipe && recipe.is_none() {
        return None;
    }
    Some(Stocked { key: key.to_owned(), composition, recipe, origin: reading.origin(node, source?) })
}

fn amount(typed: &Typed<'_, '_>) -> Result<AmountWritten, Refusal> {
    if !typed.text().contains('/') {
        return Ok(AmountWritten::Fixed(Quantity::<Amount>::parse_dose(typed.text())?));
    }
    let amount = BolusDose::parse(typed.text())?;
    if amount.unit().per() == Per::Kilogram {
        return Ok(AmountWritten::PerKilogram(amount));
    }
    Err(Refusal::new("strength-amount", "a recipe counts by the syringe or by kg").help("write 4 mg, or 0.3 mg/kg"))
}

fn recipe(item: Item<'_, '_, '_>) -> Option<Recipe> {
    let node = item.node();
    let mut fields = item.fields()?;
    let ampoules = fields.required("ampoules", |typed| Ok(Number::parse(typed.text().trim(), NumberForm::Dose)?));
    let of = fields.required("of", by(Strength::parse));
    let diluent = fields.optional("diluent", plain);
    let how = fields.required("how", word("way of making up", HowMade::WORDS, HowMade::written));
    let diluted = node.member("diluent").is_some();
    match how {
        Some(HowMade::Undiluted) if diluted => {
            fields.refuse(
                "diluent",
                Refusal::new("recipe-contradicts", "an undiluted recipe names a diluent").help("leave `diluent` out"),
            );
        }
        Some(HowMade::MadeUpTo | HowMade::AddedTo) if !diluted => {
            fields.refuse(
                "diluent",
                Refusal::new("field-missing", "the diluent is not named").help("write `diluent:` and its name"),
            );
        }
        _ => {}
    }
    fields.no_others();
    Some(Recipe { ampoules: ampoules?, of: of?, diluent, how: how? })
}

/// Ampoules x amount must be the amount, and their volume must fit.
fn check_recipe(fields: &mut Fields<'_, '_, '_>, recipe: &Recipe, composition: Composition) {
    let mut refuse =
        |message: &str, help: &str| fields.refuse("recipe", Refusal::new("recipe-contradicts", message).help(help));
    let Composition::Fixed { amount, volume, .. } = composition else {
        refuse("a recipe by kg has no fixed number of ampoules", "leave `recipe` out");
        return;
    };
    let Stated::Of { amount: each, volume: each_volume, in_words: true } = recipe.of.stated() else {
        refuse(
            "the recipe does not say what one ampoule holds",
            "write amount and volume of one ampoule: 1 mg in 1 mL",
        );
        return;
    };
    let times = |value: Ratio| Product::ONE.number(recipe.ampoules).ratio(value).finish().unwrap_or(Ratio::ZERO);
    if each.kind() != amount.kind() || times(each.value()) != amount.value() {
        let off = times(each.value()).over(amount.value()).ok().filter(|_| each.kind() == amount.kind());
        let off = off.map(|off| format!(", {} times that", crate::quantity::exact_or_about(off))).unwrap_or_default();
        let message = format!("the strength says {amount}, and the recipe {} ampoules of {each}{off}", recipe.ampoules);
        refuse(&message, "look at the number of ampoules and at what each holds");
    }
    let drawn = times(each_volume.value());
    let fits = match recipe.how {
        HowMade::MadeUpTo => drawn <= volume.value(),
        HowMade::AddedTo => drawn < volume.value(),
        HowMade::Undiluted => drawn == volume.value(),
    };
    if !fits {
        refuse(
            "the volume of the ampoules does not fit the volume of the strength",
            "`volume` is the final volume, drug and diluent together",
        );
    }
}
