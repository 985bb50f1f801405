//! The elements that resources are made of: numbers as written, quantities, codes and references.

use crate::document::{Fields, Item, Refusal, Value};
use crate::quantity::clip;

use super::order::OrderedCode;
use super::ucum::{self, Coded};

/// A number with its unit, as the order writes both.
#[derive(Debug)]
pub(super) struct Measured<'t> {
    /// The digits as written.
    pub(super) value: &'t str,
    pub(super) unit: Coded,
}

impl Measured<'_> {
    /// As a person would type it.
    pub(super) fn typed(&self) -> String {
        format!("{} {}", self.value, self.unit.shown)
    }
}

/// The digits of a JSON number as they stand in the text: `0.080` states a precision.
pub(super) fn decimal<'t>(item: Item<'_, '_, '_>, text: &'t str) -> Option<&'t str> {
    let node = item.node();
    let written = text.get(node.range.clone()).unwrap_or_default();
    match node.value {
        Value::Bare if written.contains(['e', 'E']) && !matches!(written, "true" | "false") => {
            let message = format!("`{}` is a number with an exponent", clip(written));
            item.refuse(Refusal::new("order-number-form", message).help("write the number in full: 0.08"))
        }
        Value::Bare if written.starts_with(|c: char| c.is_ascii_digit()) => Some(written),
        Value::Bare => {
            let message = format!("`{}` is no number above zero", clip(written));
            item.refuse(Refusal::new("order-number-form", message).help("write a number above zero"))
        }
        Value::Text(_) => {
            let message = "a number stands in quotes: FHIR writes it bare, and a text may hold anything";
            item.refuse(Refusal::new("order-number-form", message).help("take the quotes away"))
        }
        _ => item.refuse(Refusal::new("order-number-form", "a number is expected here").help("write a number")),
    }
}

/// `true` or `false`.
pub(super) fn boolean(item: Item<'_, '_, '_>, text: &str) -> Option<bool> {
    match text.get(item.node().range.clone()) {
        Some("true") => Some(true),
        Some("false") => Some(false),
        _ => {
            item.refuse(Refusal::new("order-not-boolean", "this is neither true nor false").help("write true or false"))
        }
    }
}

/// A word that must stand exactly so.
pub(super) fn exactly(
    fields: &mut Fields<'_, '_, '_>,
    name: &'static str,
    wanted: &'static str,
    code: &'static str,
    why: &'static str,
) -> Option<()> {
    fields.required(name, |typed| {
        if typed.text() == wanted {
            return Ok(());
        }
        let message = format!("`{name}` is `{}`, and only `{wanted}` is taken", clip(typed.text()));
        Err(Refusal::new(code, message).help(why))
    })
}

/// Refuses an element that would change what the order means, wherever it stands.
pub(super) fn refuse_modifiers(fields: &mut Fields<'_, '_, '_>) {
    for name in ["modifierExtension", "implicitRules"] {
        if let Some(item) = fields.item(name) {
            let message = format!("`{name}` changes what the rest means, and nobody here knows how");
            item.refuse::<()>(Refusal::new("order-modified", message).help("write the order without it"));
        }
    }
}

/// A Quantity with a UCUM code of the table.
pub(super) fn measured<'t>(item: Item<'_, '_, '_>, text: &'t str) -> Option<Measured<'t>> {
    measured_as(item, text, Ok)
}

/// The same, as something that `read` makes of it; what it refuses stands at the number.
pub(super) fn measured_as<'t, T>(
    item: Item<'_, '_, '_>,
    text: &'t str,
    read: impl FnOnce(Measured<'t>) -> Result<T, Refusal>,
) -> Option<T> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let _ = fields.node("id");
    let value = fields.required_item("value").and_then(|item| decimal(item, text));
    if let Some(item) = fields.item("comparator") {
        let message = "`comparator` makes a bound of the number, and an order is one number";
        item.refuse::<()>(Refusal::new("order-comparator", message).help("order the number itself"));
    }
    exactly(
        &mut fields,
        "system",
        ucum::SYSTEM,
        "order-unit-system",
        "units are UCUM codes: http://unitsofmeasure.org",
    );
    let code = fields.required("code", |typed| ucum::read_code(typed.text()));
    let unit = match &code {
        Some(code) => fields.typed("unit", |typed| ucum::read_unit(typed.text(), code)),
        None => fields.typed("unit", |_| Ok(())),
    };
    let refused = matches!(unit, crate::document::Presence::Refused);
    let measured = value.zip(code.filter(|_| !refused)).map(|(value, unit)| Measured { value, unit });
    let read = measured.and_then(|measured| read(measured).map_err(|refusal| fields.refuse("value", refusal)).ok());
    fields.no_others();
    read
}

/// The codes of a CodeableConcept. Its text and displays name nothing; a display is kept to be held against the code.
pub(super) fn codes(item: Item<'_, '_, '_>) -> Option<Vec<OrderedCode>> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let _ = (fields.node("id"), fields.node("text"));
    let codes = fields.required_item("coding").and_then(Item::items).and_then(|items| {
        items.read(|item| {
            let mut fields = item.fields()?;
            refuse_modifiers(&mut fields);
            let _ = (fields.node("id"), fields.node("version"), fields.node("userSelected"));
            let system = fields.required("system", |typed| Ok(typed.text().to_owned()));
            let code = fields.required("code", |typed| Ok(typed.text().to_owned()));
            let display = fields.optional("display", |typed| Ok(typed.text().to_owned()));
            fields.no_others();
            Some(OrderedCode { system: system?, code: code?, display })
        })
    });
    if codes.as_ref().is_some_and(Vec::is_empty) {
        let refusal = Refusal::new("order-code-missing", "no code stands here, and a text names nothing");
        fields.refuse("coding", refusal.help("write the code, with its system"));
    }
    fields.no_others();
    codes.filter(|codes| !codes.is_empty())
}

/// The value of the one identifier here.
pub(super) fn identifier(item: Item<'_, '_, '_>) -> Option<String> {
    let mut fields = item.fields()?;
    refuse_modifiers(&mut fields);
    let _ = (fields.node("id"), fields.node("system"), fields.node("type"), fields.node("use"));
    let value = fields.required("value", |typed| Ok(typed.text().trim().to_owned()));
    fields.no_others();
    value
}

/// The name of a contained resource that a reference points to.
pub(super) fn contained_reference(item: Item<'_, '_, '_>) -> Option<String> {
    let mut fields = item.fields()?;
    let _ = (fields.node("type"), fields.node("display"));
    let name = fields.required("reference", |typed| match typed.text().strip_prefix('#') {
        Some(name) if !name.is_empty() => Ok(name.to_owned()),
        _ => {
            let message = "this points outside the order, and nothing is fetched from elsewhere";
            let help = "put the resource into `contained`, and point to it with `#` and its id";
            Err(Refusal::new("order-reference-outside", message).help(help))
        }
    });
    fields.no_others();
    name
}
