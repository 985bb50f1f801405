//! Numbers in forms that people misread.

use crate::pharmacy::lint::rule::{Code, FileSeen, Looks, Remarks, Rule};
use crate::pharmacy::lint::spelling::{Slip, each_quantity};
use crate::quantity::clip;

static ZERO: Code = Code::warning("trailing-zero");
static GROUPING: Code = Code::note("digits-ungrouped");
static DECIMALS: Code = Code::note("many-decimals");

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
