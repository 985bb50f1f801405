//! What stands in `contained`: the patient, the weight, and the solution that was ordered.

use jiff::civil::Date;

use crate::document::{Fields, Item, Refusal};
use crate::quantity::{BodyMass, Quantity, Strength, parse_date};

use super::element::{boolean, codes, contained_reference, identifier, measured, refuse_modifiers};
use super::order::OrderedCode;

/// A contained resource under its name.
#[derive(Debug)]
pub(super) struct Contained {
    pub(super) name: String,
    pub(super) resource: Resource,
}

#[derive(Debug)]
pub(super) enum Resource {
    Patient { identifiers: Vec<String>, born: Option<Date> },
    Weight(Quantity<BodyMass>),
    Medication { codes: Vec<OrderedCode>, strength: Option<Strength> },
}

/// Body weight, measured or told.
const LOINC_WEIGHT: (&str, &str) = ("http://loinc.org", "29463-7");

pub(super) fn read(item: Item<'_, '_, '_>, text: &str) -> Option<Contained> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let kind = fields.required("resourceType", |typed| Ok(typed.text().to_owned()))?;
    let name = fields.required("id", |typed| Ok(typed.text().to_owned()));
    let resource = match &*kind {
        "Patient" => patient(&mut fields),
        "Observation" => weight(&mut fields, text),
        "Medication" => medication(&mut fields, text),
        _ => {
            let message = "only a Patient, an Observation and a Medication are read here";
            fields.refuse("resourceType", Refusal::new("order-contained-unknown", message).help("leave it out"));
            return None;
        }
    };
    fields.no_others();
    Some(Contained { name: name?, resource: resource? })
}

fn patient(fields: &mut Fields<'_, '_, '_>) -> Option<Resource> {
    for name in ["name", "gender", "active"] {
        let _ = fields.node(name);
    }
    let identifiers = fields.required_item("identifier").and_then(Item::items).and_then(|items| items.read(identifier));
    let born = fields.typed("birthDate", |typed| parse_date(typed.text()).map_err(Refusal::from));
    let refused = matches!(born, crate::document::Presence::Refused);
    Some(Resource::Patient { identifiers: identifiers.filter(|_| !refused)?, born: born.value() })
}

fn weight(fields: &mut Fields<'_, '_, '_>, text: &str) -> Option<Resource> {
    for name in ["subject", "effectiveDateTime", "category"] {
        let _ = fields.node(name);
    }
    let status = fields.required("status", |typed| match typed.text() {
        "final" | "amended" | "corrected" => Ok(()),
        _ => Err(Refusal::new("order-weight-not-final", "only a final, amended or corrected weight counts")
            .help("order with a weight that was measured and is final")),
    });
    let code = fields.required_item("code").and_then(codes).is_some_and(|codes| {
        let is_weight = codes.iter().any(|one| (one.system.as_str(), one.code.as_str()) == LOINC_WEIGHT);
        if !is_weight {
            let message = "this observation is no body weight (LOINC 29463-7)";
            fields.refuse("code", Refusal::new("order-observation-unknown", message).help("leave it out"));
        }
        is_weight
    });
    let weight = fields.required_item("valueQuantity").and_then(|item| measured(item, text));
    let weight = weight.and_then(|measured| {
        if !matches!(measured.unit.shown.as_str(), "kg" | "g") {
            let message = format!("the weight is in {}: only kg and g are taken", measured.unit.shown);
            fields.refuse("valueQuantity", Refusal::new("order-weight-unit", message).help("weigh in kg"));
            return None;
        }
        Quantity::<BodyMass>::parse(&measured.typed()).map_err(|no| fields.refuse("valueQuantity", no.into())).ok()
    });
    status?;
    code.then_some(())?;
    weight.map(Resource::Weight)
}

fn medication(fields: &mut Fields<'_, '_, '_>, text: &str) -> Option<Resource> {
    let _ = (fields.node("form"), fields.node("status"));
    let mut known = fields.required_item("code").and_then(codes);
    let parts = match fields.item("ingredient") {
        None => Some(Vec::new()),
        Some(item) => item.items().and_then(|items| items.read(|item| ingredient(item, text))),
    }?;
    let active: Vec<_> = parts.into_iter().filter(|part| part.is_active).collect();
    if active.len() > 1 {
        let message = "several active ingredients: an order here is one drug";
        let help = "mark what only dilutes with `isActive`: false";
        fields.refuse("ingredient", Refusal::new("order-ingredients-several", message).help(help));
        return None;
    }
    let strength = match active.into_iter().next() {
        Some(part) => {
            if let Some(known) = &mut known {
                known.extend(part.codes);
            }
            part.strength
        }
        None => None,
    };
    Some(Resource::Medication { codes: known?, strength })
}

struct Ingredient {
    is_active: bool,
    codes: Vec<OrderedCode>,
    strength: Option<Strength>,
}

fn ingredient(item: Item<'_, '_, '_>, text: &str) -> Option<Ingredient> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let is_active = match fields.item("isActive") {
        Some(item) => boolean(item, text)?,
        None => true,
    };
    let codes = match fields.item("itemCodeableConcept") {
        Some(item) => codes(item)?,
        None => Vec::new(),
    };
    let strength = match fields.item("strength") {
        Some(item) => Some(strength(item, text)?),
        None => None,
    };
    if is_active && strength.is_none() {
        let refusal = Refusal::new("order-strength-missing", "the active ingredient has no strength");
        fields.refuse("strength", refusal.help("write its `strength`, or leave `ingredient` out"));
        return None;
    }
    fields.no_others();
    Some(Ingredient { is_active, codes, strength })
}

/// An amount in a volume, each with its own number.
fn strength(item: Item<'_, '_, '_>, text: &str) -> Option<Strength> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let amount = fields.required_item("numerator").and_then(|item| measured(item, text));
    let volume = fields.required_item("denominator").and_then(|item| measured(item, text));
    let strength = amount.zip(volume).and_then(|(amount, volume)| {
        let typed = format!("{} in {}", amount.typed(), volume.typed());
        Strength::parse_label(&typed).map_err(|no| fields.refuse("numerator", no.into())).ok()
    });
    fields.no_others();
    strength
}

/// The one resource of a kind that a reference names; each may be named once, and each must be.
pub(super) struct Shelf {
    items: Vec<(Contained, bool)>,
}

impl Shelf {
    pub(super) fn new(items: Vec<Contained>) -> Self {
        Self { items: items.into_iter().map(|item| (item, false)).collect() }
    }

    /// Names that stand twice.
    pub(super) fn doubled(&self) -> Option<&str> {
        let mut names: Vec<&str> = self.items.iter().map(|(item, _)| item.name.as_str()).collect();
        names.sort_unstable();
        names.windows(2).find(|pair| pair[0] == pair[1]).map(|pair| pair[0])
    }

    /// What nothing points to.
    pub(super) fn unused(&self) -> Option<usize> {
        self.items.iter().position(|(_, used)| !used)
    }

    /// The resource that this reference names, as `read` takes it.
    pub(super) fn take<T>(&mut self, item: Item<'_, '_, '_>, read: impl Fn(&Resource) -> Option<T>) -> Option<T> {
        let name = {
            let named = item.node().member("reference").and_then(|member| crate::document::Typed::of(&member.node));
            named.and_then(|typed| typed.text().strip_prefix('#')).map(str::to_owned)
        };
        let Some(name) = name else {
            contained_reference(item);
            return None;
        };
        let found = self.items.iter_mut().find(|(item, _)| item.name == name);
        let taken = found.and_then(|(item, used)| {
            *used = true;
            read(&item.resource)
        });
        match taken {
            Some(taken) => contained_reference(item).map(|_| taken),
            None => {
                let message = "what this points to is not in `contained`, or is something else";
                item.refuse(Refusal::new("order-reference-lost", message).help("put the resource into `contained`"))
            }
        }
    }
}
