//! `equipment.yaml`: containers, lines, drivers.

use crate::diagnostic::Fault;
use crate::document::{Fields, Item, Node, Path, Refusal, Value};
use crate::formulary::equipment::{
    Container, ContainerKind, Driver, DriverKind, Equipment, Line, LineKind, RATE, StepBand,
};
use crate::quantity::{FlowRate, Length, Quantity, Volume, clip};

use super::{by, plain, texts, word};

/// Which version of its form a file was written for: the form asks for more than it once did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::formulary) enum FormVersion {
    /// The present one.
    Current,
    /// Perhaps an earlier one: the file was kept with the set-ups that were made by it.
    Earlier,
}

pub(in crate::formulary) fn read(root: &Node<'_>, version: FormVersion, faults: &mut Vec<Fault>) -> Option<Equipment> {
    let mut fields = Fields::of(root, Path::Root, faults)?;
    let containers = fields
        .required_item("containers")
        .and_then(Item::entries)
        .and_then(|entries| entries.read(|member, item| container(&member.key, item)));
    let lines = fields
        .required_item("lines")
        .and_then(Item::entries)
        .and_then(|entries| entries.read(|member, item| line(&member.key, item)));
    let known = containers.as_deref();
    let drivers = fields
        .required_item("drivers")
        .and_then(Item::entries)
        .and_then(|entries| entries.read(|member, item| driver(&member.key, item, known, version)));
    fields.no_others();
    Some(Equipment { containers: containers?, lines: lines?, drivers: drivers? })
}

fn container(key: &str, item: Item<'_, '_, '_>) -> Option<Container> {
    let mut fields = item.fields()?;
    let kind = fields.required("kind", word("kind of container", ContainerKind::WORDS, ContainerKind::written));
    let size = fields.required("size", by(Quantity::<Volume>::parse));
    let usable = fields.required("usable", by(Quantity::<Volume>::parse));
    let stays_behind = fields.required("stays_behind", by(Quantity::<Volume>::parse_or_zero));
    if let (Some(size), Some(usable)) = (size, usable)
        && usable.value() > size.value()
    {
        let refusal = Refusal::new("container-overfull", format!("more is usable ({usable}) than it holds ({size})"));
        fields.refuse("usable", refusal.help("write the most that may be filled in, at most its size"));
    }
    if let (Some(usable), Some(stays_behind)) = (usable, stays_behind)
        && stays_behind.value() >= usable.value()
    {
        let refusal = Refusal::new("container-holds-nothing", "all of the usable volume stays behind");
        fields.refuse("stays_behind", refusal.help("write the volume that cannot be pushed out"));
    }
    fields.no_others();
    Some(Container { key: key.to_owned(), kind: kind?, size: size?, usable: usable?, stays_behind: stays_behind? })
}

fn line(key: &str, item: Item<'_, '_, '_>) -> Option<Line> {
    let mut fields = item.fields()?;
    let kind = fields.required("kind", word("kind of line", LineKind::WORDS, LineKind::written));
    let length = fields.required("length", by(Quantity::<Length>::parse));
    let priming_volume = fields.required("priming_volume", by(Quantity::<Volume>::parse));
    fields.no_others();
    Some(Line { key: key.to_owned(), kind: kind?, length: length?, priming_volume: priming_volume? })
}

fn driver(key: &str, item: Item<'_, '_, '_>, containers: Option<&[Container]>, version: FormVersion) -> Option<Driver> {
    let mut fields = item.fields()?;
    let kind = fields.required("kind", word("kind of driver", DriverKind::WORDS, DriverKind::written));
    let accepts = fields
        .required_item("accepts")
        .and_then(Item::items)
        .and_then(|items| items.read(|item| item.text(|typed| accepted(&plain(typed)?, kind, containers))));
    let smallest = fields.required("smallest_rate", by(FlowRate::parse));
    let largest = fields.required("largest_rate", by(FlowRate::parse));
    let steps = fields.required_item("steps").and_then(|item| match item.node().value {
        Value::List(_) => item.items()?.read(step_band),
        _ => item.refuse(Refusal::new("field-not-list", "`steps` is a list of bands").help(BANDS)),
    });
    let bolus_rate = fields.required("bolus_rate", by(FlowRate::parse));
    let shows = match version {
        FormVersion::Current => shows(&mut fields),
        FormVersion::Earlier => texts(fields.item("shows")),
    };
    if let (Some(smallest), Some(largest), Some(steps)) = (smallest, largest, &steps) {
        check_steps(&mut fields, smallest, largest, steps);
    }
    fields.no_others();
    Some(Driver {
        key: key.to_owned(),
        kind: kind?,
        accepts: accepts?,
        smallest: smallest?,
        largest: largest?,
        steps: steps?,
        bolus_rate: bolus_rate?,
        shows: shows?,
    })
}

/// What a read-back asks for: the rate at least.
fn shows(fields: &mut Fields<'_, '_, '_>) -> Option<Vec<String>> {
    let shows = texts(Some(fields.required_item("shows")?))?;
    if !shows.iter().any(|value| value == RATE) {
        let refusal = Refusal::new("shows-no-rate", "the rate is not among what this driver shows");
        fields
            .refuse("shows", refusal.help("write `rate` too: every read-back holds it against the card or the record"));
        return None;
    }
    Some(shows)
}

fn accepted(key: &str, kind: Option<DriverKind>, containers: Option<&[Container]>) -> Result<String, Refusal> {
    let Some(containers) = containers else { return Ok(key.to_owned()) };
    let Some(container) = containers.iter().find(|container| container.key == key) else {
        let refusal = Refusal::new("equipment-unknown", format!("the container `{}` is not in this file", clip(key)));
        return Err(refusal.help("write a key of `containers`"));
    };
    let fits = match kind {
        Some(DriverKind::SyringeDriver) => container.kind == ContainerKind::Syringe,
        Some(DriverKind::VolumetricPump) => container.kind == ContainerKind::Bag,
        None => true,
    };
    if !fits {
        let refusal = Refusal::new(
            "driver-does-not-take-container",
            format!("a {} does not go into this kind of driver", container.kind),
        );
        return Err(refusal.help("a syringe driver takes syringes, a volumetric pump takes bags"));
    }
    Ok(key.to_owned())
}

const BANDS: &str = "write each band in a line of its own: `- {up_to: 99.9 mL/h, step: 0.1 mL/h}`";

fn step_band(item: Item<'_, '_, '_>) -> Option<StepBand> {
    if !matches!(item.node().value, Value::Map(_)) {
        return item.refuse(Refusal::new("field-not-map", "this is no band of `steps`").help(BANDS));
    }
    let mut fields = item.fields()?;
    let up_to = fields.required("up_to", by(FlowRate::parse));
    let step = fields.required("step", by(FlowRate::parse));
    fields.no_others();
    Some(StepBand { up_to: up_to?, step: step? })
}

fn check_steps(fields: &mut Fields<'_, '_, '_>, smallest: FlowRate, largest: FlowRate, steps: &[StepBand]) {
    let mut refuse =
        |name, message: &str, help: &str| fields.refuse(name, Refusal::new("driver-steps", message).help(help));
    if smallest.value() >= largest.value() {
        refuse("smallest_rate", "the smallest rate is not below the largest", "write the smaller rate here");
    }
    if !steps.windows(2).all(|pair| pair[0].up_to.value() < pair[1].up_to.value()) {
        refuse("steps", "the bands are not in rising order: a later one can never be reached", "sort them by `up_to`");
    }
    if steps.last().is_none_or(|last| last.up_to.value() != largest.value()) {
        refuse("steps", "the last band does not end at the largest rate", "let its `up_to` be the largest rate");
    }
    let whole =
        |band: &StepBand| band.up_to.value().over(band.step.value()).is_ok_and(|steps| steps.denominator() == 1);
    if !steps.iter().all(whole) {
        refuse(
            "steps",
            "a band does not end at a whole number of its steps",
            "let each `up_to` be a multiple of its `step`",
        );
    }
}
