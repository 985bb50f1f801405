//! What a value of a formulary comes to, however it is written: 0.5 mg and 500 mcg are one. In: a checked value. Out: an
//! exact size, and a text that is the same if and only if the meaning is.

use crate::formulary::{Composition, Equivalent, Recipe, StepBand};
use crate::quantity::{
    Age, Amount, BolusDose, Dimension, DoseRate, DoseUnit, FlowRate, Percent, Quantity, Ratio, Stated, Strength,
};

/// A value with an exact size.
pub(super) trait Meaning: Copy {
    /// How large it is, in the reference unit of what it counts.
    fn size(self) -> Ratio;

    /// What it counts, where values of one place may count different things.
    fn counts(self) -> String {
        String::new()
    }

    /// Size, a space, and what it counts.
    fn meaning(self) -> String {
        let size = self.size();
        format!("{}/{} {}", size.numerator(), size.denominator(), self.counts())
    }
}

impl Meaning for Ratio {
    fn size(self) -> Ratio {
        self
    }
}

impl<D: Dimension> Meaning for Quantity<D> {
    fn size(self) -> Ratio {
        self.value()
    }
    /// Amounts may count mass, units or moles; of anything else, grams and kilograms are one.
    fn counts(self) -> String {
        if D::REFERENCE == Amount::REFERENCE { self.kind().described().to_owned() } else { String::new() }
    }
}

impl Meaning for FlowRate {
    fn size(self) -> Ratio {
        self.value()
    }
}

impl Meaning for Percent {
    fn size(self) -> Ratio {
        self.value()
    }
}

impl Meaning for Age {
    fn size(self) -> Ratio {
        self.days()
    }
}

impl Meaning for Strength {
    fn size(self) -> Ratio {
        self.concentration().per_ml
    }
    fn counts(self) -> String {
        self.concentration().kind.described().to_owned()
    }
}

impl Meaning for BolusDose {
    fn size(self) -> Ratio {
        self.amount()
    }
    fn counts(self) -> String {
        of_unit(self.unit())
    }
}

impl Meaning for DoseRate {
    fn size(self) -> Ratio {
        self.amount_per_hour()
    }
    fn counts(self) -> String {
        of_unit(self.unit().dose())
    }
}

fn of_unit(unit: DoseUnit) -> String {
    format!("{} {:?}", unit.kind().described(), unit.per())
}

/// Amount and volume: 8 mg in 100 mL is another syringe than 4 mg in 50 mL.
pub(super) fn of_composition(composition: &Composition) -> String {
    match composition {
        Composition::Fixed { amount, volume, .. } => format!("{} in {}", amount.meaning(), volume.meaning()),
        Composition::PerKilogram { amount, volume } => format!("{} in {}", amount.meaning(), volume.meaning()),
    }
}

/// Ampoules of another size are another recipe, though the strength is the same.
pub(super) fn of_recipe(recipe: &Recipe) -> String {
    let ampoule = match recipe.of.stated() {
        Stated::Of { amount, volume, .. } => format!("{} in {}", amount.meaning(), volume.meaning()),
        Stated::Percent(_) | Stated::OneIn(_) => recipe.of.meaning(),
    };
    format!("{} of {ampoule}, {}, {:?}", recipe.ampoules.ratio().meaning(), recipe.how, recipe.diluent)
}

pub(super) fn of_equivalent(one: &Equivalent) -> String {
    format!("{} of {} holds {} of {}; ", one.amount.meaning(), one.of, one.holds.meaning(), one.what)
}

pub(super) fn of_step(band: &StepBand) -> String {
    format!("{} up to {}", band.step.meaning(), band.up_to.meaning())
}
