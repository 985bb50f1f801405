//! Electronic orders: what is read of one, and what becomes of it in a case.

mod request;

use crate::common::house::House;

/// An order of noradrenaline as a program sends it, with everything that is read of one.
pub(crate) const ORDER: &str = include_str!("noradrenaline.json");

/// The order with one text in it replaced, which stands there once.
#[track_caller]
pub(crate) fn ordered_with(from: &str, to: &str) -> String {
    assert_eq!(ORDER.matches(from).count(), 1, "{from:?} stands once in the order");
    ORDER.replace(from, to)
}

/// The demonstration with codes of two drugs, by which orders name them. `high_alert` says what noradrenaline is there.
pub(crate) fn house_with_codes(high_alert: bool) -> House {
    let codes = |drug: &str, code: &str| format!("drug: {drug}\ncodes: [\"http://www.whocc.no/atc|{code}\"]");
    House::new()
        .change("drugs/noradrenaline.yaml", "drug: noradrenaline", &codes("noradrenaline", "C01CA03"))
        .change("drugs/noradrenaline.yaml", "high_alert: true", &format!("high_alert: {high_alert}"))
        .change("drugs/adrenaline.yaml", "drug: adrenaline", &codes("adrenaline", "C01CA24"))
}
