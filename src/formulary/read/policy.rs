//! `formulary.yaml`: what the formulary says of itself, and every threshold.

use crate::diagnostic::Fault;
use crate::document::{Fields, Item, Node, Path, Refusal};
use crate::formulary::policy::Policy;
use crate::quantity::{Percent, Quantity, Ratio, Time, Volume, parse_date};

use super::indication::times;
use super::{FileReading, FormVersion, by, count, plain, texts, yes_or_no};

pub(in crate::formulary) fn read(
    root: &Node<'_>,
    reading: &FileReading<'_>,
    form: FormVersion,
    faults: &mut Vec<Fault>,
) -> Option<Policy> {
    let mut fields = Fields::of(root, Path::Root, faults)?;
    let title = fields.required("title", plain);
    let version = fields.required("version", plain);
    let demonstration = fields.required("demonstration", yes_or_no);
    let issued = fields.required("issued", by(parse_date));
    let thresholds = match fields.item("policy") {
        Some(item) => thresholds(item, reading, form),
        None => {
            let help = "`countersign formulary new` writes a folder with all of them: copy `policy` from there, and change its values";
            fields.refuse(
                "policy",
                Refusal::new("field-missing", "`policy`, the rules of the house, is missing").help(help),
            );
            None
        }
    };
    fields.no_others();
    let (title, version, demonstration, issued) = (title?, version?, demonstration?, issued?);
    Some(Policy { title, version, demonstration, issued, ..thresholds? })
}

/// A strength that is further off is not the recipe's (common practice, no source).
const MOST_OFF: u64 = 10;

fn thresholds(item: Item<'_, '_, '_>, reading: &FileReading<'_>, version: FormVersion) -> Option<Policy> {
    let origin = reading.own_origin(item.node());
    let mut fields = item.fields()?;
    let rounding = fields.required_item("rounding").and_then(|item| {
        let mut fields = item.fields()?;
        let note = fields.required("note_above", by(Percent::parse));
        let justify = fields.required("justify_above", by(Percent::parse));
        if let (Some(note), Some(justify)) = (note, justify)
            && note.value() > justify.value()
        {
            let refusal = Refusal::new("limits-out-of-order", "a reason is asked for before a note is made");
            fields.refuse("note_above", refusal.help("write the smaller percentage in `note_above`"));
        }
        fields.no_others();
        Some((note?, justify?))
    });
    let smallest_drawn_up = fields.required("smallest_drawn_up", by(Quantity::<Volume>::parse));
    let slow_arrival = fields.required("slow_arrival", by(Quantity::<Time>::parse));
    let late_alarm = match version {
        FormVersion::Current => fields.required("late_alarm", by(Quantity::<Time>::parse)).map(Some),
        FormVersion::Earlier => Some(fields.optional("late_alarm", by(Quantity::<Time>::parse))),
    };
    let next_syringe_times = fields.optional("next_syringe_times", times);
    let per_kg_within = fields.required("per_kg_recipe_within", |typed| {
        let within = Percent::parse(typed.text())?;
        if within.value() > Ratio::whole(MOST_OFF) {
            let message = format!("{within} off a recipe is another strength");
            return Err(Refusal::new("percent-too-high", message).help(format!("write {MOST_OFF} % or less")));
        }
        Ok(within)
    });
    let review_near = fields.required("review_near", by(Quantity::<Time>::parse));
    let identifiers_needed = fields.required("identifiers_needed", |typed| match count(typed)? {
        0 => Err(Refusal::new("count-unknown", "a patient without identifiers is anybody").help("write 2 or more")),
        needed => Ok(needed),
    });
    let sealing_asks_pin = fields.optional("sealing_asks_pin", yes_or_no).unwrap_or(false);
    let clinical_reasons = texts(fields.item("clinical_reasons"));
    fields.no_others();
    let (rounding_note, rounding_justify) = rounding?;
    Some(Policy {
        title: String::new(),
        version: String::new(),
        demonstration: true,
        issued: jiff::civil::Date::ZERO,
        rounding_note,
        rounding_justify,
        smallest_drawn_up: smallest_drawn_up?,
        slow_arrival: slow_arrival?,
        late_alarm: late_alarm?,
        next_syringe_times,
        per_kg_within: per_kg_within?,
        review_near: review_near?,
        identifiers_needed: identifiers_needed?,
        sealing_asks_pin,
        clinical_reasons: clinical_reasons?,
        origin,
    })
}
