//! What an electronic order can know, held against an entry by the same meaning as a second entry.

use crate::entry::{Access, AgeGiven, Identifiers};
use crate::fhir::{Ordered, OrderedAccess, OrderedRate};
use crate::infusion::Computed;
use crate::quantity::parse_date;

use super::compared::{drug, fits};

/// An order beside an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OrderCompared {
    /// The fields that the order says something of, in the order of the form.
    pub compared: Vec<&'static str>,
    /// Those of them that it says otherwise.
    pub differ: Vec<OrderDifference>,
}

/// A field that an order says otherwise, with what both say: for two people who have nothing left to read alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OrderDifference {
    /// The field.
    pub field: &'static str,
    /// In words.
    pub says: String,
}

/// Holds an order against an entry. `ordered_drug` is the drug that its codes name.
#[must_use]
pub fn compare_order(ordered: &Ordered, ordered_drug: &str, computed: &Computed<'_>) -> OrderCompared {
    let entry = computed.entry();
    let mut held = OrderCompared { compared: Vec::new(), differ: Vec::new() };
    let mut hold = |field: &'static str, same: bool, says: String| {
        held.compared.push(field);
        if !same {
            held.differ.push(OrderDifference { field, says: format!("{field}: {says}") });
        }
    };
    hold("identifiers", is_the_patient(ordered, &entry.patient().identifiers), "it names another patient".to_owned());
    if let Some(weight) = ordered.weight {
        let entered = entry.patient().weight;
        hold("weight", entered == weight, format!("you {entered}, the order {weight}"));
    }
    if let (Some(born), Some(age)) = (ordered.born, entry.patient().age) {
        let same = match age {
            AgeGiven::Born(entered) => entered == born,
            AgeGiven::Aged(age) => fits(born, age, computed),
        };
        hold("born", same, "it says another date of birth".to_owned());
    }
    let entered = drug(computed);
    hold("drug", entered == ordered_drug, format!("you {entered}, the order {ordered_drug}"));
    let range = entry.titration();
    match ordered.rate {
        OrderedRate::At(rate) => {
            hold("dose", entry.dose().same_as(rate), format!("you {}, the order {rate}", entry.dose()));
            hold("titrate", range.is_none(), "you a range, the order one dose".to_owned());
        }
        OrderedRate::Range(low, high) => {
            let same = range.is_some_and(|range| range.from.same_as(low) && range.to.same_as(high));
            let entered = match range {
                Some(range) => format!("{} to {}", range.from, range.to),
                None => format!("one dose, {}", entry.dose()),
            };
            hold("titrate", same, format!("you {entered}, the order {low} to {high}"));
        }
    }
    if let Some(strength) = ordered.strength {
        let label = entry.label();
        hold("label", label.content == strength, format!("you {}, the order {strength}", label.content));
    }
    if let Some(access) = ordered.access {
        let (same, word) = match access {
            OrderedAccess::Central => (entry.access() == Access::Central, "central"),
            OrderedAccess::Peripheral => (entry.access() == Access::Peripheral, "peripheral"),
        };
        hold("access", same, format!("you {}, the order {word}", entry.access()));
    }
    held
}

/// Whether the order is for this patient: one of its identifiers was entered, and a day of birth among those entered is
/// the order's.
fn is_the_patient(ordered: &Ordered, entered: &Identifiers) -> bool {
    let Identifiers::Known(entered) = entered else { return false };
    let (of_order, folded) = (Identifiers::folded(&ordered.identifiers), Identifiers::folded(entered));
    let days = entered.iter().filter_map(|one| parse_date(one).ok());
    let born_agrees = ordered.born.is_none_or(|born| days.into_iter().all(|day| day == born));
    born_agrees && of_order.iter().any(|one| folded.contains(one))
}
