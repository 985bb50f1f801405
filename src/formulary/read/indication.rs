//! What a drug is used for in an area: one dose unit, and limits by phase in that unit.

use crate::document::{Fields, Item, Refusal, Typed};
use crate::formulary::area::Area;
use crate::formulary::drug::{Indication, Stocked};
use crate::formulary::limits::{Band, BolusLimits, DoseLimits, SoftHard};
use crate::formulary::words::{DosingWeight, Phase, SurfaceFormula};
use crate::quantity::{
    BodyMass, BolusDose, DoseRate, DoseRateUnit, DoseUnit, FlowRate, Number, NumberForm, Per, Quantity, Ratio, Time,
    UnitKind, clip,
};

use super::{FileReading, areas, band, by, check_nested, plain, soft_hard, word, yes_or_no};

/// Reads every indication of a drug in one area.
pub(super) fn read_area(
    area: &str,
    item: Item<'_, '_, '_>,
    reading: &FileReading<'_>,
    known: &[Area],
    stocked: Option<&[Stocked]>,
) -> Option<Vec<Indication>> {
    if !known.iter().any(|one| one.name == area) {
        let names: Vec<&str> = known.iter().map(|area| area.name.as_str()).collect();
        let refusal = Refusal::new("area-unknown", format!("the area `{}` is not in areas.yaml", clip(area)));
        return item.refuse(refusal.help(format!("write one of: {}", names.join(", "))));
    }
    item.entries()?.read(|member, item| indication(area, &member.key, item, reading, stocked))
}

fn indication(
    area: &str,
    name: &str,
    item: Item<'_, '_, '_>,
    reading: &FileReading<'_>,
    stocked: Option<&[Stocked]>,
) -> Option<Indication> {
    let origin = reading.own_origin(item.node());
    if name.chars().any(char::is_uppercase) {
        let refusal = Refusal::new("name-not-small", format!("the indication `{}` has a capital", clip(name)));
        return item.refuse(refusal.help("write it in small letters: names are looked up without regard to capitals"));
    }
    let mut fields = item.fields()?;
    let dose_unit = fields.required("dose_unit", |typed| {
        let unit = DoseRateUnit::parse(typed.text())?;
        if unit.dose().kind() == UnitKind::Volume && unit.dose().per() == Per::Patient {
            let refusal = Refusal::new("dose-unit-is-a-rate", format!("{unit} is a rate of the driver, and no dose"));
            return Err(refusal.help("order it per kg (mL/kg/h), or as a mass or in units"));
        }
        Ok(unit)
    });
    let dosing_weights = dosing_weights(&mut fields, dose_unit);
    let body_surface = body_surface(&mut fields, dose_unit);
    let titrated_to_effect = fields.optional("titrated_to_effect", yes_or_no).unwrap_or(false);
    let strengths = strengths(&mut fields, stocked, dose_unit);
    let listed_only = fields.optional("listed_only", yes_or_no).unwrap_or(false);
    let weight = soft_hard(fields.item("weight"), reading, by(Quantity::<BodyMass>::parse), Quantity::value);
    let age = areas::age(&mut fields, reading);
    let phases = fields
        .required_item("phases")
        .and_then(Item::entries)
        .and_then(|list| list.read(|member, item| phase(&member.key, item, reading, dose_unit)));
    if phases.as_ref().is_some_and(Vec::is_empty) {
        fields
            .refuse("phases", Refusal::new("limit-empty", "no phase has limits").help("write at least `maintenance`"));
    }
    let has_bolus = fields.node("bolus").is_some();
    let bolus = fields.item("bolus").and_then(|item| bolus(item, reading));
    let by_surface = bolus.as_ref().is_some_and(|bolus| bolus.unit.per() == Per::SquareMetre);
    if by_surface && !matches!(body_surface, Some(Some(_))) {
        let refusal = Refusal::new("body-surface", "the bolus is per m2, and no formula is named for the body surface");
        fields.refuse("bolus", refusal.help("order the bolus per kg or per patient: only a dose per m2 has a formula"));
    }
    let flow = soft_hard(fields.item("flow"), reading, by(FlowRate::parse), FlowRate::value);
    let has_longest = fields.node("longest").is_some();
    let longest =
        fields.item("longest").and_then(|item| band(item, reading, by(Quantity::<Time>::parse), Quantity::value));
    let has_jump = fields.node("largest_jump").is_some();
    let largest_jump = fields.item("largest_jump").and_then(|item| largest_jump(item, reading));
    fields.no_others();
    if (has_jump && largest_jump.is_none()) || (has_bolus && bolus.is_none()) || (has_longest && longest.is_none()) {
        return None;
    }
    Some(Indication {
        area: area.to_owned(),
        name: name.to_owned(),
        dose_unit: dose_unit?,
        dosing_weights: dosing_weights?,
        body_surface: body_surface?,
        titrated_to_effect,
        strengths: strengths?,
        listed_only,
        weight: weight?,
        age: age?,
        phases: phases?,
        bolus,
        flow: flow?,
        longest,
        largest_jump,
        origin,
    })
}

/// `{times: 3, source: …}`: a factor above one.
fn largest_jump(item: Item<'_, '_, '_>, reading: &FileReading<'_>) -> Option<Ratio> {
    let mut fields = item.fields()?;
    let times = fields.required("times", times);
    let source = fields.required("source", |typed| reading.cited(typed));
    fields.no_others();
    source.and(times)
}

/// A factor above one.
pub(super) fn times(typed: &Typed<'_, '_>) -> Result<Ratio, Refusal> {
    let times = Number::parse(typed.text(), NumberForm::Dose)?.ratio();
    if times > Ratio::ONE {
        return Ok(times);
    }
    let refusal = Refusal::new("jump-too-small", "a jump of one times or less is no jump");
    Err(refusal.help("write by how many times a rate may be changed at once: 3"))
}

fn dosing_weights(fields: &mut Fields<'_, '_, '_>, unit: Option<DoseRateUnit>) -> Option<Vec<DosingWeight>> {
    let read = match fields.item("dosing_weights") {
        None => Vec::new(),
        Some(item) => {
            item.items()?.read(|item| item.text(word("dosing weight", DosingWeight::WORDS, DosingWeight::written)))?
        }
    };
    let per_kilogram = unit?.dose().per() == Per::Kilogram;
    if per_kilogram && read.is_empty() {
        let refusal =
            Refusal::new("dosing-weight-missing", "the dose is per kg, and no weight is named to count it by");
        fields.refuse("dosing_weights", refusal.help("write `dosing_weights: [actual]`, the usual one first"));
    }
    if !per_kilogram && !read.is_empty() {
        let refusal = Refusal::new("dosing-weight-unreachable", "the dose is not per kg, so no weight counts it");
        fields.refuse("dosing_weights", refusal.help("leave `dosing_weights` out"));
    }
    Some(read)
}

#[expect(clippy::option_option, reason = "refused, absent and present are three things")]
fn body_surface(fields: &mut Fields<'_, '_, '_>, unit: Option<DoseRateUnit>) -> Option<Option<SurfaceFormula>> {
    let written = fields
        .typed("body_surface", word("formula for the body surface", SurfaceFormula::WORDS, SurfaceFormula::written));
    let per_surface = unit?.dose().per() == Per::SquareMetre;
    if written.is_absent() == per_surface {
        let (message, help) = if per_surface {
            (
                "the dose is per m2, and no formula is named for the body surface",
                "write `body_surface: mosteller` or `du bois`",
            )
        } else {
            ("the dose is not per m2, so no body surface counts it", "leave `body_surface` out")
        };
        fields.refuse("body_surface", Refusal::new("body-surface", message).help(help));
    }
    Some(written.value())
}

fn strengths(
    fields: &mut Fields<'_, '_, '_>,
    stocked: Option<&[Stocked]>,
    unit: Option<DoseRateUnit>,
) -> Option<Vec<usize>> {
    const USUAL_MOST: usize = 2;
    let Some(stocked) = stocked else {
        // Nothing to look the keys up in: the list's own faults are said, and these fields are known all the same.
        let _ = (fields.node("strengths"), fields.node("more_than_two"));
        return None;
    };
    let kind = unit.map(|unit| unit.dose().kind());
    let find = |typed: &Typed<'_, '_>| {
        let key = plain(typed)?;
        let Some(index) = stocked.iter().position(|one| one.key == key) else {
            let keys: Vec<&str> = stocked.iter().map(|one| one.key.as_str()).collect();
            let refusal = Refusal::new(
                "strength-unknown",
                format!("the strength `{}` is not in this file's `strengths`", clip(&key)),
            );
            return Err(refusal.help(format!("write one of: {}", keys.join(", "))));
        };
        let held = stocked[index].amount_unit().kind();
        if kind.is_some_and(|kind| kind != UnitKind::Volume && kind != held) {
            let message = format!("the strength `{key}` counts {}, and the dose does not", held.described());
            return Err(
                Refusal::new("strength-wrong-kind", message).help("dose and strength must count the same thing")
            );
        }
        Ok(index)
    };
    let read =
        fields.required_item("strengths").and_then(Item::items).and_then(|items| items.read(|item| item.text(find)));
    let more = fields.optional("more_than_two", plain);
    let read = read?;
    if read.len() > USUAL_MOST && more.is_none() {
        let message = format!("{} strengths of one drug for one use are easily taken for each other", read.len());
        fields.refuse(
            "strengths",
            Refusal::new("strengths-too-many", message).help("name at most two, or say why with `more_than_two:`"),
        );
    }
    if read.len() <= USUAL_MOST && more.is_some() {
        let refusal = Refusal::new("setting-unreachable", "`more_than_two` explains more strengths than there are");
        fields.refuse("more_than_two", refusal.help("leave it out"));
    }
    if read.is_empty() {
        fields.refuse(
            "strengths",
            Refusal::new("strength-missing", "no strength is stocked for it")
                .help("name at least one key of `strengths`"),
        );
    }
    Some(read)
}

fn phase(
    name: &str,
    item: Item<'_, '_, '_>,
    reading: &FileReading<'_>,
    unit: Option<DoseRateUnit>,
) -> Option<(Phase, DoseLimits)> {
    let Some(phase) = Phase::written(name) else {
        let refusal = Refusal::new("word-unknown", format!("`{}` is not a phase that is known here", clip(name)));
        return item.refuse(refusal.help(format!("write one of: {}", Phase::WORDS.join(", "))));
    };
    let mut fields = item.fields()?;
    let in_unit = |typed: &Typed<'_, '_>| {
        let dose = DoseRate::parse(typed.text())?;
        match unit {
            Some(unit) if dose.unit() != unit => {
                let message = format!("the limit is in {}, and the dose unit here is {unit}", dose.unit());
                Err(Refusal::new("limit-in-another-unit", message).help(format!("write it in {unit}")))
            }
            _ => Ok(dose),
        }
    };
    let measure = |dose: DoseRate| dose.number().ratio();
    let usual = fields.required_item("usual").and_then(|item| band(item, reading, in_unit, measure));
    let soft = fields.required_item("soft").and_then(|item| band(item, reading, in_unit, measure));
    let hard = fields.required_item("hard").and_then(|item| band(item, reading, in_unit, measure));
    if let (Some(usual), Some(soft), Some(hard)) = (&usual, &soft, &hard) {
        check_sides(&mut fields, phase, usual, soft, hard);
        check_nested(&mut fields, ("usual", usual), ("soft", soft), measure);
        check_nested(&mut fields, ("soft", soft), ("hard", hard), measure);
        check_nested(&mut fields, ("usual", usual), ("hard", hard), measure);
    }
    fields.no_others();
    let (usual, soft, hard) = (usual?, soft?, hard?);
    Some((phase, DoseLimits { usual, beyond: SoftHard { soft: Some(soft), hard: Some(hard) } }))
}

/// Which sides must be there.
fn check_sides(
    fields: &mut Fields<'_, '_, '_>,
    phase: Phase,
    usual: &Band<DoseRate>,
    soft: &Band<DoseRate>,
    hard: &Band<DoseRate>,
) {
    let mut missing = |name, side: &str| {
        let refusal = Refusal::new("limit-missing", format!("`{name}` has no `{side}`"));
        fields.refuse(name, refusal.help(format!("write `{side}:` and its value")));
    };
    if usual.from.is_none() {
        missing("usual", "from");
    }
    if usual.to.is_none() {
        missing("usual", "to");
    }
    if soft.to.is_none() {
        missing("soft", "to");
    }
    if hard.to.is_none() {
        missing("hard", "to");
    }
    // The lint asks for the floor of the others, so that formularies of before they had one can be read.
    if soft.from.is_none() && !matches!(phase, Phase::Weaning | Phase::Load) {
        missing("soft", "from");
    }
}

fn bolus(item: Item<'_, '_, '_>, reading: &FileReading<'_>) -> Option<BolusLimits> {
    let mut fields = item.fields()?;
    let unit = fields.required("dose_unit", by(DoseUnit::parse));
    let in_unit = |typed: &Typed<'_, '_>| {
        let dose = BolusDose::parse(typed.text())?;
        match unit {
            Some(unit) if dose.unit() != unit => {
                let message = format!("the limit is in {}, and the bolus unit here is {unit}", dose.unit());
                Err(Refusal::new("limit-in-another-unit", message).help(format!("write it in {unit}")))
            }
            _ => Ok(dose),
        }
    };
    let measure = |dose: BolusDose| dose.number().ratio();
    let has_usual = fields.node("usual").is_some();
    let usual = fields.item("usual").and_then(|item| band(item, reading, in_unit, measure));
    let soft = fields.required_item("soft").and_then(|item| band(item, reading, in_unit, measure));
    let hard = fields.required_item("hard").and_then(|item| band(item, reading, in_unit, measure));
    let over =
        fields.required_item("over").and_then(|item| band(item, reading, by(Quantity::<Time>::parse), Quantity::value));
    if over.as_ref().is_some_and(|over| over.from.is_none()) {
        let refusal = Refusal::new("limit-missing", "`over` has no `from`: too fast is another dose");
        fields.refuse("over", refusal.help("write `from:` and the shortest time"));
    }
    for (name, limit) in [("soft", &soft), ("hard", &hard)] {
        if limit.as_ref().is_some_and(|limit| limit.to.is_none()) {
            fields.refuse(
                name,
                Refusal::new("limit-missing", format!("`{name}` has no `to`")).help("write `to:` and its value"),
            );
        }
    }
    if let (Some(soft), Some(hard)) = (&soft, &hard) {
        check_nested(&mut fields, ("soft", soft), ("hard", hard), measure);
    }
    if let (Some(usual), Some(soft)) = (&usual, &soft) {
        check_nested(&mut fields, ("usual", usual), ("soft", soft), measure);
    }
    fields.no_others();
    if has_usual && usual.is_none() {
        return None;
    }
    let (soft, hard) = (soft?, hard?);
    Some(BolusLimits { usual, beyond: SoftHard { soft: Some(soft), hard: Some(hard) }, over: over?, unit: unit? })
}
