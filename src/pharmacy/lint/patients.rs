//! The patients a use is meant for, and the rates that they need: an indication in, mL/h out.

use crate::formulary::{Area, Band, Composition, Drug, Indication, Stocked};
use crate::infusion::rate::{Body, rate_for, volume_of};
use crate::quantity::{Amount, BodyMass, BolusDose, DoseRate, Per, Quantity, Ratio, Strength};

/// The lightest and the heaviest patient of a use, in kg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Weights {
    pub(super) lightest: Ratio,
    pub(super) heaviest: Ratio,
}

/// Within the soft limits of area and indication, or the hard ones where there are no soft ones; nothing where a side is
/// open.
pub(super) fn weights(area: &Area, indication: &Indication) -> Option<Weights> {
    let limits = [&area.weight, &indication.weight];
    let soft = limits.map(|limits| limits.soft.as_ref());
    let hard = limits.map(|limits| limits.hard.as_ref());
    let lightest = lowest(&soft).or_else(|| lowest(&hard))?;
    let heaviest = highest(&soft).or_else(|| highest(&hard))?;
    Some(Weights { lightest, heaviest })
}

/// The heaviest patient whom no hard limit stops, in kg.
pub(super) fn heaviest_allowed(area: &Area, indication: &Indication) -> Option<Ratio> {
    highest(&[&area.weight, &indication.weight].map(|limits| limits.hard.as_ref()))
}

/// Each strength that is stocked for a use, with the drug's name for it.
pub(super) fn stocked<'d>(drug: &'d Drug, indication: &'d Indication) -> impl Iterator<Item = &'d Stocked> {
    indication.strengths.iter().filter_map(|index| drug.strengths.get(*index))
}

/// The rate in mL/h that gives a dose to a patient of this weight in kg; nothing where it needs a body surface.
pub(super) fn rate(dose: DoseRate, stocked: &Stocked, weight: Option<Ratio>) -> Option<Ratio> {
    let of = |body, strength| rate_for(dose, body, strength).ok();
    by_weight(dose.unit().dose().per(), stocked, weight, of)
}

/// The volume in mL that holds a bolus for a patient of this weight in kg; nothing where it needs a body surface.
pub(super) fn volume(bolus: BolusDose, stocked: &Stocked, weight: Option<Ratio>) -> Option<Ratio> {
    by_weight(bolus.unit().per(), stocked, weight, |body, strength| volume_of(bolus, body, strength).ok())
}

/// A recipe by kg counts as that of 1 kg: a dose by kg needs the same rate in every patient then, and any other dose that
/// of 1 kg, divided by the weight.
fn by_weight(
    per: Per,
    stocked: &Stocked,
    weight: Option<Ratio>,
    of: impl FnOnce(Body, Option<Strength>) -> Option<Ratio>,
) -> Option<Ratio> {
    let weight = match per {
        Per::SquareMetre => return None,
        Per::Kilogram => Some(weight?),
        Per::Patient => weight,
    };
    match stocked.composition {
        Composition::Fixed { amount, volume, .. } => {
            of(Body { weight, surface: None }, Some(Strength::of(amount, volume)))
        }
        Composition::PerKilogram { amount, volume } => {
            let one = format!("{} {}", amount.number(), amount.unit().amount().shown());
            let strength = Strength::of(Quantity::<Amount>::parse_dose(&one).ok()?, volume);
            let of_one = of(Body { weight: Some(Ratio::ONE), surface: None }, Some(strength))?;
            if per == Per::Kilogram { Some(of_one) } else { of_one.over(weight?).ok() }
        }
    }
}

type Limit<'f> = Option<&'f Band<Quantity<BodyMass>>>;

fn lowest(limits: &[Limit<'_>]) -> Option<Ratio> {
    limits.iter().flatten().filter_map(|band| band.from.map(Quantity::value)).max()
}

fn highest(limits: &[Limit<'_>]) -> Option<Ratio> {
    limits.iter().flatten().filter_map(|band| band.to.map(Quantity::value)).min()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formulary::{Formulary, Lookup};

    // hazard: H-ARITHMETIC
    #[test]
    fn a_recipe_by_kg_runs_at_the_same_rate_in_every_patient() {
        let formulary = Formulary::demonstration().expect("a test excludes faults");
        let Lookup::Found(drug) = formulary.drug("noradrenaline") else { panic!("it is in the demonstration") };
        let per_kg = drug.strengths.iter().find(|one| one.is_per_kilogram()).expect("it has one");
        // 0.3 mg/kg in 50 mL: 1 mL/h is 0.1 mcg/kg/min.
        let dose = DoseRate::parse("0.1 mcg/kg/min").expect("a dose");
        for kilograms in [3, 5] {
            assert_eq!(rate(dose, per_kg, Some(Ratio::whole(kilograms))), Some(Ratio::ONE));
        }
        // The same dose of a child of 3 kg, per patient.
        let dose = DoseRate::parse("0.3 mcg/min").expect("a dose");
        assert_eq!(rate(dose, per_kg, Some(Ratio::whole(3))), Some(Ratio::ONE));
        let fixed = drug.strengths.iter().find(|one| one.key == "single").expect("it has one");
        // 0.1 mcg/kg/min x 80 kg x 60 / 80 mcg/mL
        let dose = DoseRate::parse("0.1 mcg/kg/min").expect("a dose");
        assert_eq!(rate(dose, fixed, Some(Ratio::whole(80))), Some(Ratio::whole(6)));
        assert_eq!(rate(dose, fixed, None), None);
    }
}
