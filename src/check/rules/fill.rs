//! The fill fits the container, and is not more than was made.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;

static ABOVE_USABLE: Code = Code::beyond("fill-above-usable");
static ABOVE_LABEL: Code = Code::impossible("fill-above-label");

pub(super) const RULE: Rule = Rule { codes: &[&ABOVE_USABLE, &ABOVE_LABEL], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let entry = computed.entry();
    let (fill, label) = (entry.fill(), entry.label());
    if let Some(container) = computed.names().container
        && fill.value() > container.usable.value()
    {
        let message = format!("{fill} is more than the {} usable of a {}", container.usable, container.key);
        findings.add(ABOVE_USABLE.found("fill", message).help("a larger container, or less in it"));
    }
    if fill.value() > label.volume.value() {
        let message = format!("{fill} is filled in, and the label says {} was made", label.volume);
        findings.add(ABOVE_LABEL.found("fill", message).help("read the scale and the label again"));
    }
}
