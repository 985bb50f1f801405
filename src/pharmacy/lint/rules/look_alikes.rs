//! What a drug says of the drugs that are taken for it.

use std::collections::BTreeMap;

use crate::formulary::Drug;
use crate::pharmacy::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};

static UNKNOWN: Code = Code::note("look-alike-unknown");
static ONE_SIDED: Code = Code::note("look-alike-one-sided");

pub(super) const RULE: Rule = Rule { codes: &[&UNKNOWN, &ONE_SIDED], looks: Looks::All(look) };

fn look(seen: &AllSeen<'_>, remarks: &mut Remarks) {
    let mut by_name: BTreeMap<&str, &Drug> = BTreeMap::new();
    for drug in seen.drugs {
        for name in drug.other_names.iter().chain([&drug.name]) {
            by_name.insert(name, drug);
        }
    }
    for drug in seen.drugs {
        for (index, name) in drug.looks_like.iter().enumerate() {
            let index = format!("[{index}]");
            let keys = ["looks_like", &index];
            let name_in_file = name.to_lowercase();
            let Some(other) = by_name.get(name_in_file.as_str()) else {
                // A file that cannot be used is there all the same.
                if seen.formulary.texts().has(&format!("drugs/{}.yaml", name_in_file.replace(' ', "-"))) {
                    continue;
                }
                remarks.add(&UNKNOWN, &drug.file, &keys, format!("no drug here is called `{name}`"));
                continue;
            };
            let is_named =
                |name: &String| by_name.get(name.to_lowercase().as_str()).is_some_and(|named| named.name == drug.name);
            if !other.looks_like.iter().any(is_named) {
                let message = format!("{} does not name {} in turn", other.file, drug.name);
                remarks.add(&ONE_SIDED, &drug.file, &keys, message);
            }
        }
    }
}
