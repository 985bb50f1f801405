//! `areas.yaml`: places of work, with their patients and their usual equipment.

use crate::diagnostic::Fault;
use crate::document::{Item, Node, Path, Refusal};
use crate::formulary::area::{Area, StandardEquipment};
use crate::formulary::equipment::Equipment;
use crate::formulary::limits::Band;
use crate::quantity::{Age, BodyMass, Quantity, Time, clip};

use super::{FileReading, by, plain, soft_hard};

pub(in crate::formulary) fn read(
    root: &Node<'_>,
    reading: &FileReading<'_>,
    equipment: &Equipment,
    faults: &mut Vec<Fault>,
) -> Option<Vec<Area>> {
    Item::of(root, Path::Root, faults).entries()?.read(|member, item| area(&member.key, item, reading, equipment))
}

fn area(name: &str, item: Item<'_, '_, '_>, reading: &FileReading<'_>, equipment: &Equipment) -> Option<Area> {
    if name.chars().any(char::is_uppercase) {
        let refusal = Refusal::new("name-not-small", format!("the area `{}` has a capital", clip(name)));
        return item.refuse(refusal.help("write it in small letters: names are looked up without regard to capitals"));
    }
    let mut fields = item.fields()?;
    let weight = soft_hard(fields.item("weight"), reading, by(Quantity::<BodyMass>::parse), Quantity::value);
    let age = age(&mut fields, reading);
    let standard = fields.required_item("standard_equipment").and_then(|item| standard(item, equipment));
    let expires = fields.required("unstarted_entry_expires", by(Quantity::<Time>::parse));
    fields.no_others();
    Some(Area {
        name: name.to_owned(),
        weight: weight?,
        age: age?,
        standard: standard?,
        unstarted_entry_expires: expires?,
    })
}

/// Reads `age: {from, to}`: who a setting is meant for needs no published source. Outer nothing: refused.
#[expect(clippy::option_option, reason = "refused, absent and present are three things")]
pub(super) fn age(
    fields: &mut crate::document::Fields<'_, '_, '_>,
    reading: &FileReading<'_>,
) -> Option<Option<Band<Age>>> {
    let Some(item) = fields.item("age") else { return Some(None) };
    let origin = reading.own_origin(item.node());
    let mut fields = item.fields()?;
    let from = fields.typed("from", by(Age::parse));
    let to = fields.typed("to", by(Age::parse));
    if from.is_absent() && to.is_absent() {
        fields.refuse(
            "to",
            Refusal::new("limit-empty", "an age without `from` and without `to` limits nothing")
                .help("write one of them"),
        );
    }
    let (from, to) = (from.value(), to.value());
    if let (Some(low), Some(high)) = (from, to)
        && low.days() > high.days()
    {
        fields.refuse(
            "from",
            Refusal::new("limits-out-of-order", "`from` is more than `to`").help("write the smaller age in `from`"),
        );
    }
    fields.no_others();
    Some(Some(Band::new(from, to, origin, Age::days)))
}

fn standard(item: Item<'_, '_, '_>, equipment: &Equipment) -> Option<StandardEquipment> {
    let mut fields = item.fields()?;
    let container = fields.required("container", |typed| {
        let key = plain(typed)?;
        if equipment.container(&key).is_some() { Ok(key) } else { Err(unknown("container", &key)) }
    });
    let line = fields.required("line", |typed| {
        let key = plain(typed)?;
        if equipment.line(&key).is_some() { Ok(key) } else { Err(unknown("line", &key)) }
    });
    let driver = fields.required("driver", |typed| {
        let key = plain(typed)?;
        if equipment.driver(&key).is_some() { Ok(key) } else { Err(unknown("driver", &key)) }
    });
    let (container, line, driver) = (container?, line?, driver?);
    let taken = equipment
        .container(&container)
        .zip(equipment.driver(&driver))
        .is_some_and(|(container, driver)| driver.takes(container));
    if !taken {
        let refusal = Refusal::new(
            "driver-does-not-take-container",
            format!("the driver `{driver}` does not take a `{container}`"),
        );
        fields.refuse("driver", refusal.help("name a driver whose `accepts` holds the container"));
    }
    fields.no_others();
    Some(StandardEquipment { container, line, driver })
}

fn unknown(what: &str, key: &str) -> Refusal {
    Refusal::new("equipment-unknown", format!("the {what} `{}` is not in equipment.yaml", clip(key)))
        .help("write a key of that file")
}
