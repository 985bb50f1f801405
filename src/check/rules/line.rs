//! The line is full of fluid, and narrow enough for a syringe driver.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::LineFilled;
use crate::formulary::{DriverKind, LineKind};
use crate::infusion::Computed;

static EMPTY: Code = Code::beyond("line-empty");
static WIDE: Code = Code::note("line-wide");

pub(super) const RULE: Rule = Rule { codes: &[&EMPTY, &WIDE], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, names) = (computed.entry(), computed.names());
    if entry.line_filled() == LineFilled::Empty {
        let help =
            "fill the line until no air is left, then write how it was filled: from this syringe, or with diluent";
        findings.add(EMPTY.found("line_filled", "the line is empty: it holds air").help(help));
    }
    let (Some(line), Some(driver)) = (names.line, names.driver) else { return };
    if line.kind == LineKind::Standard && driver.kind == DriverKind::SyringeDriver {
        let message = format!(
            "`{}` is a standard line and holds {}: a change of the rate arrives late",
            line.key, line.priming_volume
        );
        findings.add(WIDE.found("line", message).help("use a narrow line with a syringe driver"));
    }
}
