//! Units spelled otherwise than everything else spells them.

use crate::diagnostic::Level;
use crate::quantity::clip;
use crate::upkeep::lint::rule::{Code, FileSeen, Looks, Remarks, Rule};
use crate::upkeep::lint::spelling::{Slip, each_quantity};

static ERROR_PRONE: Code = Code {
    id: "unit-error-prone",
    level: Level::Warning,
    means: "A unit is spelled in a way that is often misread: a mu, ng, or l for litre.",
    matters: "µg is read as mg and ng as mg, 1000 and a million times as much; l is read as 1 (ISMP). The reader \
              understands it, and the next person may not.",
    to_do: "write mcg, nanogram, mL; `--fix` does it",
    example: "from: 0.05 mcg/kg/min   # not 0.05 µg/kg/min",
};
static SPELLING: Code = Code {
    id: "unit-spelling",
    level: Level::Note,
    means: "A unit is spelled otherwise than the cards and the other files spell it.",
    matters: "Two spellings of one unit are compared by people letter by letter, and look like two units.",
    to_do: "write it as the card does; `--fix` does it",
    example: "volume: 50 mL   # not 50 ml",
};

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
