//! Sources that nobody could find again.

use crate::document::Value;
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static TITLE_ONLY: Code = Code::note("source-title-only");
static RATE: Code = Code::warning("source-names-a-rate");

pub(super) const RULE: Rule = Rule { codes: &[&TITLE_ONLY, &RATE], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let Some(Value::Map(sources)) = seen.root.member("sources").map(|member| &member.node.value) else { return };
    for source in sources {
        if source.node.member("section").is_none() && source.node.member("year").is_none() {
            let message = format!("the source `{}` has a title alone", crate::quantity::clip(&source.key));
            remarks.add(&TITLE_ONLY, &seen.drug.file, &["sources", &source.key], message);
        }
        for name in ["title", "section"] {
            let Some(Value::Text(text)) = source.node.member(name).map(|member| &member.node.value) else { continue };
            if text.to_lowercase().contains("ml/h") {
                let message = format!("the source `{}` names a rate in mL/h", crate::quantity::clip(&source.key));
                remarks.add(&RATE, &seen.drug.file, &["sources", &source.key, name], message);
            }
        }
    }
}
