//! How much is in the syringe.

use insta::assert_snapshot;

use crate::rules::Case;
use crate::common::set_up::clean;

pub(crate) fn cases() -> Vec<Case> {
    let large = || clean().bought_in("4.8 mg", "60 mL", "80 mcg/mL");
    vec![
        Case {
            code: "fill-above-usable",
            fires: large().with("fill", "50.1 mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, beyond: fill
            50.1 mL is more than the 50 mL usable of a syringe 50 mL
            do: a larger container, or less in it
            ")
            },
            silent: large().with("fill", "50 mL"),
        },
        Case {
            code: "fill-above-label",
            fires: clean().with("container", "syringe 60 mL").with("fill", "50.1 mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: fill
            50.1 mL is filled in, and the label says 50 mL was made
            do: read the scale and the label again
            ")
            },
            silent: clean().with("container", "syringe 60 mL").with("fill", "50 mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}
