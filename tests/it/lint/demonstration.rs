//! The demonstration formulary shows how one is written: nothing about it is wrong, and nothing that is remarked on is left
//! without a word.

use countersign::formulary::Files;
use countersign::pharmacy::lint::{Counts, lint};
use countersign::quantity::Moment;

use crate::lint::small::AT;

#[test]
fn the_demonstration_has_no_error_and_no_warning() {
    let report = lint(Files::demonstration(), Moment::parse(AT).expect("a moment"));
    let Counts { errors, warnings, .. } = report.counts();
    let shown = report.text(countersign::diagnostic::terminal::Palette::Plain);
    assert_eq!((errors, warnings), (0, 0), "mend it, or say why it may stand in the file's `accepted`:\n{shown}");
    assert!(report.drugs >= 16);
}
