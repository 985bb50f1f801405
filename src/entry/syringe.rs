//! The syringe in the hand and the order: label, how it was made, bolus, range of doses, access.

use serde::{Deserialize, Serialize};

use crate::document::{Item, Refusal, Typed, Value};
use crate::formulary::{HowMade, words};
use crate::quantity::{Amount, BolusDose, DoseRate, Number, NumberForm, Quantity, Stated, Strength, Time, Volume};

use super::read::{choice, quantity, words as plain_words};

/// What the syringe says: all three, as written on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Label {
    /// How much drug.
    pub amount: Quantity<Amount>,
    /// In how much solution.
    pub volume: Quantity<Volume>,
    /// The strength.
    pub strength: Strength,
    /// What amount and volume make of it, exactly.
    pub content: Strength,
}

/// What somebody knows of how a syringe was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Preparation {
    /// The ampoules and the way.
    Told(MadeFrom),
    /// One of the words in their place.
    NotTold(NotTold),
}

/// What a syringe was made from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MadeFrom {
    /// How many ampoules, or which part of one.
    pub ampoules: Number,
    /// What each holds.
    pub amount: Quantity<Amount>,
    /// In how much.
    pub volume: Quantity<Volume>,
    /// With what it was diluted.
    pub diluent: Option<String>,
    /// Which of the three ways.
    pub how: HowMade,
}

impl MadeFrom {
    /// What is in an ampoule.
    #[must_use]
    pub fn strength(&self) -> Strength {
        Strength::of(self.amount, self.volume)
    }
}

/// The range of doses that was ordered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Titration {
    /// The lowest dose.
    pub from: DoseRate,
    /// The highest dose.
    pub to: DoseRate,
    /// By how much at a time, where that was ordered.
    pub step: Option<DoseRate>,
}

/// An ordered bolus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bolus {
    /// How much.
    pub dose: BolusDose,
    /// Over which time.
    pub over: Quantity<Time>,
}

words! {
    /// Why nobody tells the ampoules.
    NotTold {
        /// It was made here, and this person did not see it.
        NotSeen = "not seen",
        /// It came ready made.
        BoughtIn = "bought in",
    }
    /// Into which kind of vessel.
    Access {
        /// A large vein.
        Central = "central",
        /// A vein of an arm or a leg.
        Peripheral = "peripheral",
    }
    /// With what the line is filled before the start.
    LineFilled {
        /// With this drug, out of this syringe.
        FromThisSyringe = "from this syringe",
        /// With this drug, from before.
        AlreadyFull = "already full",
        /// With the diluent.
        WithDiluent = "with diluent",
        /// With air.
        Empty = "empty",
    }
}

/// A bought-in label is copied as printed; one that was made here follows the rules for a dose.
pub(super) fn label(item: Item<'_, '_, '_>, made_here: bool) -> Option<Label> {
    let mut fields = item.fields()?;
    let amount = fields.required(
        "amount",
        quantity(if made_here { Quantity::<Amount>::parse_dose } else { Quantity::<Amount>::parse }),
    );
    let volume = fields.required("volume", quantity(Quantity::<Volume>::parse));
    let strength =
        fields.required("strength", quantity(if made_here { Strength::parse } else { Strength::parse_label }));
    fields.no_others();
    let (amount, volume, strength) = (amount?, volume?, strength?);
    Some(Label { amount, volume, strength, content: Strength::of(amount, volume) })
}

pub(super) fn preparation(item: Item<'_, '_, '_>) -> Option<Preparation> {
    if matches!(item.node().value, Value::Text(_)) {
        let word = item.text(choice("word in place of the ampoules", NotTold::WORDS, NotTold::written));
        return word.map(Preparation::NotTold);
    }
    made_from(item).map(Preparation::Told)
}

fn made_from(item: Item<'_, '_, '_>) -> Option<MadeFrom> {
    let node = item.node();
    let mut fields = item.fields()?;
    let ampoules = fields.required("ampoules", |typed| Ok(Number::parse(typed.text().trim(), NumberForm::Measured)?));
    let of = fields.required("of", ampoule);
    let diluent = fields.optional("diluent", plain_words);
    let how = fields.required("how", choice("way of making up", HowMade::WORDS, HowMade::written));
    match (how, node.member("diluent").is_some()) {
        (Some(HowMade::Undiluted), true) => {
            let refusal = Refusal::new("fields-contradict", "a diluent is named, and it was not diluted");
            fields
                .refuse("diluent", refusal.help("leave `diluent` out, or write how it was made: made up to, added to"));
        }
        (Some(HowMade::MadeUpTo | HowMade::AddedTo), false) => {
            let refusal = Refusal::new("field-missing", "the diluent is not named");
            fields.refuse("diluent", refusal.help("write `diluent:` and its name, for example glucose 5 %"));
        }
        _ => {}
    }
    fields.no_others();
    let (amount, volume) = of?;
    Some(MadeFrom { ampoules: ampoules?, amount, volume, diluent, how: how? })
}

/// An ampoule must say its amount and its volume: a strength alone does not say how much is in it.
fn ampoule(typed: &Typed<'_, '_>) -> Result<(Quantity<Amount>, Quantity<Volume>), Refusal> {
    match Strength::parse_label(typed.text())?.stated() {
        Stated::Of { amount, volume, in_words: true } => Ok((amount, volume)),
        _ => Err(Refusal::new("ampoule-without-volume", "a strength does not say how much one ampoule holds")
            .help("write amount and volume of one ampoule: 1 mg in 1 mL")),
    }
}

pub(super) fn titration(item: Item<'_, '_, '_>) -> Option<Titration> {
    let mut fields = item.fields()?;
    let from = fields.required("from", quantity(DoseRate::parse));
    let to = fields.required("to", quantity(DoseRate::parse));
    let step = fields.typed("step", quantity(DoseRate::parse));
    fields.no_others();
    Some(Titration { from: from?, to: to?, step: step.value() })
}

pub(super) fn bolus(item: Item<'_, '_, '_>) -> Option<Bolus> {
    let mut fields = item.fields()?;
    let dose = fields.required("dose", quantity(BolusDose::parse));
    let over = fields.required("over", quantity(Quantity::<Time>::parse));
    fields.no_others();
    Some(Bolus { dose: dose?, over: over? })
}
