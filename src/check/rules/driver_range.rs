//! The driver can be set to the rate.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::exact_or_about;

static BELOW: Code = Code::beyond("rate-below-driver");
static ABOVE: Code = Code::beyond("rate-above-driver");

pub(super) const RULE: Rule = Rule { codes: &[&BELOW, &ABOVE], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Ok(sum), Some(driver)) = (computed.sum(), computed.names().driver) else { return };
    // A stop shows no rate: the number is in the working.
    let working = |limit| format!("{} mL/h against {limit}", exact_or_about(sum.set));
    if sum.set < driver.smallest.value() {
        let message = format!("the rate is below the {} that `{}` can be set to", driver.smallest, driver.key);
        let finding = BELOW.found("driver", message).help("a weaker solution, or a driver with a smaller rate");
        findings.add(finding.working(working(driver.smallest)));
    } else if sum.set > driver.largest.value() {
        let message = format!("the rate is above the {} that `{}` can be set to", driver.largest, driver.key);
        let help = "go back to the order and the label: is the dose or the strength a slip? If both are right, a stronger solution";
        findings.add(ABOVE.found("driver", message).help(help).working(working(driver.largest)));
    }
}
