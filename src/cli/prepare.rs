//! `prepare`: from ampoules and diluent to the syringe, by the formulary's recipe or by what is named.

mod said;

use clap::Args;

use crate::card::label::{Label, LabelRequest, NotLabelled};
use crate::diagnostic::Fault;
use crate::formulary::{Drug, Formulary, HowMade, Stocked};
use crate::infusion::preparation::{Ampoule, BroughtTo, NotMade, Prepared, Wanted};
use crate::quantity::{Amount, BodyMass, Number, NumberForm, Quantity, Strength, Unit, Volume, clip};

use super::answer::Answer;
use super::drawing::LabelFormat;
use super::input::{FormularyArg, Refused, argument, optional};
use super::{Exit, Now};

use said::{Made, refused};

#[derive(Debug, Args)]
pub(super) struct PrepareArgs {
    /// The drug, to make it as the formulary's recipe says
    drug: Option<String>,
    /// The key of a stocked strength [default: the drug's only one]
    #[arg(long, value_name = "KEY", requires = "drug")]
    strength: Option<String>,
    /// The weight, where the strength is made for it: "3.2 kg"
    #[arg(long, value_name = "WEIGHT", requires = "drug")]
    weight: Option<String>,
    /// Another volume than the recipe's: "25 mL"
    #[arg(long, value_name = "VOLUME", requires = "drug")]
    volume: Option<String>,
    /// What one ampoule holds: "1 mg in 1 mL"
    #[arg(long, value_name = "AMPOULE", required_unless_present = "drug")]
    ampoule: Option<String>,
    /// How many ampoules, or which part of one
    #[arg(long, value_name = "N", conflicts_with_all = ["drug", "amount"], required_unless_present_any = ["drug", "amount"])]
    ampoules: Option<String>,
    /// How much drug is wanted in the syringe: "4 mg"
    #[arg(long, value_name = "AMOUNT", conflicts_with = "drug")]
    amount: Option<String>,
    /// Diluent is added until there is so much in all
    #[arg(long, value_name = "VOLUME", conflicts_with_all = ["drug", "added_to", "undiluted"])]
    made_up_to: Option<String>,
    /// The drug is added to so much diluent
    #[arg(long, value_name = "VOLUME", conflicts_with_all = ["drug", "undiluted"])]
    added_to: Option<String>,
    /// As it is in the ampoule
    #[arg(long, conflicts_with_all = ["drug", "diluent"])]
    undiluted: bool,
    /// The diluent; of a recipe, the recipe's
    #[arg(long, value_name = "NAME")]
    diluent: Option<String>,
    /// The size of the syringe in which the drug is drawn up [default: the smallest that holds it]
    #[arg(long, value_name = "SIZE")]
    draw_with: Option<String>,
    /// The size of the syringe in which the rest is measured [default: the smallest that holds it]
    #[arg(long, value_name = "SIZE")]
    whole_in: Option<String>,
    /// The label to be printed, in the stead of how it is made
    #[arg(long, requires = "drug", requires = "by")]
    label: bool,
    /// Who makes it up: stands on the label
    #[arg(long, value_name = "NAME", requires = "label")]
    by: Option<String>,
    /// An identifier of the patient whose syringe it is: stands on the label. Needed where the strength is made for a weight
    #[arg(long = "identifier", value_name = "TEXT", requires = "label")]
    identifiers: Vec<String>,
    #[command(flatten)]
    formulary: FormularyArg,
    #[command(flatten)]
    now: Now,
    /// How the answer is written; html is for a label
    #[arg(long, value_enum, default_value = "text")]
    format: LabelFormat,
}

pub(super) fn run(args: &PrepareArgs) -> Answer {
    made(args).unwrap_or_else(|refused| Answer::refused(&refused, args.format.plain()))
}

fn made(args: &PrepareArgs) -> Result<Answer, Refused> {
    if args.format == LabelFormat::Html && !args.label {
        let fault = Fault::new("format-for-labels", "only a label is drawn")
            .help("add --label and --by, or leave --format html out");
        return Err(Refused::one("--format", fault));
    }
    let sizes = said::Sizes {
        drawn: optional("--draw-with", args.draw_with.as_ref(), Quantity::parse)?,
        whole: optional("--whole-in", args.whole_in.as_ref(), Quantity::parse)?,
    };
    let ampoule = match &args.ampoule {
        Some(text) => Some(ampoule(text)?),
        None => None,
    };
    let Some(name) = &args.drug else {
        let made = Made { prepared: freely(args, ampoule)?, diluent: args.diluent.as_deref(), stock: None, sizes };
        return made.answer(args.format);
    };
    let formulary = args.formulary.open_whole()?;
    let (drug, stocked) = stocked(&formulary, name, args.strength.as_deref())?;
    let weight = optional("--weight", args.weight.as_ref(), Quantity::<BodyMass>::parse)?;
    if weight.is_some_and(|weight| weight.unit() == Unit::Pound) {
        let fault = Fault::new("weight-in-pounds", "the weight is in pounds");
        return Err(Refused::one("--weight", fault.help("write the weight in kg, as the card will")));
    }
    let volume = optional("--volume", args.volume.as_ref(), Quantity::<Volume>::parse)?;
    let prepared = Prepared::of_stock(stocked, ampoule, weight.map(Quantity::value), volume.map(Quantity::value));
    let prepared = prepared.map_err(|not_made| refused(&not_made))?;
    let of_recipe = stocked.recipe.as_ref().and_then(|recipe| recipe.diluent.as_deref());
    if let (Some(typed), Some(own)) = (&args.diluent, of_recipe) {
        let fault = Fault::new("diluent-of-recipe", format!("the recipe's diluent is {own}, not `{}`", clip(typed)));
        return Err(Refused::one("--diluent", fault.help("leave --diluent out, or prepare it freely with --ampoule")));
    }
    let diluent = of_recipe.or(args.diluent.as_deref());
    if args.label && diluent.is_none() && prepared.how != HowMade::Undiluted {
        let fault = Fault::new("diluent-missing", "the formulary names no diluent for this strength");
        return Err(Refused::one(
            "--diluent",
            fault.help("name it, it stands on the label: --diluent \"glucose 5 %\""),
        ));
    }
    if let (true, Some(by)) = (args.label, &args.by) {
        let request = LabelRequest { diluent, by, identifiers: &args.identifiers, weight };
        let label = Label::of(&formulary, (drug, stocked), &prepared, &request, args.now.moment()?);
        let label = label.map_err(|why| match why {
            NotLabelled::TooLarge(error) => refused(&error.into()),
            NotLabelled::TooFewIdentifiers { .. } => {
                let help = "read them off the wristband: --identifier \"2026-03-05\" --identifier \"KL-01188\"";
                Refused::one("--identifier", Fault::new("identifiers-too-few", why.to_string()).help(help))
            }
        })?;
        return Ok(match args.format {
            LabelFormat::Text => Answer::text(label.text(), Exit::Proceed),
            LabelFormat::Json => Answer::json(&label.json(), Exit::Proceed),
            LabelFormat::Html => Answer::text(label.html(), Exit::Proceed),
        });
    }
    let stock = Some(said::Stock { formulary: &formulary, drug, stocked });
    Made { prepared, diluent, stock, sizes }.answer(args.format)
}

/// By what is named, without a formulary.
fn freely(args: &PrepareArgs, ampoule: Option<Ampoule>) -> Result<Prepared, Refused> {
    let ampoule = ampoule.ok_or_else(|| refused(&NotMade::NoRecipe))?;
    let wanted = match (&args.ampoules, &args.amount) {
        (Some(count), _) => {
            Wanted::Ampoules(argument("--ampoules", count, |text| Number::parse(text, NumberForm::Measured))?)
        }
        (None, text) => {
            let amount = argument("--amount", text.as_deref().unwrap_or_default(), Quantity::<Amount>::parse_dose)?;
            Wanted::Amount(amount.kind(), amount.value())
        }
    };
    let volume = |name, text: &Option<String>| optional(name, text.as_ref(), Quantity::<Volume>::parse);
    let to = match (volume("--made-up-to", &args.made_up_to)?, volume("--added-to", &args.added_to)?, args.undiluted) {
        (Some(whole), ..) => BroughtTo::MadeUpTo(whole.value()),
        (None, Some(diluent), _) => BroughtTo::AddedTo(diluent.value()),
        (None, None, true) => BroughtTo::Undiluted,
        (None, None, false) => {
            let fault = Fault::new(
                "preparation-how-missing",
                "it is not said how it is made up: the strength depends on it",
            )
            .help("write --made-up-to \"50 mL\" (in all), --added-to \"50 mL\" (to so much diluent), or --undiluted");
            return Err(Refused::one("prepare", fault));
        }
    };
    Prepared::of(ampoule, wanted, to).map_err(|not_made| refused(&not_made))
}

fn ampoule(text: &str) -> Result<Ampoule, Refused> {
    let strength = argument("--ampoule", text, Strength::parse_label)?;
    Ampoule::of(strength).ok_or_else(|| {
        let fault = Fault::new("ampoule-without-volume", "a strength does not say how much one ampoule holds");
        Refused::one("--ampoule", fault.help("write amount and volume of one ampoule: 1 mg in 1 mL"))
    })
}

/// The drug and the one strength that is meant.
fn stocked<'f>(formulary: &'f Formulary, name: &str, key: Option<&str>) -> Result<(&'f Drug, &'f Stocked), Refused> {
    let drug = formulary.drug_named(name)?;
    let keys = || drug.strengths.iter().map(|one| format!("`{}` ({one})", one.key)).collect::<Vec<_>>().join(", ");
    let found = match (key, drug.strengths.as_slice()) {
        (None, [only]) => Some(only),
        (None, _) => None,
        (Some(key), all) => all.iter().find(|one| one.key == key.trim()),
    };
    found.map(|stocked| (drug, stocked)).ok_or_else(|| {
        let message = match key {
            Some(key) => format!("`{}` is not a strength of {}", clip(key), drug.name),
            None => format!("{} has several strengths", drug.name),
        };
        let help = format!("write --strength and one of: {}", keys());
        Refused::one("--strength", Fault::new("strength-unknown", message).help(help))
    })
}
