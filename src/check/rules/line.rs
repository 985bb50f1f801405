//! The line is full of fluid, narrow enough for a syringe driver, and lets the drug arrive soon.

use crate::check::checked::{Findings, Rule};
use crate::check::finding::Code;
use crate::entry::LineFilled;
use crate::formulary::{DriverKind, LineKind};
use crate::infusion::Computed;
use crate::quantity::{duration, exact_or_about};

static EMPTY: Code = Code::beyond("line-empty", "The line holds air.");
static WIDE: Code = Code::note("line-wide", "A standard line is used with a syringe driver.");
static SLOW: Code = Code::note("arrival-slow", "The first drug takes long through the dead space at this rate.");

pub(super) const RULE: Rule = Rule { codes: &[&EMPTY, &WIDE, &SLOW], check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, names) = (computed.entry(), computed.names());
    if entry.line_filled() == LineFilled::Empty {
        let help = "fill the line until no air is left, then write how it was filled: from this syringe, or with diluent";
        findings.add(EMPTY.found("line_filled", "the line is empty: it holds air").help(help));
    }
    let (Some(line), Some(driver)) = (names.line, names.driver) else { return };
    if line.kind == LineKind::Standard && driver.kind == DriverKind::SyringeDriver {
        let message = format!("`{}` is a standard line and holds {}: a change of the rate arrives late", line.key, line.priming_volume);
        findings.add(WIDE.found("line", message).help("use a narrow line with a syringe driver"));
    }
    let Ok(sum) = computed.sum() else { return };
    let slow = computed.formulary().policy().slow_arrival;
    if sum.run.arrives_after > slow.value() {
        let message = format!(
            "the first drug takes {} through {} mL of dead space that does not hold it yet",
            duration(sum.run.arrives_after),
            exact_or_about(sum.run.empty_of_drug)
        );
        let help = "fill the dead space with the drug, or expect the effect that late; the end is as late";
        findings.add(SLOW.found("line_filled", message).help(help).origin(&computed.formulary().policy().origin));
    }
}
