//! A drug whose class acts on the circulation, and whose file does not say that it is vasoactive: its lumen is not watched.

use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static NOT_SAID: Code = Code::warning("vasoactive-not-said");

/// Classes of the user-applied label (ISO 26825) that act on the circulation.
const CLASSES: [&str; 2] = ["vasopressor", "hypotensive agent"];

pub(super) const RULE: Rule = Rule { codes: &[&NOT_SAID], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let drug = seen.drug;
    if !drug.vasoactive && CLASSES.contains(&drug.class.as_str()) {
        let message = format!(
            "a {} whose file does not say `vasoactive: true`: what shares its lumen is not asked about",
            drug.class
        );
        remarks.add(&NOT_SAID, &drug.file, &["class"], message);
    }
}
