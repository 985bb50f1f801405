//! Written reasons that answer nothing.

use crate::diagnostic::Level;
use crate::formulary::Drug;
use crate::pharmacy::lint::rule::{Code, Looks, Reason, Remarks, Rule};
use crate::quantity::clip;

static UNKNOWN: Code = Code::warning("accepted-unknown");
static UNUSED: Code = Code::note("accepted-unused");

pub(super) const RULE: Rule = Rule { codes: &[&UNKNOWN, &UNUSED], looks: Looks::Unanswering(look) };

fn look(drug: &Drug, reason: &Reason<'_>, remarks: &mut Remarks) {
    let shown = clip(reason.code);
    match crate::pharmacy::lint::codes().find(|code| code.id == reason.code) {
        None => {
            remarks.add(&UNKNOWN, &drug.file, reason.keys, format!("no remark is called `{shown}`"));
        }
        Some(code) if code.level == Level::Error && !reason.is_exception => {
            let message = format!("`{shown}` is an error, and `accepted` answers none");
            let help = "mend it, or write it under `exceptions` with its place and the name of who answers for it";
            remarks.add(&UNKNOWN, &drug.file, reason.keys, message).help(help);
        }
        Some(_) => {
            let message = format!("nothing is remarked on as `{shown}` at this place");
            remarks.add(&UNUSED, &drug.file, reason.keys, message);
        }
    }
}
