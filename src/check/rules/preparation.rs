//! The ampoules give what the label says, in the way the recipe says.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::MadeFrom;
use crate::formulary::{HowMade, Stocked};
use crate::infusion::Computed;
use crate::quantity::{Product, Quantity, Ratio, Volume, exact_or_about};

use super::strength_stocked::stocked;

static AMOUNT: Code = Code::impossible("preparation-amount-differs");
static VOLUME: Code = Code::impossible("preparation-volume-differs");
static NOT_AS_RECIPE: Code = Code::justify("preparation-not-as-recipe");
static TOO_SMALL: Code = Code::justify("volume-too-small-to-draw-up");

pub(super) const RULE: Rule =
    Rule { codes: &[&AMOUNT, &VOLUME, &NOT_AS_RECIPE, &TOO_SMALL], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let Some(made) = computed.entry().made_from() else { return };
    let label = computed.entry().label();
    let times = |value: Ratio| Product::ONE.number(made.ampoules).ratio(value).finish();
    let (Ok(amount), Ok(drawn)) = (times(made.amount.value()), times(made.volume.value())) else { return };
    let same_kind = made.amount.kind() == label.amount.kind();
    if !same_kind || amount != label.amount.value() {
        let held =
            Product::ONE.ratio(amount).over_unit(made.amount.unit()).finish().map(exact_or_about).unwrap_or_default();
        let message = format!(
            "{} x {} is {held} {}, and the label says {}",
            made.ampoules,
            made.amount,
            made.amount.unit().shown(),
            label.amount
        );
        findings
            .add(AMOUNT.found("made_from.ampoules", message).help("count the ampoules and read their strength again"));
    }
    volume(made, drawn, label.volume, findings);
    let smallest = computed.formulary().policy().smallest_drawn_up;
    if drawn < smallest.value() {
        let message = format!("{} mL is drawn up, and less than {smallest} cannot be measured", exact_or_about(drawn));
        let finding = TOO_SMALL.found("made_from.ampoules", message);
        findings.add(
            finding.help("dilute in two steps, or write the reason").origin(&computed.formulary().policy().origin),
        );
    }
    if let Some(recipe_of) = stocked(computed) {
        recipe(made, recipe_of, findings);
    }
}

fn volume(made: &MadeFrom, drawn: Ratio, label: Quantity<Volume>, findings: &mut Findings) {
    let volume = label.value();
    let fits = match made.how {
        HowMade::MadeUpTo => drawn <= volume,
        HowMade::AddedTo => drawn < volume,
        HowMade::Undiluted => drawn == volume,
    };
    if fits {
        return;
    }
    let drawn = exact_or_about(drawn);
    let message = match made.how {
        HowMade::MadeUpTo => format!("{drawn} mL of drug cannot be made up to {label}"),
        HowMade::AddedTo => format!(
            "{drawn} mL of drug added to a diluent is more than {label}: the label's volume is drug and diluent together"
        ),
        HowMade::Undiluted => format!("undiluted, it is {drawn} mL, and the label says {label}"),
    };
    findings.add(VOLUME.found("label.volume", message).help("read the ampoules and the label again"));
}

/// Which stocked strength it is, and whether it was made as that one is made.
fn recipe(made: &MadeFrom, stocked: &Stocked, findings: &mut Findings) {
    let Some(recipe) = &stocked.recipe else { return };
    if recipe.how != made.how {
        let message = format!(
            "it was {}, and the recipe for {stocked} says another way: the strength is another one",
            how(made.how)
        );
        findings.add(
            NOT_AS_RECIPE
                .found("made_from.how", message)
                .help("make it up as the recipe says, or write the reason")
                .expected(format!("the recipe says: {}", how(recipe.how)))
                .origin(&stocked.origin),
        );
        return;
    }
    let folded =
        |name: &Option<String>| name.as_ref().map(|name| name.to_lowercase().split_whitespace().collect::<String>());
    if recipe.diluent != made.diluent && folded(&recipe.diluent) != folded(&made.diluent) {
        let named = |name: &Option<String>| name.clone().unwrap_or_else(|| "no diluent".to_owned());
        let message = format!("the diluent is {}, and the recipe for {stocked} says another", named(&made.diluent));
        findings.add(
            NOT_AS_RECIPE
                .found("made_from.diluent", message)
                .help("use the recipe's diluent, or write the reason")
                .expected(format!("the recipe says {}", named(&recipe.diluent)))
                .origin(&stocked.origin),
        );
        return;
    }
    if recipe.of.concentration() != made.strength().concentration() {
        let message = format!(
            "ampoules of {} in {} were used, and the recipe for {stocked} says ampoules of another strength",
            made.amount, made.volume
        );
        findings.add(
            NOT_AS_RECIPE
                .found("made_from.of", message)
                .help("look at the ampoules again, or write the reason")
                .expected(format!("the recipe says {}", recipe.of))
                .origin(&stocked.origin),
        );
    }
}

fn how(how: HowMade) -> String {
    match how {
        HowMade::MadeUpTo => "made up to the final volume".to_owned(),
        HowMade::AddedTo => "added to the diluent".to_owned(),
        HowMade::Undiluted => "undiluted".to_owned(),
    }
}
