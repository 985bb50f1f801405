//! The electronic order, sealed when it came, says something else than two people who agree, and did so when both had read it
//! again. Only then is it said what it says: nobody reads alone any more.

use crate::check::finding::{Code, Finding};

static REASON: Code = Code::justify("order-differs");
static STOP: Code = Code::beyond("order-differs-newer-needed");

/// Both kinds: no rule of one entry makes them.
pub(in crate::check) static CODES: [&Code; 2] = [&REASON, &STOP];

/// How an order that differs is passed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderPassed {
    /// By a written reason of each person, with the prescriber's name.
    ByReasons,
    /// By a newer order alone.
    ByNewerOrder,
}

/// The finding; `field` is the first that differs, `says` what both people and the order say of each.
#[must_use]
pub fn order_differs(field: &'static str, says: &str, passed: OrderPassed) -> Finding {
    let message = format!("both of you read it twice and agree, and the electronic order differs: {says}");
    match passed {
        OrderPassed::ByReasons => REASON.found(field, message).help(
            "ask the prescriber: a newer order is sent, or each of you writes why, with `prescriber` and the name",
        ),
        OrderPassed::ByNewerOrder => {
            STOP.found(field, message).help("ask the prescriber for a newer order; then read everything again")
        }
    }
}
