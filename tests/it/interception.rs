//! The measurement of what is caught, in small: what must hold for every seed, and the same bytes for the same seed. The whole
//! of it is `cargo bench --bench interception`.
#![cfg(feature = "journal")]

#[path = "../../benches/interception/bench/mod.rs"]
#[allow(dead_code, reason = "the benchmark shows all of it")]
mod bench;

use bench::{Sizes, run};

const SMALL: Sizes =
    Sizes { correct: 300, one_entry: 1500, both_entries: 600, next_syringes: 300, preparation: 200, driver: 400 };

// hazard: H-INDEPENDENCE
// hazard: H-DRIVER
#[test]
fn a_slip_of_one_person_or_at_the_driver_never_gets_through() {
    let report = run(2, SMALL, 2);
    let [all, stopped, ..] = report.set_ups;
    assert_eq!((all, stopped), (300, 0), "{}", report.text(false));
    for class in [bench::Class::OneEntry, bench::Class::Driver] {
        let (made, missed) = report.missed(class);
        assert!(made > 250 && missed == 0, "{}", report.text(true));
    }
    let (huge, not_stopped) = report.huge_not_stopped();
    assert!(huge > 20 && not_stopped == 0, "{}", report.text(true));
    // From five-fold on nine in ten, where a phase's soft range is six-fold or narrower.
    let (all, caught, alone) = report.large(true);
    assert!(all > 100 && caught * 10 >= all * 9 && alone * 2 < caught, "{}", report.text(true));
    let [tellable, told] = report.causes();
    assert!(tellable > 300 && told * 100 >= tellable * 95, "{}", report.text(false));
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let small =
        Sizes { correct: 64, one_entry: 128, both_entries: 128, next_syringes: 64, preparation: 64, driver: 64 };
    let (one, other) = (run(7, small, 1), run(7, small, 2));
    assert_eq!(one.json().to_string(), other.json().to_string());
    assert_ne!(one.json(), run(8, small, 2).json());
}
