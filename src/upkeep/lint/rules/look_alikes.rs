//! What a drug says of the drugs that are taken for it.

use std::collections::BTreeMap;

use crate::diagnostic::Level;
use crate::formulary::Drug;
use crate::upkeep::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};

static UNKNOWN: Code = Code {
    id: "look-alike-unknown",
    level: Level::Note,
    means: "`looks_like` names a drug that this formulary does not have.",
    matters: "It may be a slip, and then the drug that is meant is not warned of.",
    to_do: "look at the spelling; leave it where the other drug is in the house and not in the formulary",
    example: "looks_like: [adrenaline]   # and there is drugs/adrenaline.yaml",
};
static ONE_SIDED: Code = Code {
    id: "look-alike-one-sided",
    level: Level::Note,
    means: "A drug names another in `looks_like`, and is not named there in turn.",
    matters: "Who holds the one is warned of the other; who holds the other is not.",
    to_do: "write it in the other file too",
    example: "looks_like: [noradrenaline]   # in drugs/adrenaline.yaml",
};

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
