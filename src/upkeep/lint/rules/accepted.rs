//! Written reasons that answer nothing.

use crate::formulary::{Accepted, Drug};
use crate::quantity::clip;
use crate::upkeep::lint::rule::{Code, Looks, Remarks, Rule};

static UNKNOWN: Code = Code::warning("accepted-unknown");
static UNUSED: Code = Code::note("accepted-unused");

pub(super) const RULE: Rule = Rule { codes: &[&UNKNOWN, &UNUSED], looks: Looks::Unanswering(look) };

fn look(drug: &Drug, one: &Accepted, remarks: &mut Remarks) {
    let keys = ["accepted", &one.code];
    if crate::upkeep::lint::codes().any(|code| code.id == one.code) {
        let message = format!("nothing in this file is remarked on as `{}`", one.code);
        remarks.add(&UNUSED, &drug.file, &keys, message);
    } else {
        let message = format!("no remark is called `{}`", clip(&one.code));
        remarks.add(&UNKNOWN, &drug.file, &keys, message);
    }
}
