//! Units spelled otherwise than everything else spells them.

use crate::pharmacy::lint::rule::{Code, FileSeen, Looks, Remarks, Rule};
use crate::pharmacy::lint::spelling::{Slip, each_quantity};
use crate::quantity::clip;

static ERROR_PRONE: Code = Code::warning("unit-error-prone");
static SPELLING: Code = Code::note("unit-spelling");

pub(super) const RULE: Rule = Rule { codes: &[&ERROR_PRONE, &SPELLING], looks: Looks::File(look) };

fn look(seen: &FileSeen<'_>, remarks: &mut Remarks) {
    each_quantity(seen.root, &mut |written| {
        let Some(found) = written.respelled() else { return };
        let shown = clip(written.text);
        let (code, message) = if found.slips.contains(&Slip::ErrorProne) {
            (&ERROR_PRONE, format!("`{shown}` has a unit that is often misread"))
        } else if found.slips.contains(&Slip::Unit) {
            (&SPELLING, format!("`{shown}` spells its unit otherwise than the card does"))
        } else {
            return;
        };
        remarks.add_at(code, seen.path, written, message).fix(found.text);
    });
}
