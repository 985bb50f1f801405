//! The entry is still fresh at the moment of the check.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;

static OLD: Code = Code::note("entry-old");

static EARLY: Code = Code::note("entry-after-check");

pub(super) const RULE: Rule = Rule { codes: &[&OLD, &EARLY], judges: Judges::Entry, check };

/// Times on a card count from the entry's own: whoever takes up an old one must know it.
fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, Some(area)) = (computed.entry(), computed.names().area) else { return };
    let now = computed.now();
    if now.is_before(entry.entered_at()) {
        let message = format!("entered at {}, which is after this check at {now}", entry.entered_at());
        findings.add(EARLY.found("entered_at", message).help("look at the time of the entry and at the clock"));
    }
    if !computed.is_stale() {
        return;
    }
    let discard = computed.discard_after().filter(|discard| discard.is_before(now));
    let discard = discard.map(|_| ", and by now the solution is too old").unwrap_or_default();
    let expires = area.unstarted_entry_expires;
    let message = format!("entered at {}, more than {expires} before this check{discard}", entry.entered_at());
    findings.add(
        OLD.found("entered_at", message)
            .help("nothing is started from it: read the order, the syringe and the line again"),
    );
}
