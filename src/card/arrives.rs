//! When the drug reaches the patient. In: a computed entry; out: its block, with its assumptions, or why nothing
//! is said.

use crate::delivery::statements::{Beside, Range, taken_for_granted, told};
use crate::delivery::{Assumption, Circumstances, Delivery, DeliverySetUp, NotModelled, Purge};
use crate::infusion::{Computed, Sum};
use crate::quantity::Ratio;

use super::block::{Arrives, Band, Block, Reached};

/// What the steps of the card ask for, and the estimate rests on.
const PURGED: &str = "the driver was run until fluid came, before the line was connected";
/// What holds unless the formulary says otherwise of a drug.
const DISSOLVED: &str =
    "the drug is dissolved and its molecules are small: no emulsion, no protein, nothing that is lost to plastic";
const ALONE: &str = "no other driver, carrier, valve, filter or air in the line";

/// Nothing where the line or the driver is unknown, or nothing flows.
pub(super) fn block(computed: &Computed<'_>, sum: &Sum) -> Option<Block> {
    let names = computed.names();
    let (Some(container), Some(line), Some(driver)) = (names.container, names.line, names.driver) else { return None };
    let delivery = Delivery::of(
        DeliverySetUp { container, line, driver, rate: sum.set },
        &Circumstances::of(computed, Purge::OnTheDriver),
    )
    .ok()?;
    let mut all = told(&delivery, &Beside::default());
    all.retain(|one| one.key == "earliest" || one.key.starts_with("arrived-"));
    // Each of these keys is always among the statements.
    let range = |key| {
        let found = all.iter().find(|one| one.key == key);
        found.map_or(Err(NotModelled::LineEmpty), |one| one.answer.clone())
    };
    let share = |percent, key| range(key).map(|range| reached(percent, &range));
    let band = range("earliest").and_then(|earliest| {
        Ok(Band {
            earliest: reached(0, &earliest),
            shares: [share(5, "arrived-5")?, share(50, "arrived-50")?, share(95, "arrived-95")?],
        })
    });
    let assumed = if band.is_ok() { said(taken_for_granted(&all)) } else { Vec::new() };
    Some(Block::Arrives(Box::new(Arrives { band: band.map_err(why), assumed })))
}

/// The card has one number in mL/h, and a reason must not bring another.
fn why(reason: NotModelled) -> String {
    match reason {
        NotModelled::SlowLargeSyringe => {
            "a large syringe at so low a rate sticks and slips: for hours, far less than the rate was measured"
                .to_owned()
        }
        NotModelled::SlowStart => {
            "a large syringe at so low a rate: no steady flow was measured within 60 min of a start".to_owned()
        }
        reason => reason.to_string(),
    }
}

/// Said in full: how it is prepared, and what is not meant; then what the estimates note themselves.
fn said(noted: Vec<Assumption>) -> Vec<String> {
    let noted = noted.into_iter().filter(|one| *one != Assumption::SmallMolecules).map(|one| one.to_string());
    [PURGED, ALONE, DISSOLVED].map(str::to_owned).into_iter().chain(noted).collect()
}

/// In whole seconds, outwards: finer than anybody sees on paper.
fn reached(percent: u8, range: &Range) -> Reached {
    let hours = |seconds: u64| Ratio::new(seconds.into(), 3600).unwrap_or(Ratio::ZERO);
    let (from, to) = range.whole_edges();
    Reached { percent, from: hours(from), to: hours(to), says: range.text.clone() }
}
