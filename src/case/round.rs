//! The round: somebody who takes over reads every driver that is there, blind, and the answer names what is not as the
//! record says. In: what was read off each driver, and what the record says of each set-up. Out: which reading is of
//! which set-up, and every difference by its kind. A pure function: nothing here knows a journal.

use crate::quantity::{Concentration, Ratio, exact_or_about};

use super::lumen::{folded, is_not_hung};

/// What somebody read off one driver, without the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DriverRead {
    /// The driver's own label, where the house has one.
    pub slot: Option<String>,
    /// The port on which it hangs, where it was read.
    pub port: Option<String>,
    /// The drug on the syringe.
    pub drug: String,
    /// The strength on the syringe.
    pub strength: Concentration,
    /// The strength, as it was typed.
    pub strength_typed: String,
    /// The rate on the display, mL/h; zero while it does not run.
    pub rate: Ratio,
}

/// What the record says of one set-up that hangs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DriverExpected {
    /// What people call it.
    pub named: String,
    /// The driver's own label, as it was read last.
    pub slot: Option<String>,
    /// The port on which it hung when it was read last.
    pub port: Option<String>,
    /// The names of its drug; none where it is still sealed, and nobody said what was put in.
    pub drug_names: Vec<String>,
    /// Its strength; nothing where it is still sealed, and nobody said what was put in.
    pub strength: Option<Concentration>,
    /// The rate, mL/h; zero while it is paused.
    pub rate: Ratio,
    /// Whether it was started: what is only agreed on need not hang yet.
    pub started: bool,
    /// The rate of its bolus, which a driver may be left at.
    pub bolus_rate: Option<Ratio>,
}

/// A difference by its kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RoundDifference {
    /// The rates of these set-ups are exchanged: each has the rate of the next, and the last that of the first.
    RatesSwapped(Vec<usize>),
    /// These hang in each other's slots: each in that of the next, and the last in that of the first.
    SlotsSwapped(Vec<usize>),
    /// It hangs in another slot than before.
    OtherSlot(usize, String),
    /// These hang on each other's ports, in the same way.
    PortsSwapped(Vec<usize>),
    /// It hangs on another port than before.
    OtherPort(usize, String),
    /// The rate of its bolus was left.
    AtBolusRate(usize),
    /// It hangs and does not run, though the record says that it does.
    DoesNotRun(usize),
    /// It runs, though the record says that it is paused, or was not started.
    RunsUnrecorded(usize, Ratio),
    /// Another rate than recorded.
    OtherRate(usize, Ratio),
    /// Another strength than recorded.
    OtherStrength(usize),
    /// Drug or strength, or both, were held against nothing: the set-up, and the reading that may be of it.
    NotCompared(usize, usize),
    /// The record knows it, and nobody read it.
    Missing(usize),
    /// It runs, and the record knows nothing of it: which reading.
    InNoCase(usize),
    /// It hangs, does not run, and the record knows nothing of it: which reading.
    HangsUnknown(usize),
}

/// What a round came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoundCompared {
    /// For each set-up the reading that is of it.
    pub read: Vec<Option<usize>>,
    /// What differs, what may harm first.
    pub differences: Vec<RoundDifference>,
}

/// Holds what was read against what the record says.
#[must_use]
pub fn compare_round(expected: &[DriverExpected], read: &[DriverRead]) -> RoundCompared {
    let of_set_up = matched(expected, read);
    let mut differences = Vec::new();
    let reading = |set_up: usize| of_set_up[set_up].map(|at| &read[at]);
    let rates: Vec<usize> =
        (0..expected.len()).filter(|at| reading(*at).is_some_and(|one| one.rate != expected[*at].rate)).collect();
    let has_rate_of = |one: usize, other: usize| reading(one).is_some_and(|read| read.rate == expected[other].rate);
    let runs = |at: &usize| !expected[*at].rate.is_zero() && reading(*at).is_some_and(|one| !one.rate.is_zero());
    let exchanged = rings(&rates.iter().copied().filter(runs).collect::<Vec<_>>(), has_rate_of);
    let in_a_ring: Vec<usize> = exchanged.iter().flatten().copied().collect();
    differences.extend(exchanged.into_iter().map(RoundDifference::RatesSwapped));
    for at in rates.into_iter().filter(|at| !in_a_ring.contains(at)) {
        let Some(one) = reading(at) else { continue };
        differences.push(match expected[at].rate.is_zero() {
            _ if Some(one.rate) == expected[at].bolus_rate => RoundDifference::AtBolusRate(at),
            _ if one.rate.is_zero() => RoundDifference::DoesNotRun(at),
            true => RoundDifference::RunsUnrecorded(at, one.rate),
            false => RoundDifference::OtherRate(at, one.rate),
        });
    }
    let label = |of: Labels<'_>| {
        let (known, now): (Vec<_>, Vec<_>) =
            (0..expected.len()).map(|at| (of.0(&expected[at]), reading(at).and_then(of.1))).unzip();
        moved(&known, &now)
    };
    let (exchanged, others) = label((&|one| one.slot.as_deref(), &|one| one.slot.as_deref()));
    differences.extend(exchanged.into_iter().map(RoundDifference::SlotsSwapped));
    differences.extend(others.into_iter().map(|(at, now)| RoundDifference::OtherSlot(at, now)));
    let (exchanged, others) = label((&|one| one.port.as_deref(), &|one| one.port.as_deref()));
    differences.extend(exchanged.into_iter().map(RoundDifference::PortsSwapped));
    differences.extend(others.into_iter().map(|(at, now)| RoundDifference::OtherPort(at, now)));
    let other_strength =
        |at: &usize| expected[*at].strength.zip(reading(*at)).is_some_and(|(strength, one)| strength != one.strength);
    differences.extend((0..expected.len()).filter(other_strength).map(RoundDifference::OtherStrength));
    let unsaid = |at: usize| expected[at].drug_names.is_empty() || expected[at].strength.is_none();
    let not_compared = (0..expected.len()).filter(|at| unsaid(*at)).filter_map(|at| Some((at, of_set_up[at]?)));
    differences.extend(not_compared.map(|(at, reading)| RoundDifference::NotCompared(at, reading)));
    differences.extend(
        (0..expected.len())
            .filter(|at| of_set_up[*at].is_none() && expected[*at].started)
            .map(RoundDifference::Missing),
    );
    for (at, one) in read.iter().enumerate().filter(|(at, _)| !of_set_up.contains(&Some(*at))) {
        differences.push(match one.rate.is_zero() {
            true => RoundDifference::HangsUnknown(at),
            false => RoundDifference::InNoCase(at),
        });
    }
    RoundCompared { read: of_set_up, differences }
}

impl RoundDifference {
    /// In words.
    #[must_use]
    pub fn says(&self, expected: &[DriverExpected], read: &[DriverRead]) -> String {
        let named = |at: &usize| expected[*at].named.as_str();
        let recorded = |at: &usize| format!("{} mL/h", exact_or_about(expected[*at].rate));
        let ring = |all: &[usize], what: &str| {
            let next = |nth: usize| &all[(nth + 1) % all.len()];
            match all {
                [one, other] => format!("{} and {} are SWAPPED: each {what} the other", named(one), named(other)),
                _ => {
                    let each =
                        all.iter().enumerate().map(|(nth, at)| format!("{} {what} {}", named(at), named(next(nth))));
                    format!("EXCHANGED: {}", each.collect::<Vec<_>>().join("; "))
                }
            }
        };
        let of_reading = |at: &usize| {
            let one = &read[*at];
            let slot = one.slot.as_ref().map(|slot| format!(", slot {slot}")).unwrap_or_default();
            format!("{}{slot}, {} mL/h", one.drug, exact_or_about(one.rate))
        };
        match self {
            Self::RatesSwapped(all) => ring(all, "runs at the rate of"),
            Self::SlotsSwapped(all) => ring(all, "hangs in the slot of"),
            Self::OtherSlot(at, slot) => format!("{} hangs in slot {slot}, and not in the slot it was in", named(at)),
            Self::PortsSwapped(all) => ring(all, "hangs on the port of"),
            Self::OtherPort(at, port) if is_not_hung(port) => {
                let before = expected[*at].port.as_deref().unwrap_or_default();
                format!("{} is NOT HUNG; read before on port {before}", named(at))
            }
            Self::OtherPort(at, port) => {
                let before = expected[*at].port.as_deref().unwrap_or_default();
                format!("{} hangs on port {port}; read before: {before}", named(at))
            }
            Self::AtBolusRate(at) => {
                format!("{} is LEFT AT THE RATE OF ITS BOLUS; recorded {}", named(at), recorded(at))
            }
            Self::DoesNotRun(at) => format!("{} HANGS AND DOES NOT RUN; recorded {}", named(at), recorded(at)),
            Self::RunsUnrecorded(at, rate) => {
                let record = if expected[*at].started { "is paused" } else { "was not started" };
                format!("{} RUNS at {} mL/h, and {record} by the record", named(at), exact_or_about(*rate))
            }
            Self::OtherRate(at, rate) => {
                format!("{} runs at {} mL/h; recorded {}", named(at), exact_or_about(*rate), recorded(at))
            }
            Self::OtherStrength(at) => format!("{}: ANOTHER STRENGTH is on the syringe", named(at)),
            Self::NotCompared(at, reading) => {
                let (expected, read) = (&expected[*at], &read[*reading]);
                let drug = expected.drug_names.is_empty().then_some(("drug", &read.drug));
                let strength = expected.strength.is_none().then_some(("strength", &read.strength_typed));
                let (what, typed): (Vec<&str>, Vec<&str>) =
                    drug.into_iter().chain(strength).map(|(what, typed)| (what, typed.as_str())).unzip();
                let (what, typed) = (what.join(" and "), typed.join(", "));
                format!("{}: {what} NOT COMPARED: read as {typed}, and nobody said what was put in", expected.named)
            }
            Self::Missing(at) => format!("{} is MISSING: nobody read it; recorded {}", named(at), recorded(at)),
            Self::InNoCase(at) => format!("{} RUNS AND IS IN NO CASE", of_reading(at)),
            Self::HangsUnknown(at) => format!("{} hangs, does not run and is in no case: take it down", of_reading(at)),
        }
    }
}

/// Whether a reading is of a set-up.
type Pass<'p> = &'p dyn Fn(&DriverExpected, &DriverRead) -> bool;

/// For each set-up the reading that is of it: by drug and strength, the slot and the rate decide among like ones; then by
/// the drug alone.
fn matched(expected: &[DriverExpected], read: &[DriverRead]) -> Vec<Option<usize>> {
    let mut of_set_up = vec![None; expected.len()];
    let same_drug = |one: &DriverExpected, other: &DriverRead| {
        one.drug_names.iter().any(|drug| folded(drug) == folded(&other.drug))
    };
    let same_slot = |one: &DriverExpected, other: &DriverRead| {
        one.slot.as_deref().zip(other.slot.as_deref()).is_some_and(|(one, other)| folded(one) == folded(other))
    };
    let same_strength = |one: &DriverExpected, other: &DriverRead| one.strength == Some(other.strength);
    let passes: [Pass<'_>; 6] = [
        &|one, other| same_drug(one, other) && same_strength(one, other) && same_slot(one, other),
        &|one, other| same_drug(one, other) && same_strength(one, other) && one.rate == other.rate,
        &|one, other| same_drug(one, other) && same_strength(one, other),
        &|one, other| same_drug(one, other) && one.rate == other.rate,
        &|one, other| same_drug(one, other),
        // Where nobody said what was put in, this is the nearest; it is called not compared, never equal.
        &|one, other| one.drug_names.is_empty() && (same_slot(one, other) || one.rate == other.rate),
    ];
    for pass in passes {
        for (at, one) in expected.iter().enumerate() {
            if of_set_up[at].is_none() {
                of_set_up[at] =
                    (0..read.len()).find(|other| !of_set_up.contains(&Some(*other)) && pass(one, &read[*other]));
            }
        }
    }
    of_set_up
}

/// How a label is got: of what was expected, and of what was read.
type Labels<'l> = (&'l dyn Fn(&DriverExpected) -> Option<&str>, &'l dyn Fn(&DriverRead) -> Option<&str>);

/// Which labels are exchanged, and which others differ: each with the label that was read.
fn moved(known: &[Option<&str>], now: &[Option<&str>]) -> (Vec<Vec<usize>>, Vec<(usize, String)>) {
    let is = |one: Option<&str>, other: Option<&str>| {
        one.zip(other).is_some_and(|(one, other)| folded(one) == folded(other))
    };
    let differs = |at: &usize| known[*at].is_some() && now[*at].is_some() && !is(known[*at], now[*at]);
    let differing: Vec<usize> = (0..known.len()).filter(differs).collect();
    let exchanged = rings(&differing, |one, other| is(now[one], known[other]));
    let others = differing.into_iter().filter(|at| !exchanged.iter().flatten().any(|in_a_ring| in_a_ring == at));
    let others = others.map(|at| (at, now[at].unwrap_or_default().to_owned())).collect();
    (exchanged, others)
}

/// The rings of an exchange: each member has what the next one should have, and the last what the first should. Two
/// crosswise are found before longer rings, so that equal rates do not hide them.
fn rings(members: &[usize], has_what_of: impl Fn(usize, usize) -> bool) -> Vec<Vec<usize>> {
    let (mut free, mut found) = (members.to_vec(), Vec::new());
    for length in 2..=members.len() {
        loop {
            let ring = free.iter().find_map(|first| ring_from(&mut vec![*first], &free, length, &has_what_of));
            let Some(ring) = ring else { break };
            free.retain(|at| !ring.contains(at));
            found.push(ring);
        }
    }
    found
}

fn ring_from(
    path: &mut Vec<usize>,
    free: &[usize],
    length: usize,
    has_what_of: &impl Fn(usize, usize) -> bool,
) -> Option<Vec<usize>> {
    let (first, last) = (*path.first()?, *path.last()?);
    if path.len() == length {
        return has_what_of(last, first).then(|| path.clone());
    }
    for next in free {
        if !path.contains(next) && has_what_of(last, *next) {
            path.push(*next);
            if let Some(ring) = ring_from(path, free, length, has_what_of) {
                return Some(ring);
            }
            path.pop();
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Strength;

    const DRUGS: [&str; 6] = ["noradrenaline", "propofol", "remifentanil", "insulin", "vasopressin", "morphine"];

    fn strength(text: &str) -> Concentration {
        Strength::parse_label(text).expect("a strength").concentration()
    }

    fn six() -> (Vec<DriverExpected>, Vec<DriverRead>) {
        let rate = |nth: usize| Ratio::whole(u64::try_from(nth).expect("small") + 2);
        let expected = DRUGS.iter().enumerate().map(|(nth, drug)| DriverExpected {
            named: (*drug).to_owned(),
            slot: Some(format!("{}", nth + 1)),
            port: Some(format!("lumen {}", nth + 1)),
            drug_names: vec![(*drug).to_owned()],
            started: true,
            strength: Some(strength("1 mg/mL")),
            rate: rate(nth),
            bolus_rate: None,
        });
        let read = DRUGS.iter().enumerate().map(|(nth, drug)| DriverRead {
            slot: Some(format!("{}", nth + 1)),
            port: Some(format!("Lumen  {}", nth + 1)),
            drug: (*drug).to_uppercase(),
            strength: strength("1 mg/mL"),
            strength_typed: "1 mg/mL".to_owned(),
            rate: rate(nth),
        });
        (expected.collect(), read.collect())
    }

    fn permutations(of: &[usize]) -> Vec<Vec<usize>> {
        if of.is_empty() {
            return vec![Vec::new()];
        }
        let mut all = Vec::new();
        for (at, first) in of.iter().enumerate() {
            let rest = [&of[..at], &of[at + 1..]].concat();
            all.extend(permutations(&rest).into_iter().map(|rest| [&[*first][..], &rest].concat()));
        }
        all
    }

    /// The rings of a permutation, found by following it: another way than the one that is tested.
    fn followed(permutation: &[usize]) -> Vec<Vec<usize>> {
        let (mut seen, mut found) = (vec![false; permutation.len()], Vec::new());
        for first in 0..permutation.len() {
            let (mut ring, mut at) = (Vec::new(), first);
            while !seen[at] {
                seen[at] = true;
                ring.push(at);
                at = permutation[at];
            }
            if ring.len() > 1 {
                found.push(ring);
            }
        }
        found
    }

    fn as_sets(rings: Vec<Vec<usize>>) -> Vec<Vec<usize>> {
        let smallest_first = |ring: Vec<usize>| {
            let at = (0..ring.len()).min_by_key(|at| ring[*at]).unwrap_or(0);
            [&ring[at..], &ring[..at]].concat()
        };
        let mut rings: Vec<Vec<usize>> = rings.into_iter().map(smallest_first).collect();
        rings.sort();
        rings
    }

    // hazard: H-DRIVER
    #[test]
    fn every_permutation_of_six_rates_slots_and_ports_is_named_rightly() {
        let (expected, straight) = six();
        let all = permutations(&[0, 1, 2, 3, 4, 5]);
        assert_eq!(all.len(), 720);
        for permutation in &all {
            // In whatever order they are read, each is known by its syringe.
            let walked: Vec<DriverRead> = permutation.iter().map(|at| straight[*at].clone()).collect();
            assert_eq!(compare_round(&expected, &walked).differences, [], "{permutation:?}");
            let mut rates = straight.clone();
            let (mut slots, mut ports) = (straight.clone(), straight.clone());
            for (at, other) in permutation.iter().enumerate() {
                rates[at].rate = expected[*other].rate;
                slots[at].slot.clone_from(&expected[*other].slot);
                ports[at].port.clone_from(&expected[*other].port);
            }
            let named = |read: &[DriverRead], what: &str| {
                let compared = compare_round(&expected, read);
                assert_eq!(compared.read, (0..6).map(Some).collect::<Vec<_>>());
                let rings = compared.differences.into_iter().map(|one| match one {
                    RoundDifference::RatesSwapped(ring) if what == "rates" => ring,
                    RoundDifference::SlotsSwapped(ring) if what == "slots" => ring,
                    RoundDifference::PortsSwapped(ring) if what == "ports" => ring,
                    other => panic!("{other:?} for {permutation:?}"),
                });
                as_sets(rings.collect())
            };
            for (read, what) in [(&rates, "rates"), (&slots, "slots"), (&ports, "ports")] {
                assert_eq!(named(read, what), as_sets(followed(permutation)), "{what} of {permutation:?}");
            }
        }
    }

    fn says(expected: &[DriverExpected], read: &[DriverRead]) -> Vec<String> {
        compare_round(expected, read).differences.iter().map(|one| one.says(expected, read)).collect()
    }

    // hazard: H-DRIVER
    #[test]
    fn each_kind_of_difference_has_its_own_words() {
        let (mut expected, straight) = six();
        let with = |change: &dyn Fn(&mut Vec<DriverRead>)| {
            let mut read = straight.clone();
            change(&mut read);
            read
        };
        assert_eq!(says(&expected, &straight), Vec::<String>::new());
        let swapped = with(&|read| (read[0].rate, read[1].rate) = (read[1].rate, read[0].rate));
        assert_eq!(
            says(&expected, &swapped),
            ["noradrenaline and propofol are SWAPPED: each runs at the rate of the other"]
        );
        let off = with(&|read| read[2].rate = Ratio::ZERO);
        assert_eq!(says(&expected, &off), ["remifentanil HANGS AND DOES NOT RUN; recorded 4 mL/h"]);
        let missing = with(&|read| drop(read.remove(3)));
        assert_eq!(says(&expected, &missing), ["insulin is MISSING: nobody read it; recorded 5 mL/h"]);
        let other = with(&|read| read[4].strength = strength("2 mg/mL"));
        assert_eq!(says(&expected, &other), ["vasopressin: ANOTHER STRENGTH is on the syringe"]);
        let unknown = with(&|read| {
            let one = DriverRead { drug: "ketamine".to_owned(), slot: None, ..read[0].clone() };
            read.push(DriverRead { rate: Ratio::ZERO, ..one.clone() });
            read.push(one);
        });
        assert_eq!(
            says(&expected, &unknown),
            [
                "ketamine, 0 mL/h hangs, does not run and is in no case: take it down",
                "ketamine, 2 mL/h RUNS AND IS IN NO CASE"
            ]
        );
        let moved = with(&|read| read[0].port = Some("lumen 6".to_owned()));
        assert_eq!(says(&expected, &moved), ["noradrenaline hangs on port lumen 6; read before: lumen 1"]);
        let off = with(&|read| read[0].port = Some("not hung yet".to_owned()));
        assert_eq!(says(&expected, &off), ["noradrenaline is NOT HUNG; read before on port lumen 1"]);
        let unread = with(&|read| read[0].port = None);
        assert_eq!(says(&expected, &unread), Vec::<String>::new());
        let said = expected[4].clone();
        (expected[4].drug_names, expected[4].strength) = (Vec::new(), None);
        assert_eq!(
            says(&expected, &straight),
            [
                "vasopressin: drug and strength NOT COMPARED: read as VASOPRESSIN, 1 mg/mL, and nobody said what was put in"
            ]
        );
        expected[4] = said;
        expected[5].bolus_rate = Some(Ratio::whole(60));
        let bolus = with(&|read| read[5].rate = Ratio::whole(60));
        assert_eq!(says(&expected, &bolus), ["morphine is LEFT AT THE RATE OF ITS BOLUS; recorded 7 mL/h"]);
        expected[0].rate = Ratio::ZERO;
        assert_eq!(says(&expected, &straight), ["noradrenaline RUNS at 2 mL/h, and is paused by the record"]);
    }
}
