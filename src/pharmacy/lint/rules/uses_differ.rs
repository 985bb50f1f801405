//! One drug whose doses in one use are far from those in another, in the same kind of unit: often a zero.

use crate::formulary::{DoseLimits, Indication, Phase};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::Ratio;

static TENFOLD: Code = Code::error("uses-differ-tenfold");

/// From how many times on, by the middle of both usual ranges; chosen: a tenfold slip of one of two ranges that differ
/// twofold, as those of two areas often do, is five times or more.
const FAR: u64 = 5;

pub(super) const RULE: Rule = Rule { codes: &[&TENFOLD], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let uses = &seen.drug.indications;
    for (at, one) in uses.iter().enumerate() {
        for (phase, limits) in &one.phases {
            let Some((nearest, times)) = nearest(uses, at, *phase).filter(|(_, times)| *times >= FAR) else { continue };
            // Of two that are nearest to each other, the later one is remarked on.
            if nearest > at && self::nearest(uses, nearest, *phase).is_some_and(|(back, _)| back == at) {
                continue;
            }
            let other = &uses[nearest];
            let message = format!(
                "usual in {phase} is {} here, and {} for {} in {}: about {times} times apart",
                shown(limits),
                other.limits(*phase).map(shown).unwrap_or_default(),
                other.name,
                other.area,
            );
            let keys = ["areas", &one.area, &one.name, "phases", phase.word(), "usual"];
            remarks.add(&TENFOLD, &seen.drug.file, &keys, message).value(shown(limits));
        }
    }
}

fn shown(limits: &DoseLimits) -> String {
    match (limits.usual.from, limits.usual.to) {
        (Some(from), Some(to)) => format!("{from} to {to}"),
        _ => String::new(),
    }
}

/// The use whose usual doses in a phase are nearest to those of the one at this place, and how many times they lie apart:
/// a drug has low and high uses, and one that lies far from all the others is the wrong one.
fn nearest(uses: &[Indication], at: usize, phase: Phase) -> Option<(usize, u64)> {
    let limits = uses[at].limits(phase)?;
    let others = uses.iter().enumerate().filter(|(other, one)| *other != at && is_same_kind(&uses[at], one));
    let times = others.filter_map(|(other, one)| Some((other, root(squared_times(limits, one.limits(phase)?)?))));
    times.min_by_key(|(_, times)| *times)
}

fn is_same_kind(one: &Indication, other: &Indication) -> bool {
    let (one, other) = (one.dose_unit.dose(), other.dose_unit.dose());
    one.kind() == other.kind() && one.per() == other.per()
}

/// The square of how many times the middles of two usual ranges lie apart: the middle of a range of doses is the root of
/// the product of its ends.
fn squared_times(one: &DoseLimits, other: &DoseLimits) -> Option<Ratio> {
    let square = |limits: &DoseLimits| {
        let (from, to) = (limits.usual.from?, limits.usual.to?);
        from.amount_per_hour().times(to.amount_per_hour()).ok()
    };
    let (one, other) = (square(one)?, square(other)?);
    if one > other { one.over(other).ok() } else { other.over(one).ok() }
}

/// The whole number nearest below the root; so far apart that nobody counts any more, ten thousand.
fn root(squared: Ratio) -> u64 {
    let mut root = 1;
    while root < 10_000 && Ratio::whole((root + 1) * (root + 1)) <= squared {
        root += 1;
    }
    root
}
