//! Numbers in forms that people misread.

use crate::diagnostic::Level;
use crate::quantity::clip;
use crate::upkeep::lint::rule::{Code, FileSeen, Looks, Remarks, Rule};
use crate::upkeep::lint::spelling::{Slip, each_quantity};

static ZERO: Code = Code {
    id: "trailing-zero",
    level: Level::Warning,
    means: "A number ends with a zero after the point.",
    matters: "5.0 is read as 50 where the point is overlooked (ISMP). Doses and strengths are refused in this form; here \
              the reader understands it, and people copy it.",
    to_do: "write it without the zero; `--fix` does it",
    example: "volume: 50 mL   # not 50.0 mL",
};
static GROUPING: Code = Code {
    id: "digits-ungrouped",
    level: Level::Note,
    means: "A number of five digits or more is not grouped by threes.",
    matters: "Zeros are miscounted: 10000 and 100000 look the same (ISMP).",
    to_do: "group it with a space; `--fix` does it",
    example: "amount: 25 000 units",
};
static DECIMALS: Code = Code {
    id: "many-decimals",
    level: Level::Note,
    means: "A number has more than three digits after the point.",
    matters: "Zeros after the point are miscounted as those before it are.",
    to_do: "write it in a smaller unit: 0.5 mcg for 0.0005 mg",
    example: "from: 20 nanogram/kg/min   # not 0.00002 mg/kg/min",
};

pub(super) const RULE: Rule = Rule { codes: &[&ZERO, &GROUPING, &DECIMALS], looks: Looks::File(look) };

fn look(seen: &FileSeen<'_>, remarks: &mut Remarks) {
    /// With four digits after the point nobody counts them any more (common practice, no source).
    const MOST_DECIMALS: usize = 3;
    each_quantity(seen.root, &mut |written| {
        let shown = || clip(written.text);
        if let Some(found) = written.respelled() {
            if found.slips.contains(&Slip::TrailingZero) {
                let message = format!("`{}` ends with a zero after the point", shown());
                remarks.add_at(&ZERO, seen.path, written, message).fix(found.text.clone());
            }
            if found.slips.contains(&Slip::Grouping) {
                let message = format!("`{}` is not grouped by threes", shown());
                remarks.add_at(&GROUPING, seen.path, written, message).fix(found.text);
            }
        }
        let decimals = written.text.split_once('.').map_or("", |(_, rest)| rest);
        let decimals = decimals.bytes().take_while(u8::is_ascii_digit).count();
        if decimals > MOST_DECIMALS && !decimals_end_in_zero(written.text) {
            let message = format!("`{}` has {decimals} digits after the point", shown());
            remarks.add_at(&DECIMALS, seen.path, written, message);
        }
    });
}

/// That is said already.
fn decimals_end_in_zero(text: &str) -> bool {
    let rest = text.split_once('.').map_or("", |(_, rest)| rest);
    rest.split(|c: char| !c.is_ascii_digit()).next().is_some_and(|digits| digits.ends_with('0'))
}
