//! Written reasons that answer nothing.

use crate::diagnostic::Level;
use crate::formulary::{Accepted, Drug};
use crate::quantity::clip;
use crate::upkeep::lint::rule::{Code, Looks, Remarks, Rule};

static UNKNOWN: Code = Code {
    id: "accepted-unknown",
    level: Level::Warning,
    means: "`accepted` names a code that no remark has, or that of an error.",
    matters: "Somebody believes that it is judged. An error cannot be accepted: the file cannot be used.",
    to_do: "write the code as the lint shows it, or take the line away",
    example: "accepted: {strengths-tenfold: the weak one is kept in the newborn ward only}",
};
static UNUSED: Code = Code {
    id: "accepted-unused",
    level: Level::Note,
    means: "`accepted` gives a reason for a remark that is not made any more.",
    matters: "When the same slip is made again, nobody will be told.",
    to_do: "take the line away",
    example: "accepted: {strengths-tenfold: the weak one is kept in the newborn ward only}",
};

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
