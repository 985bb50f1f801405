//! The driver can be set to the rate.

use crate::check::checked::{Findings, Rule};
use crate::check::finding::Code;
use crate::infusion::Computed;
use crate::quantity::exact_or_about;

static BELOW: Code = Code::beyond("rate-below-driver", "The rate is below the driver's smallest.");
static ABOVE: Code = Code::beyond("rate-above-driver", "The rate is above the driver's largest.");

pub(super) const RULE: Rule = Rule { codes: &[&BELOW, &ABOVE], check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Ok(sum), Some(driver)) = (computed.sum(), computed.names().driver) else { return };
    let set = || exact_or_about(sum.set);
    if sum.set < driver.smallest.value() {
        let message = format!("{} mL/h is below the {} that `{}` can be set to", set(), driver.smallest, driver.key);
        findings.add(BELOW.found("driver", message).help("a weaker solution, or a driver with a smaller rate"));
    } else if sum.set > driver.largest.value() {
        let message = format!("{} mL/h is above the {} that `{}` can be set to", set(), driver.largest, driver.key);
        findings.add(ABOVE.found("driver", message).help("a stronger solution; and go back to the order: is the dose or the strength a slip?"));
    }
}
