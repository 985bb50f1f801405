//! What a blocked line would do, as one row: by when the driver alarms, and what is set free when the block is released.

use crate::delivery::si::volume::millilitre;
use crate::delivery::statements::{time, volume};
use crate::delivery::{Blocked, Circumstances, DeliverySetUp, Purge};
use crate::infusion::rate::volume_of;
use crate::infusion::{Computed, Sum};
use crate::quantity::exact_or_about;

use super::block::FactRow;

/// Nothing where nothing is known of it.
pub(super) fn row(computed: &Computed<'_>, sum: &Sum) -> Option<FactRow> {
    let names = computed.names();
    let (container, line, driver) = (names.container?, names.line?, names.driver?);
    // As it is to be done: the driver pushed fluid through the line before it was connected.
    let how = Circumstances::of(computed, Purge::OnTheDriver);
    let blocked = Blocked::estimate(DeliverySetUp { container, line, driver, rate: sum.set }, &how).ok()?;
    let stored = blocked.largest_bolus().ok()?;
    let soft = names.indication.as_ref().ok().and_then(|one| one.bolus.as_ref()?.beyond.soft.as_ref()?.to);
    let most = soft.and_then(|dose| volume_of(dose, sum.body, Some(sum.strength)).ok());
    let beyond = most.filter(|most| stored.high().get::<millilitre>() > most.approximate());
    let beyond = beyond.map(|most| format!(", and the soft limit of a bolus is {} mL", exact_or_about(most)));
    // Why there is no time names a rate, and the card has one.
    let alarm = blocked.time_to_alarm();
    let alarm = alarm.map_or_else(
        |_| "time to the alarm not known".to_owned(),
        |alarm| format!("alarm after {}", time(&alarm).text),
    );
    let value = format!(
        "{alarm}; up to {} mL set free on release{}",
        volume(&stored).edges_as_text().1,
        beyond.unwrap_or_default()
    );
    Some(FactRow { key: "blocked".into(), label: "If the line is blocked".into(), value })
}
