//! Names of two drugs that differ by one letter.

use std::collections::{BTreeMap, BTreeSet};

use crate::formulary::Drug;
use crate::pharmacy::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};

static ALIKE: Code = Code::warning("names-alike");

pub(super) const RULE: Rule = Rule { codes: &[&ALIKE], looks: Looks::All(look) };

fn look(seen: &AllSeen<'_>, remarks: &mut Remarks) {
    let mut said = BTreeSet::new();
    for (first, one, second, other) in pairs(seen.drugs) {
        // Both drugs were read from `drugs`, in the order of their files.
        let (first_drug, second_drug) = (seen.drugs[first], seen.drugs[second]);
        let known = |drug: &Drug, other: &Drug| {
            drug.looks_like.iter().any(|name| *name == other.name || other.other_names.contains(name))
        };
        if known(first_drug, second_drug) || known(second_drug, first_drug) || !said.insert((one, other)) {
            continue;
        }
        let whose = |name: &str, drug: &Drug| {
            if name == drug.name { format!("`{name}`") } else { format!("`{name}`, another name of {},", drug.name) }
        };
        let message = format!(
            "{} is one letter away from {}",
            whose(other, second_drug),
            whose(one, first_drug).trim_end_matches(',')
        );
        let index = second_drug.other_names.iter().position(|name| name == other).map(|index| format!("[{index}]"));
        let keys = match &index {
            Some(index) => vec!["other_names", index],
            None => vec!["drug"],
        };
        let help = format!(
            "write `looks_like: [{}]` here, and `{}` there, or choose names further apart",
            first_drug.name, second_drug.name
        );
        remarks.add(&ALIKE, &second_drug.file, &keys, message).help(help);
    }
}

/// Two drugs and their names that are one letter apart: added, taken away, changed, or swapped with the next.
///
/// Two such names become one when a letter is taken from either, or from both: only names that share such a rest are
/// compared, so that thousands of names are no work.
fn pairs<'d>(drugs: &[&'d Drug]) -> Vec<(usize, &'d str, usize, &'d str)> {
    let mut by_rest: BTreeMap<String, Vec<(usize, &str)>> = BTreeMap::new();
    for (index, drug) in drugs.iter().enumerate() {
        for name in drug.other_names.iter().chain([&drug.name]) {
            for rest in rests(name) {
                by_rest.entry(rest).or_default().push((index, name));
            }
        }
    }
    let mut found = BTreeSet::new();
    for names in by_rest.values().filter(|names| names.len() > 1) {
        for (at, (second, other)) in names.iter().enumerate() {
            for (first, one) in &names[..at] {
                if first != second && strsim::osa_distance(one, other) == 1 {
                    let in_order = (*first, *one, *second, *other);
                    found.insert(if first < second { in_order } else { (*second, *other, *first, *one) });
                }
            }
        }
    }
    found.into_iter().collect()
}

/// The name, and the name with each of its letters taken away.
fn rests(name: &str) -> BTreeSet<String> {
    let shorter = name.char_indices().map(|(at, letter)| format!("{}{}", &name[..at], &name[at + letter.len_utf8()..]));
    shorter.chain([name.to_owned()]).collect()
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::rests;

    #[rstest]
    #[case::changed("morphine", "marphine")]
    #[case::added("fentanil", "fentanyil")]
    #[case::swapped("ketamine", "kteamine")]
    #[case::first("xenon", "zenon")]
    #[case::marks("naïve", "naive")]
    fn names_one_letter_apart_share_a_rest(#[case] one: &str, #[case] other: &str) {
        assert_eq!(strsim::osa_distance(one, other), 1);
        assert!(!rests(one).is_disjoint(&rests(other)), "{one} {other}");
    }
}
