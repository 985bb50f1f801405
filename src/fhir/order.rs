//! A `MedicationRequest` that orders one infusion of one drug at one rate.

use jiff::civil::Date;

use crate::diagnostic::Fault;
use crate::document::{ENTRY_LIMIT, Fields, Item, Path, Refusal, read_json};
use crate::quantity::{BodyMass, DoseRate, Moment, Quantity, Strength, UnitKind, clip};

use super::contained::{self, Resource, Shelf};
use super::element::{boolean, codes, exactly, identifier, measured, measured_as, refuse_modifiers};

/// What an order says, and nothing that it leaves out.
#[derive(Debug, Clone)]
pub struct Ordered {
    /// Its name where it was written.
    pub id: String,
    /// Its version there.
    pub version: String,
    /// When it was written.
    pub written_at: Moment,
    /// Who ordered.
    pub prescriber: String,
    /// Identifiers of the patient.
    pub identifiers: Vec<String>,
    /// The patient's date of birth, where it says one.
    pub born: Option<Date>,
    /// Codes of the drug.
    pub codes: Vec<OrderedCode>,
    /// The dose rate, or the range in which it is titrated.
    pub rate: OrderedRate,
    /// The strength of the solution, where it says one.
    pub strength: Option<Strength>,
    /// The weight that it was written for, where it says one.
    pub weight: Option<Quantity<BodyMass>>,
    /// Through what kind of vein, where it says so.
    pub access: Option<OrderedAccess>,
}

/// A code, its system, and what the order calls it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OrderedCode {
    /// The code system.
    pub system: String,
    /// The code.
    pub code: String,
    /// The words beside it: they name nothing, and may contradict it.
    pub display: Option<String>,
}

/// How much in which time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderedRate {
    /// One dose rate.
    At(DoseRate),
    /// To be titrated between two.
    Range(DoseRate, DoseRate),
}

/// Through what kind of vein.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderedAccess {
    /// A central one.
    Central,
    /// A peripheral one.
    Peripheral,
}

const SNOMED: &str = "http://snomed.info/sct";
/// Intravenous route, which says nothing of the vein.
const INTRAVENOUS: &str = "47625008";
const INTRAVENOUS_CENTRAL: &str = "418114005";
const INTRAVENOUS_PERIPHERAL: &str = "419993007";

/// Reads an order. Every fault of it is given at once, each with its path.
///
/// # Errors
/// The faults.
pub fn read_order(text: &str) -> Result<Ordered, Vec<Fault>> {
    let mut faults = Vec::new();
    let root = read_json(text, ENTRY_LIMIT, &mut faults);
    let ordered = root.as_ref().and_then(|root| read(Item::of(root, Path::Root, &mut faults), text));
    match ordered {
        Some(ordered) if faults.is_empty() => Ok(ordered),
        _ => Err(faults),
    }
}

fn read(item: Item<'_, '_, '_>, text: &str) -> Option<Ordered> {
    let mut fields = item.fields()?;
    exactly(
        &mut fields,
        "resourceType",
        "MedicationRequest",
        "order-resource",
        "send one MedicationRequest of FHIR R4, not a Bundle around it",
    );
    refuse_modifiers(&mut fields);
    for name in ["identifier", "language", "category", "priority", "encounter", "recorder", "priorPrescription"] {
        let _ = fields.node(name);
    }
    let id = fields.required("id", |typed| Ok(typed.text().to_owned()));
    let version = fields.required_item("meta").and_then(version);
    exactly(&mut fields, "status", "active", "order-status", "an order that is not active is not carried out");
    exactly(&mut fields, "intent", "order", "order-intent", "a plan or a proposal is no order");
    if let Some(item) = fields.item("doNotPerform") {
        do_not_perform(item, text);
    }
    if let Some(item) = fields.item("text") {
        let message = "a narrative is a second writing of the order, and may say something else";
        item.refuse::<()>(Refusal::new("order-narrative", message).help("send the order without `text`"));
    }
    let written_at = fields.required("authoredOn", |typed| Moment::parse(typed.text()).map_err(Refusal::from));
    let prescriber = fields.required_item("requester").and_then(requester);
    let shelf = match fields.item("contained") {
        None => Some(Vec::new()),
        Some(item) => item.items().and_then(|items| items.read(|item| contained::read(item, text))),
    };
    let has_contained = shelf.is_some();
    let mut shelf = Shelf::new(shelf.unwrap_or_default());
    // What is wrong with a contained resource is said there; that nothing leads to it follows.
    let patient = has_contained.then(|| patient(&mut fields, &mut shelf)).flatten();
    let drug = has_contained.then(|| drug(&mut fields, &mut shelf)).flatten();
    let weight = match has_contained.then(|| fields.item("supportingInformation")).flatten() {
        Some(item) => weight(item, &mut shelf),
        None => Some(None),
    };
    for name in ["subject", "medicationReference", "medicationCodeableConcept", "supportingInformation"] {
        let _ = fields.node(name);
    }
    let all_led_to = patient.is_some() && drug.is_some() && weight.is_some();
    if let Some(twice) = shelf.doubled() {
        let message = format!("two contained resources are called `{}`", clip(twice));
        fields.refuse("contained", Refusal::new("order-contained-twice", message).help("give each a name of its own"));
    } else if let Some(unused) = shelf.unused().filter(|_| all_led_to) {
        let message = format!("nothing in the order points to the contained resource {}", unused + 1);
        let help = "point to it, or leave it out: a weight is pointed to by `supportingInformation`";
        fields.refuse("contained", Refusal::new("order-contained-unused", message).help(help));
    }
    let (codes, strength) = drug.map_or((None, None), |(codes, strength)| (Some(codes), strength));
    let dosages = fields.required_item("dosageInstruction").and_then(Item::items).map(|items| {
        let count = items.len();
        (count, items.read(|item| dosage(item, text, strength, weight.flatten())))
    });
    if let Some((count, _)) = dosages.as_ref().filter(|(count, _)| *count != 1) {
        let message = format!("{count} dosages: an order here is one");
        let help = "order a bolus, a load or a second rate on its own";
        fields.refuse("dosageInstruction", Refusal::new("order-dosages", message).help(help));
    }
    let dosage = dosages.and_then(|(_, read)| read?.pop());
    fields.no_others();
    let (identifiers, born) = patient?;
    let (rate, access) = dosage?;
    Some(Ordered {
        id: id?,
        version: version?,
        written_at: written_at?,
        prescriber: prescriber?,
        identifiers,
        born,
        codes: codes?,
        rate,
        strength,
        weight: weight?,
        access,
    })
}

fn version(item: Item<'_, '_, '_>) -> Option<String> {
    let mut fields = item.fields()?;
    for name in ["lastUpdated", "profile", "source", "tag", "security"] {
        let _ = fields.node(name);
    }
    let version = fields.required("versionId", |typed| Ok(typed.text().to_owned()));
    fields.no_others();
    version
}

fn do_not_perform(item: Item<'_, '_, '_>, text: &str) {
    if text.get(item.node().range.clone()) == Some("true") {
        let message = "this orders that something is not given";
        item.refuse::<()>(Refusal::new("order-not-to-give", message).help("only what is to be given is read here"));
    } else {
        boolean(item, text);
    }
}

fn requester(item: Item<'_, '_, '_>) -> Option<String> {
    let mut fields = item.fields()?;
    for name in ["reference", "type", "identifier"] {
        let _ = fields.node(name);
    }
    let name = fields.required("display", |typed| Ok(typed.text().trim().to_owned()));
    fields.no_others();
    name
}

type PatientSaid = (Vec<String>, Option<Date>);

fn patient(fields: &mut Fields<'_, '_, '_>, shelf: &mut Shelf) -> Option<PatientSaid> {
    let item = fields.required_item("subject")?;
    let said = if item.node().member("identifier").is_some() {
        let mut fields = item.fields()?;
        let _ = (fields.node("type"), fields.node("display"));
        let value = fields.required_item("identifier").and_then(identifier);
        fields.no_others();
        (vec![value?], None)
    } else {
        shelf.take(item, |resource| match resource {
            Resource::Patient { identifiers, born } => Some((identifiers.clone(), *born)),
            _ => None,
        })?
    };
    if said.0.is_empty() {
        let refusal = Refusal::new("order-patient-missing", "the order names nobody");
        fields.refuse("subject", refusal.help("write an identifier of the patient"));
        return None;
    }
    Some(said)
}

type DrugSaid = (Vec<OrderedCode>, Option<Strength>);

fn drug(fields: &mut Fields<'_, '_, '_>, shelf: &mut Shelf) -> Option<DrugSaid> {
    let by_code = fields.item("medicationCodeableConcept").map(codes);
    let by_reference = fields.item("medicationReference").map(|item| {
        shelf.take(item, |resource| match resource {
            Resource::Medication { codes, strength } => Some((codes.clone(), *strength)),
            _ => None,
        })
    });
    match (by_code, by_reference) {
        (Some(codes), None) => Some((codes?, None)),
        (None, Some(resource)) => resource,
        (both, _) => {
            let says = if both.is_some() { "the drug is named twice" } else { "the order names no drug" };
            let help = "write `medicationCodeableConcept`, or `medicationReference` to a contained Medication";
            fields.refuse("medicationCodeableConcept", Refusal::new("order-drug-missing", says).help(help));
            None
        }
    }
}

/// None where it was refused.
fn weight(item: Item<'_, '_, '_>, shelf: &mut Shelf) -> Option<Option<Quantity<BodyMass>>> {
    let is_one = matches!(&item.node().value, crate::document::Value::List(all) if all.len() == 1);
    if !is_one {
        let message = "`supportingInformation` is the one weight that the order was written for";
        return item.refuse(Refusal::new("order-supporting", message).help("point to one contained body weight"));
    }
    let weights = item.items()?.read(|item| {
        shelf.take(item, |resource| match resource {
            Resource::Weight(weight) => Some(*weight),
            _ => None,
        })
    });
    weights.map(|weights| weights.first().copied())
}

type DosageSaid = (OrderedRate, Option<OrderedAccess>);

fn dosage(
    item: Item<'_, '_, '_>,
    text: &str,
    strength: Option<Strength>,
    weight: Option<Quantity<BodyMass>>,
) -> Option<DosageSaid> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let _ = (fields.node("id"), fields.node("sequence"));
    for misplaced in ["rateQuantity", "rateRatio", "rateRange", "doseQuantity"] {
        if let Some(item) = fields.item(misplaced) {
            let message = format!("`{misplaced}` stands in `doseAndRate` in R4, and is not read here");
            item.refuse::<()>(Refusal::new("order-rate-misplaced", message).help("move it into `doseAndRate`"));
        }
    }
    let access = route(&mut fields);
    let rate = fields.required_item("doseAndRate").and_then(|item| {
        let is_one = matches!(&item.node().value, crate::document::Value::List(all) if all.len() == 1);
        if !is_one {
            let message = "an order here is one rate, in one `doseAndRate`";
            return item.refuse(Refusal::new("order-rates", message).help("order each rate on its own"));
        }
        item.items()?.read(|item| dose_and_rate(item, text))?.pop()
    });
    if let Some(rate) = rate {
        let _ = fields.optional("text", |typed| text_agrees(typed.text(), rate, strength, weight));
    } else {
        let _ = fields.node("text");
    }
    fields.no_others();
    Some((rate?, access?))
}

/// None where it was refused.
fn route(fields: &mut Fields<'_, '_, '_>) -> Option<Option<OrderedAccess>> {
    let Some(item) = fields.item("route") else { return Some(None) };
    let codes = codes(item)?;
    let mut access = Vec::new();
    let mut is_other = false;
    for one in codes.iter().filter(|one| one.system == SNOMED) {
        match &*one.code {
            INTRAVENOUS => access.push(None),
            INTRAVENOUS_CENTRAL => access.push(Some(OrderedAccess::Central)),
            INTRAVENOUS_PERIPHERAL => access.push(Some(OrderedAccess::Peripheral)),
            _ => is_other = true,
        }
    }
    let mut said: Vec<OrderedAccess> = access.iter().copied().flatten().collect();
    said.dedup();
    if access.is_empty() || is_other || said.len() > 1 {
        let says = if access.is_empty() { "this is no intravenous route" } else { "two routes are ordered" };
        let help = "write one SNOMED CT code: 47625008, 418114005 (central) or 419993007 (peripheral)";
        fields.refuse("route", Refusal::new("order-route", says).help(help));
        return None;
    }
    Some(said.pop())
}

fn dose_and_rate(item: Item<'_, '_, '_>, text: &str) -> Option<OrderedRate> {
    let mut fields = item.fields()?;
    let _ = (fields.node("id"), fields.node("type"));
    for name in ["doseQuantity", "doseRange"] {
        if let Some(item) = fields.item(name) {
            let message = "a dose beside a rate is a second order: which of them runs?";
            item.refuse::<()>(Refusal::new("order-dose-and-rate", message).help("order the rate alone"));
        }
    }
    let quantity = fields.item("rateQuantity").map(|item| rate_quantity(item, text));
    let ratio = fields.item("rateRatio").map(|item| rate_ratio(item, text));
    let range = fields.item("rateRange").map(|item| rate_range(item, text));
    let given = [quantity.is_some(), ratio.is_some(), range.is_some()].into_iter().filter(|given| *given).count();
    if given != 1 {
        let says = if given == 0 { "no rate is ordered" } else { "more than one rate is ordered" };
        let help = "write one of `rateQuantity`, `rateRatio` and `rateRange`";
        fields.refuse("rateQuantity", Refusal::new("order-rates", says).help(help));
    }
    fields.no_others();
    if given != 1 {
        return None;
    }
    quantity.or(ratio).map_or(range.flatten(), |one| one.map(OrderedRate::At))
}

fn rate_quantity(item: Item<'_, '_, '_>, text: &str) -> Option<DoseRate> {
    measured_as(item, text, |measured| dose_rate(&measured.typed()))
}

fn rate_ratio(item: Item<'_, '_, '_>, text: &str) -> Option<DoseRate> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let amount = fields.required_item("numerator").and_then(|item| measured(item, text));
    let time = fields.required_item("denominator").and_then(|item| measured(item, text));
    let rate = amount.zip(time).and_then(|(amount, time)| {
        if time.value != "1" || !matches!(time.unit.shown.as_str(), "min" | "h") {
            let message = format!("a rate per {} is not taken", clip(&time.typed()));
            fields.refuse("denominator", Refusal::new("order-rate-per", message).help("write it per 1 min or per 1 h"));
            return None;
        }
        let typed = format!("{}/{}", amount.typed(), time.unit.shown);
        dose_rate(&typed).map_err(|refusal| fields.refuse("numerator", refusal)).ok()
    });
    fields.no_others();
    rate
}

fn rate_range(item: Item<'_, '_, '_>, text: &str) -> Option<OrderedRate> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let low = fields.required_item("low").and_then(|item| rate_quantity(item, text));
    let high = fields.required_item("high").and_then(|item| rate_quantity(item, text));
    let range = low.zip(high).and_then(|(low, high)| {
        let of_one_kind = (low.unit().dose().kind(), low.unit().dose().per())
            == (high.unit().dose().kind(), high.unit().dose().per());
        if of_one_kind && low.amount_per_hour() < high.amount_per_hour() {
            return Some(OrderedRate::Range(low, high));
        }
        let message = format!("the range goes from {low} to {high}");
        let help = "write the smaller rate in `low`, and both in units of one kind";
        fields.refuse("low", Refusal::new("order-range", message).help(help));
        None
    });
    fields.no_others();
    range
}

fn dose_rate(typed: &str) -> Result<DoseRate, Refusal> {
    let rate = DoseRate::parse_displayed(typed).map_err(|no| Refusal { range: 0..usize::MAX, ..Refusal::from(no) })?;
    if rate.unit().dose().kind() == UnitKind::Volume {
        let message = format!("{rate} is a volume in a time: it says no dose");
        let help = "order an amount of the drug in a time: ug/kg/min, mg/h, [IU]/h";
        return Err(Refusal::new("order-rate-is-volume", message).help(help));
    }
    Ok(rate)
}

/// Every number of a text beside the rate is one that the order says with its unit: a text is what a person reads.
fn text_agrees(
    words: &str,
    rate: OrderedRate,
    strength: Option<Strength>,
    weight: Option<Quantity<BodyMass>>,
) -> Result<(), Refusal> {
    let known = |part: &str| {
        let rates = match rate {
            OrderedRate::At(rate) => [rate, rate],
            OrderedRate::Range(low, high) => [low, high],
        };
        DoseRate::parse_displayed(part).is_ok_and(|said| rates.iter().any(|rate| rate.same_as(said)))
            || strength.is_some_and(|strength| Strength::parse_label(part).is_ok_and(|said| said == strength))
            || weight.is_some_and(|weight| Quantity::<BodyMass>::parse(part).is_ok_and(|said| said == weight))
    };
    for (at, part) in numbers_with_units(words) {
        if !known(part) {
            let message = format!("the text says `{}`, and nothing else of the order does", clip(part));
            let help = "correct the order where it was written, or send it without the text";
            return Err(Refusal::new("order-text-contradicts", message).help(help).at(at..at + part.len()));
        }
    }
    Ok(())
}

/// Each number of a text with the word after it.
fn numbers_with_units(words: &str) -> Vec<(usize, &str)> {
    let mut parts = Vec::new();
    let mut from = 0;
    while let Some(start) = words[from..].find(|c: char| c.is_ascii_digit()).map(|at| from + at) {
        let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
        let number_end = words[start..].find(|c| !is_number(c)).map_or(words.len(), |at| start + at);
        let unit_start = words[number_end..].find(|c: char| c != ' ').map_or(words.len(), |at| number_end + at);
        let unit_end = words[unit_start..].find([' ', ',', ';', '\n', ')']).map_or(words.len(), |at| unit_start + at);
        let part = words[start..unit_end].trim_end_matches(['.', ':']);
        parts.push((start, part));
        from = unit_end.max(number_end);
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::numbers_with_units;

    #[test]
    fn a_text_is_taken_apart_into_its_numbers() {
        let parts = numbers_with_units("0.08 mcg/kg/min for 84.2 kg; then 5mg/h, 3.");
        let parts: Vec<&str> = parts.into_iter().map(|(_, part)| part).collect();
        assert_eq!(parts, ["0.08 mcg/kg/min", "84.2 kg", "5mg/h", "3"]);
    }
}
