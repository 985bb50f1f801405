//! Weights in pounds: an entry in pounds is refused, so a limit in pounds is a slip.

use crate::pharmacy::lint::rule::{Code, FileSeen, Looks, Remarks, Rule};
use crate::pharmacy::lint::spelling::each_quantity;
use crate::quantity::clip;

static POUNDS: Code = Code::error("limit-in-pounds");

const SPELLINGS: [&str; 5] = ["lb", "lbs", "pound", "pounds", "[lb_av]"];

pub(super) const RULE: Rule = Rule { codes: &[&POUNDS], looks: Looks::File(look) };

fn look(seen: &FileSeen<'_>, remarks: &mut Remarks) {
    each_quantity(seen.root, &mut |written| {
        let unit = written.text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c.is_whitespace());
        if SPELLINGS.contains(&unit.trim()) {
            let message = format!("`{}` is a weight in pounds", clip(written.text));
            remarks.add_at(&POUNDS, seen.path, written, message);
        }
    });
}
