//! Strengths of one drug that are taken for each other.

use crate::formulary::{Composition, Drug, Stocked};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Concentration, Ratio, Unit};

static TENFOLD: Code = Code::warning("strengths-tenfold");
static TENFOLD_APART: Code = Code::note("strengths-tenfold-apart");
static SAME_DIGITS: Code = Code::note("strengths-same-digits");

pub(super) const RULE: Rule = Rule { codes: &[&TENFOLD, &TENFOLD_APART, &SAME_DIGITS], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let drug = seen.drug;
    let seen_as: Vec<SeenAs> = drug.strengths.iter().map(SeenAs::of).collect();
    for at in 0..drug.strengths.len() {
        for before in 0..at {
            let (first, second) = (&seen_as[before], &seen_as[at]);
            let times = tenfold(first, second);
            let Some(why) = times.map(|times| format!("{times} times apart")).or_else(|| same_digits(first, second))
            else {
                continue;
            };
            let together = together(drug, before, at);
            let code = match (times, together) {
                (Some(_), Some(_)) => &TENFOLD,
                (Some(_), None) => &TENFOLD_APART,
                (None, _) => &SAME_DIGITS,
            };
            let together = together.map_or_else(String::new, |area| format!(", and both are in {area}"));
            let (first, second) = (&drug.strengths[before], &drug.strengths[at]);
            let message = format!("`{}` is {second}, `{}` is {first}: {why}{together}", second.key, first.key);
            remarks.add(code, &drug.file, &["strengths", &second.key], message);
        }
    }
}

/// What people see of a strength.
struct SeenAs {
    /// For a recipe by kg, that of 1 kg.
    strength: Option<Concentration>,
    is_per_kilogram: bool,
    /// The digits of the amount without zeros at their end, and the amount itself; nothing for a recipe by kg.
    amount: Option<(u64, Ratio, Unit)>,
}

impl SeenAs {
    fn of(stocked: &Stocked) -> Self {
        let amount = match stocked.composition {
            Composition::Fixed { amount, .. } => {
                let digits = digits(&amount.number().to_string());
                digits.map(|digits| (digits, amount.number().ratio(), amount.unit()))
            }
            Composition::PerKilogram { .. } => None,
        };
        Self { strength: stocked.concentration(Ratio::ONE), is_per_kilogram: stocked.is_per_kilogram(), amount }
    }
}

fn digits(number: &str) -> Option<u64> {
    let digits: String = number.chars().filter(char::is_ascii_digit).collect();
    digits.trim_end_matches('0').parse().ok()
}

fn tenfold(first: &SeenAs, second: &SeenAs) -> Option<u64> {
    let (one, other) = (first.strength?, second.strength?);
    if first.is_per_kilogram != second.is_per_kilogram || one.kind != other.kind {
        return None;
    }
    let ratio = if one.per_ml > other.per_ml { one.per_ml.over(other.per_ml) } else { other.per_ml.over(one.per_ml) };
    let ratio = ratio.ok()?;
    [10, 100, 1000, 10_000, 100_000, 1_000_000, 60].into_iter().find(|times| ratio == Ratio::whole(*times))
}

fn same_digits(first: &SeenAs, second: &SeenAs) -> Option<String> {
    let (one, other) = (first.amount?, second.amount?);
    if one.0 != other.0 || first.strength == second.strength {
        return None;
    }
    // 50 mg in 50 mL and in 25 mL; 5 mg and 500 mcg, a zero and a unit apart.
    Some(if one == other { "the same amount" } else { "the same digits" }.to_owned())
}

/// An area in which both are stocked.
fn together(drug: &Drug, first: usize, second: usize) -> Option<&str> {
    let areas = |one: usize| {
        let uses = drug.indications.iter().filter(move |indication| indication.strengths.contains(&one));
        uses.map(|indication| indication.area.as_str())
    };
    areas(first).find(|area| areas(second).any(|other| other == *area))
}
