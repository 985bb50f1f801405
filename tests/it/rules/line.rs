//! The line: full and narrow.

use insta::assert_snapshot;

use crate::rules::Case;
use crate::common::set_up::clean;

pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "line-empty",
            fires: clean().with("line_filled", "empty"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: line_filled
            the line is empty: it holds air
            do: fill the line until no air is left, then write how it was filled: from this syringe, or with diluent
            ")
            },
            silent: clean().with("line_filled", "with diluent"),
        },
        Case {
            code: "line-wide",
            fires: clean().with("line", "standard-180"),
            says: |found| {
                assert_snapshot!(found, @"
            note: line
            `standard-180` is a standard line and holds 15 mL: a change of the rate arrives late
            do: use a narrow line with a syringe driver
            ")
            },
            silent: clean().with("line", "narrow-200"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

#[test]
fn a_standard_line_belongs_to_a_pump() {
    let codes = clean().with("line", "standard-180").with("container", "bag 50 mL").with("driver", "bag pump").codes();
    assert!(!codes.contains(&"line-wide"), "{codes:?}");
}
