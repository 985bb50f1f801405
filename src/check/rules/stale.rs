//! The entry is still fresh at the moment of the check.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;

static OLD: Code = Code::note("entry-old", "The entry is older than an unstarted one may be in this area.");

pub(super) const RULE: Rule = Rule { codes: &[&OLD], judges: Judges::Entry, check };

/// Times on a card count from the entry's own: whoever takes up an old one must know it.
fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, Some(area)) = (computed.entry(), computed.names().area) else { return };
    let expires = area.unstarted_entry_expires;
    let Some(end) = entry.entered_at().after(expires.value()) else { return };
    if !end.is_before(computed.now()) {
        return;
    }
    let discard = computed.discard_after().filter(|discard| discard.is_before(computed.now()));
    let discard = discard.map(|_| ", and by now the solution is too old").unwrap_or_default();
    let message = format!("entered at {}, more than {expires} before this check{discard}", entry.entered_at());
    findings.add(
        OLD.found("entered_at", message)
            .help("read the order, the syringe and the line again before anything is started"),
    );
}
