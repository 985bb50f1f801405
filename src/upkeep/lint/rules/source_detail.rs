//! Sources that nobody could find again.

use crate::diagnostic::Level;
use crate::document::Value;
use crate::upkeep::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static TITLE_ONLY: Code = Code {
    id: "source-title-only",
    level: Level::Note,
    means: "A source has neither section nor year.",
    matters: "Whoever checks the value must find the page: a title has many editions, and an edition has many pages.",
    to_do: "write the `section` in which the value stands, and the `year` of the edition",
    example: "label: {title: Prescribing information, section: Diluted solution, year: 2020}",
};

pub(super) const RULE: Rule = Rule { codes: &[&TITLE_ONLY], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let Some(Value::Map(sources)) = seen.root.member("sources").map(|member| &member.node.value) else { return };
    for source in sources {
        if source.node.member("section").is_none() && source.node.member("year").is_none() {
            let message = format!("the source `{}` has a title alone", crate::quantity::clip(&source.key));
            remarks.add(&TITLE_ONLY, &seen.drug.file, &["sources", &source.key], message);
        }
    }
}
