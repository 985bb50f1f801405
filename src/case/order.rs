//! The electronic order of a set-up: sealed when it comes, read by nobody, and held against two entries that say the same.

use serde::{Deserialize, Serialize};

use crate::agreement::compare_order;
use crate::card::Blocks;
use crate::check::{Finding, OrderPassed, order_differs};
use crate::diagnostic::Source;
use crate::entry::Entry;
use crate::fhir::{Ordered, ordered_drug, read_order};
use crate::formulary::Formulary;
use crate::infusion::Computed;
use crate::quantity::Moment;

use super::Cases;
use super::code::{CaseCode, SetUpCode};
use super::decision::{Decision, Outcome, fields_named};
use super::enter::Task;
use super::error::{CaseError, refuse};
use super::list::Owed;
use super::state::{Case, Header, ORDER, Reading, SealedOrder};

/// The reason for an order that differs is written under this name.
const DIFFERS: &str = "order-differs";

/// What is inside a sealed order.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct OpenedOrder {
    /// As it was sent.
    order: String,
    /// The drug that its codes named then.
    drug: String,
}

/// An order as it was held against two entries.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OrderHeld {
    /// Its event.
    event: u64,
    /// What it is called where it was written, its version, and when that was.
    named: String,
    /// The fields that it says something of.
    #[serde(default)]
    compared: Vec<String>,
    /// The fields that it says otherwise.
    #[serde(default)]
    differ: Vec<String>,
    /// What both people and the order say of each: only where both have read it again.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    says: Option<String>,
    /// Whether this program cannot read it.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    unreadable: bool,
    /// Whether a newer order alone passes it.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    newer_needed: bool,
    /// What was read again since, and is not held against it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    not_since: Option<String>,
}

impl OrderHeld {
    /// The fields that it says otherwise, while both are still to read them again.
    pub(super) fn to_read_again(&self) -> Option<&[String]> {
        (self.says.is_none() && !self.differ.is_empty()).then_some(&*self.differ)
    }

    /// What both are shown who have read it again.
    pub(super) fn finding(&self) -> Option<Finding> {
        let says = self.says.as_deref()?;
        let field = fields_named(&self.differ).first().copied()?;
        let passed = if self.newer_needed { OrderPassed::ByNewerOrder } else { OrderPassed::ByReasons };
        Some(order_differs(field, says, passed))
    }

    /// The order as the card of a recount says it: it was held against the entries, not against what was read since.
    pub(super) fn before_a_recount(mut self, since: &[&str]) -> Self {
        self.compared.retain(|field| !since.contains(&&**field));
        self.not_since = Some(since.join(" and "));
        self
    }

    fn line(&self) -> String {
        let line = self.line_of_the_entries();
        match &self.not_since {
            Some(since) => format!("{line}; NOT COMPARED with the {since} read since"),
            None => line,
        }
    }

    fn line_of_the_entries(&self) -> String {
        match &self.says {
            _ if self.unreadable => format!("{}: cannot be read, and was not compared", self.named),
            Some(says) => format!("{}: DIFFERS: {says}", self.named),
            None => format!("{}: says the same: {}", self.named, self.compared.join(", ")),
        }
    }
}

impl Decision {
    /// The same with the order that it was held against, which its card says; else with why there was none.
    pub(super) fn with_order(mut self, held: Option<OrderHeld>, without: Option<&str>) -> Self {
        let line = held.as_ref().map(OrderHeld::line).or_else(|| without.map(str::to_owned));
        if let Some(line) = line {
            self.card = self.card.map(|card| Blocks::with_order(card, line));
        }
        self.order = held;
        self
    }
}

impl Cases {
    /// Seals an order that a program sent. Nobody reads it before two people agree.
    ///
    /// # Errors
    /// When it cannot be read, names no drug of this formulary, or contradicts an order that is here; each fault with its
    /// path, and nothing of what it says.
    pub fn seal_order(
        &mut self,
        (code, number): (CaseCode, Option<u16>),
        text: &str,
        formulary: &Formulary,
        now: Moment,
    ) -> Result<SetUpCode, CaseError> {
        let refused = |faults| {
            let mut source = Source::new("the order", text);
            source.withhold(0..text.len());
            CaseError::Form(vec![(source, faults)])
        };
        let ordered = read_order(text).map_err(refused)?;
        let drug = ordered_drug(&ordered, formulary).map_err(|fault| refused(vec![fault]))?;
        self.act(now, code, |case, _| {
            case.key()?;
            let number = case.number_for_an_order(number)?;
            let set_up = SetUpCode { case: code, number };
            if let Some(known) = case.orders.iter().rfind(|known| known.set_up == number) {
                let opened: OpenedOrder = case.open_order(known)?;
                // The same bytes once more are the answer that was lost on the way.
                if opened.order == text {
                    return Ok((Vec::new(), set_up));
                }
                if let Ok(before) = read_order(&opened.order) {
                    is_newer(&ordered, &before)?;
                }
            }
            let opened = OpenedOrder { order: text.to_owned(), drug };
            let header = Header { set_up: Some(number), ..Header::default() };
            Ok((vec![case.draft(ORDER, None, header, Some(&opened))?], set_up))
        })
    }
}

fn is_newer(ordered: &Ordered, before: &Ordered) -> Result<(), CaseError> {
    if ordered.id == before.id && ordered.version == before.version {
        let says = "an order of this name and version is here, and says something else";
        return Err(refuse("order-version-twice", says, "send the changed order with a version of its own"));
    }
    if ordered.written_at.is_before(before.written_at) {
        let says = "an order that was written later is here";
        return Err(refuse("order-older", says, "send the order that counts now"));
    }
    Ok(())
}

impl Case {
    fn number_for_an_order(&self, number: Option<u16>) -> Result<u16, CaseError> {
        let begun = u16::try_from(self.set_ups.len()).unwrap_or(u16::MAX);
        match number {
            Some(number) if (1..=begun.saturating_add(1)).contains(&number) => Ok(number),
            Some(number) => {
                let says = format!("case {} has no set-up {number}, and the next is {}", self.code, begun + 1);
                Err(refuse("set-up-unknown", says, "name the set-up that the order is for"))
            }
            None if begun <= 1 => Ok(1),
            None => {
                let says = format!("case {} has {begun} set-ups", self.code);
                Err(refuse("which-set-up", says, format!("write which one the order is for: {}/1", self.code)))
            }
        }
    }

    /// The order that counts for an entry: the last one that came before it.
    pub(super) fn order_before(&self, set_up: u16, seq: u64) -> Option<&SealedOrder> {
        self.orders.iter().rfind(|order| order.set_up == set_up && order.seq < seq)
    }

    /// Orders that came after two people had agreed: nobody has held them against anything.
    pub(super) fn owed_by_orders(&self) -> Result<Vec<Owed>, CaseError> {
        let mut owed = Vec::new();
        for set_up in &self.set_ups {
            let Some(latest) = set_up.latest() else { continue };
            let standing = self.standing_of_entries(latest);
            let open = set_up.record.is_empty() || set_up.is_running_by_the_record()?;
            let came = self.order_before(set_up.code.number, u64::MAX).filter(|order| order.seq > standing.since);
            if let Some(order) = came.filter(|_| open && standing.stage.is_settled()) {
                let says = format!(
                    "an electronic order for {} came at {}, after the entries; two people read it again: \
                     `countersign case enter {} --anew`",
                    set_up.code,
                    order.at.local(),
                    set_up.code
                );
                owed.push(Owed { code: "order", says });
            }
        }
        Ok(owed)
    }

    /// The order that the entries of the round before were held against.
    pub(super) fn order_beside(&self, task: &Task) -> Option<OrderHeld> {
        let reading = self.set_up(task.set_up.number).ok()?.reading(task.reading)?;
        reading.decisions.last()?.decision.as_ref().ok()?.order.clone()
    }

    /// The order that a decision was held against.
    pub(super) fn order_of(&self, decision: &Decision) -> Option<&SealedOrder> {
        let held = decision.order.as_ref()?;
        self.orders.iter().find(|order| order.seq == held.event)
    }

    /// Holds an order against an entry; `again` says whether both have read again what it says otherwise.
    pub(super) fn hold_order(
        &self,
        order: &SealedOrder,
        again: bool,
        computed: &Computed<'_>,
    ) -> Result<OrderHeld, CaseError> {
        let opened: OpenedOrder = self.open_order(order)?;
        let Ok(ordered) = read_order(&opened.order) else {
            return Ok(OrderHeld {
                event: order.seq,
                named: format!("order of {}", order.at.local()),
                compared: Vec::new(),
                differ: Vec::new(),
                says: None,
                unreadable: true,
                newer_needed: false,
                not_since: None,
            });
        };
        let held = compare_order(&ordered, &opened.drug, computed);
        let fields: Vec<String> = held.differ.iter().map(|one| one.field.to_owned()).collect();
        let another = ["identifiers", "born", "drug"].iter().any(|name| fields.iter().any(|field| field == name));
        let high_alert = computed.names().drug.as_ref().is_ok_and(|drug| drug.high_alert);
        let says: Vec<String> = held.differ.into_iter().map(|one| one.says).collect();
        Ok(OrderHeld {
            event: order.seq,
            named: format!("order {}, version {}, of {}", ordered.id, ordered.version, ordered.written_at.local()),
            compared: held.compared.into_iter().map(str::to_owned).collect(),
            newer_needed: !fields.is_empty() && (another || high_alert),
            differ: fields,
            says: (again && !says.is_empty()).then(|| says.join("; ")),
            unreadable: false,
            not_since: None,
        })
    }
}

impl Reading {
    /// Whether both have read again what this order says otherwise.
    pub(super) fn has_read_again(&self, order: &SealedOrder, before: u64) -> bool {
        self.decisions.iter().filter(|decided| decided.after < before).any(|decided| {
            let decision = decided.decision.as_ref().ok();
            let differed = |decision: &Decision| {
                let held = decision.order.as_ref().filter(|held| held.event == order.seq);
                matches!(decision.outcome, Outcome::OrderDiffers(_)) || held.is_some_and(|held| held.says.is_some())
            };
            decision.is_some_and(|decision| {
                decision.order.as_ref().is_some_and(|held| held.event == order.seq) && differed(decision)
            })
        })
    }
}

/// A reason for an order that differs names the prescriber who was asked.
pub(super) fn names_the_prescriber(entry: &Entry) -> Result<(), CaseError> {
    let Some(reason) = entry.reason(DIFFERS) else { return Ok(()) };
    let after = reason.to_lowercase().split_once("prescriber").map(|(_, after)| after.trim().to_owned());
    if after.is_some_and(|after| after.chars().filter(|c| c.is_alphabetic()).count() > 1) {
        return Ok(());
    }
    let says = "the reason for an order that differs names no prescriber";
    Err(refuse(
        "order-reason-without-prescriber",
        says,
        "ask the prescriber, and write `prescriber`, the name, and why",
    ))
}
