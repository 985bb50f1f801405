//! One drug file.

use std::sync::Arc;

use crate::diagnostic::Fault;
use crate::document::{Entries, Fields, Item, Node, Path, Refusal, Typed};
use crate::formulary::area::Area;
use crate::formulary::drug::{Accepted, Drug, Exception, Review, Stocked};
use crate::formulary::limits::{Band, SoftHard};
use crate::formulary::words::{Microgram, ThroughTheLine};
use crate::quantity::{Quantity, Strength, Time, clip, parse_date};

use super::{FileReading, by, equivalents, indication, plain, strengths, texts, word, yes_or_no};

pub(in crate::formulary) fn read(
    root: &Node<'_>,
    reading: &mut FileReading<'_>,
    areas: &[Area],
    faults: &mut Vec<Fault>,
) -> Option<Drug> {
    let mut fields = Fields::of(root, Path::Root, faults)?;
    cite(fields.entries("sources").value(), reading);
    let reading = &*reading;
    let name = fields.required("drug", small);
    let other_names = match fields.item("other_names") {
        None => Some(Vec::new()),
        Some(item) => item.items().and_then(|items| items.read(|item| item.text(small))),
    };
    let looks_like = texts(fields.item("looks_like"));
    let codes = match fields.item("codes") {
        None => Some(Vec::new()),
        Some(item) => item.items().and_then(|items| items.read(|item| item.text(code))),
    };
    let class = fields.required("class", plain);
    let high_alert = fields.optional("high_alert", yes_or_no).unwrap_or(false);
    let controlled = fields.optional("controlled", yes_or_no).unwrap_or(false);
    let vasoactive = fields.optional("vasoactive", yes_or_no).unwrap_or(false);
    let in_the_line =
        fields.optional("in_the_line", word("way through a line", ThroughTheLine::WORDS, ThroughTheLine::written));
    let amounts_as = fields.optional("amounts_as", plain);
    let microgram =
        fields.required("mass_shown_as", word("way of writing micrograms", Microgram::WORDS, Microgram::written));
    let life = fields.required_item("life_after_drawing_up").and_then(|item| life(item, reading));
    let review = fields.required_item("review").and_then(|item| review(item, reading));
    let stocked =
        fields.required_item("strengths").and_then(Item::entries).and_then(|list| strengths::read(list, reading));
    let equivalents = match fields.item("equivalents") {
        None => Some(Vec::new()),
        Some(item) => item.entries().and_then(|list| equivalents::read(list, stocked.as_deref(), reading)),
    };
    let peripheral = peripheral(fields.item("peripheral_maximum"), reading);
    let accepted = accepted(fields.item("accepted"));
    let exceptions = exceptions(fields.item("exceptions"));
    let known = stocked.as_deref();
    check_peripheral(&mut fields, peripheral.as_ref(), known);
    let indications = fields
        .required_item("areas")
        .and_then(Item::entries)
        .and_then(|list| list.read(|member, item| indication::read_area(&member.key, item, reading, areas, known)))
        .map(|areas| areas.into_iter().flatten().collect::<Vec<_>>());
    if let (Some(stocked), Some(indications)) = (&stocked, &indications) {
        for (index, one) in stocked.iter().enumerate() {
            if !indications.iter().any(|indication| indication.strengths.contains(&index)) {
                let message = format!("no indication uses the strength `{}`: it can never be chosen", one.key);
                fields.refuse(
                    "strengths",
                    Refusal::new("strength-unused", message).help("name it under an indication, or take it away"),
                );
            }
        }
        check_doubled(&mut fields, stocked);
    }
    for key in reading.cited.keys() {
        if !reading.used.borrow().contains(key) {
            let message = format!("nothing in this file rests on the source `{key}`");
            fields.refuse(
                "sources",
                Refusal::new("source-unused", message).help("name it beside a value, or take it away"),
            );
        }
    }
    fields.no_others();
    let (life, life_origin) = life?;
    Some(Drug {
        name: name?,
        file: reading.file.to_string(),
        other_names: other_names?,
        looks_like: looks_like?,
        codes: codes?,
        class: class?,
        high_alert,
        controlled,
        vasoactive,
        in_the_line,
        amounts_as,
        microgram: microgram?,
        life,
        life_origin,
        review: review?,
        equivalents: equivalents?,
        strengths: stocked?,
        peripheral_maximum: peripheral?,
        indications: indications?,
        accepted: accepted?,
        exceptions: exceptions?,
    })
}

/// `accepted`: remarks that the pharmacist has judged, each with the reason why it may stand.
fn accepted(item: Option<Item<'_, '_, '_>>) -> Option<Vec<Accepted>> {
    let Some(item) = item else { return Some(Vec::new()) };
    item.entries()?.read(|member, item| Some(Accepted { code: member.key.to_string(), reason: item.text(plain)? }))
}

/// `exceptions`: errors of the lint, each with its field, a name and a reason.
fn exceptions(item: Option<Item<'_, '_, '_>>) -> Option<Vec<Exception>> {
    let Some(item) = item else { return Some(Vec::new()) };
    item.items()?.read(|item| {
        let mut fields = item.fields()?;
        let [code, at, value, by, why] = ["code", "at", "value", "by", "why"].map(|name| fields.required(name, plain));
        fields.no_others();
        Some(Exception { code: code?, at: at?, value: value?, by: by?, why: why? })
    })
}

/// A code by which another program names the drug: its code system, a bar, and the code.
fn code(typed: &Typed<'_, '_>) -> Result<String, Refusal> {
    let text = plain(typed)?;
    let is_system = |system: &str| ["http://", "https://", "urn:"].iter().any(|begin| system.starts_with(begin));
    let no_blank = !text.contains(char::is_whitespace);
    match text.split_once('|') {
        Some((system, code)) if is_system(system) && !code.is_empty() && !code.contains('|') && no_blank => Ok(text),
        _ => {
            let message = format!("`{}` is not a code system, a bar and a code", clip(&text));
            let help = "write the address of the system and the code: \"http://www.whocc.no/atc|C01CA03\"";
            Err(Refusal::new("drug-code-form", message).help(help))
        }
    }
}

/// A name by which a drug is looked up: typed names are compared in small letters, with single spaces.
fn small(typed: &Typed<'_, '_>) -> Result<String, Refusal> {
    let name = plain(typed)?;
    let small = name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    if name == small {
        return Ok(name);
    }
    let refusal = Refusal::new("name-not-small", format!("`{}` would never be found", clip(&name)));
    Err(refusal.help(format!("write `{small}`: names are looked up in small letters, with single spaces")))
}

/// Reads the file's sources, so that values can name them.
fn cite(entries: Option<Entries<'_, '_, '_>>, reading: &mut FileReading<'_>) {
    let Some(entries) = entries else { return };
    let _ = entries.read(|member, item| {
        let mut fields = item.fields()?;
        let title = fields.required("title", plain);
        let section = fields.optional("section", plain);
        let year = fields.optional("year", plain);
        fields.no_others();
        let parts = [title, section, year];
        let shown = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
        reading.cited.insert(member.key.to_string(), Arc::from(shown));
        Some(())
    });
}

fn life(
    item: Item<'_, '_, '_>,
    reading: &FileReading<'_>,
) -> Option<(Quantity<Time>, crate::formulary::limits::Origin)> {
    let node = item.node();
    let mut fields = item.fields()?;
    let time = fields.required("time", by(Quantity::<Time>::parse));
    let source = fields.required("source", |typed| reading.cited(typed));
    fields.no_others();
    Some((time?, reading.origin(node, source?)))
}

fn review(item: Item<'_, '_, '_>, reading: &FileReading<'_>) -> Option<Review> {
    let origin = reading.own_origin(item.node());
    let mut fields = item.fields()?;
    let by_day = fields.required("by", by(parse_date));
    let justify_from = fields.required("justify_from", by(parse_date));
    if let (Some(first), Some(second)) = (by_day, justify_from)
        && second < first
    {
        let refusal = Refusal::new("review-out-of-order", "a reason is asked for before the review is due");
        fields.refuse("justify_from", refusal.help("write a day that is not before `by`"));
    }
    fields.no_others();
    Some(Review { by: by_day?, justify_from: justify_from?, origin })
}

/// `{soft, hard, source}`: the strongest solution, each side one value.
fn peripheral(item: Option<Item<'_, '_, '_>>, reading: &FileReading<'_>) -> Option<SoftHard<Strength>> {
    let Some(item) = item else { return Some(SoftHard::NONE) };
    let node = item.node();
    let mut fields = item.fields()?;
    let soft = fields.typed("soft", by(Strength::parse));
    let hard = fields.typed("hard", by(Strength::parse));
    let source = fields.required("source", |typed| reading.cited(typed));
    if soft.is_absent() && hard.is_absent() {
        let refusal = Refusal::new("limit-empty", "a maximum without `soft` and without `hard` limits nothing");
        fields.refuse("hard", refusal.help("write at least one of them, or leave the maximum out"));
    }
    let (soft, hard) = (soft.value(), hard.value());
    if let (Some(soft), Some(hard)) = (soft, hard)
        && soft.concentration().per_ml > hard.concentration().per_ml
    {
        let refusal = Refusal::new("limits-out-of-order", "the soft maximum is above the hard one");
        fields.refuse("soft", refusal.help("write the weaker solution in `soft`"));
    }
    fields.no_others();
    let origin = reading.origin(node, source?);
    let to = |strength: Option<Strength>| {
        strength.map(|to| Band::new(None, Some(to), origin.clone(), |limit: Strength| limit.concentration().per_ml))
    };
    Some(SoftHard { soft: to(soft), hard: to(hard) })
}

/// A maximum that counts another thing than the strengths do would never be reached.
fn check_peripheral(
    fields: &mut Fields<'_, '_, '_>,
    maximum: Option<&SoftHard<Strength>>,
    stocked: Option<&[Stocked]>,
) {
    let (Some(maximum), Some(stocked)) = (maximum, stocked) else { return };
    for most in [&maximum.soft, &maximum.hard].into_iter().flatten().filter_map(|band| band.to) {
        let kind = most.concentration().kind;
        if !stocked.iter().any(|one| one.amount_unit().kind() == kind) {
            let message = format!("the maximum of {most} counts {}, and no strength does", kind.described());
            let refusal = Refusal::new("strength-wrong-kind", message);
            fields.refuse("peripheral_maximum", refusal.help("write it in the unit of the strengths"));
            return;
        }
    }
}

fn check_doubled(fields: &mut Fields<'_, '_, '_>, stocked: &[Stocked]) {
    let one = crate::quantity::Ratio::ONE;
    for (index, first) in stocked.iter().enumerate() {
        for second in &stocked[index + 1..] {
            let same_kind = first.is_per_kilogram() == second.is_per_kilogram();
            if same_kind
                && first.concentration(one) == second.concentration(one)
                && first.to_string() == second.to_string()
            {
                let message = format!("`{}` and `{}` are the same strength", first.key, second.key);
                fields.refuse("strengths", Refusal::new("strength-doubled", message).help("keep one of them"));
            }
        }
    }
}
