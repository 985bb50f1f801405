//! Doses that ran by the record, at the start and at each change of the rate, against the limits of now and the proposed
//! ones; and what runs now outside a formulary's limits.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::case::{DoseGiven, DoseZone, EntryOutcome, RunningNow, SetUpNames};
use crate::formulary::{DoseLimits, Formulary, Lookup};
use crate::quantity::exact_or_about;

/// Counts by use: of how many doses, how many are newly beyond a soft or hard limit, and how many no longer are.
#[derive(Debug, Default)]
pub struct DosesMoved(BTreeMap<String, [u64; 3]>);

impl DosesMoved {
    /// Counts every dose that one reading gave. What neither formulary has limits for is not counted.
    pub fn add(&mut self, outcome: &EntryOutcome, now: &Formulary, proposed: &Formulary) {
        let SetUpNames { drug, area, indication, phase, .. } = &outcome.about;
        for given in &outcome.doses {
            let zones = [now, proposed].map(|formulary| zone(formulary, &outcome.about, given));
            let [Some(now), Some(proposed)] = zones else { continue };
            let counts = self.0.entry(format!("{drug}, {area}, {indication}, {phase}")).or_default();
            counts[0] += 1;
            counts[1] += u64::from(proposed.is_beyond() && !now.is_beyond());
            counts[2] += u64::from(now.is_beyond() && !proposed.is_beyond());
        }
    }

    /// In lines, where anything moved.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::from("\nDoses that ran, by use: newly beyond a limit, no longer beyond one\n");
        let moved = self.0.iter().filter(|(_, [_, newly, no_longer])| newly + no_longer > 0);
        let before = out.len();
        for (place, [all, newly, no_longer]) in moved {
            crate::card::wrapped(&mut out, "  ", &format!("{place}: {newly}, {no_longer} of {all}"));
        }
        if out.len() == before {
            let all: u64 = self.0.values().map(|counts| counts[0]).sum();
            let _ = writeln!(out, "  none of {all}");
        }
        out
    }

    /// The same as data.
    #[must_use]
    pub fn json(&self) -> Value {
        let rows = self.0.iter().map(|(place, [all, newly, no_longer])| {
            json!({"use": place, "doses": all, "newly_beyond": newly, "no_longer_beyond": no_longer})
        });
        rows.collect()
    }
}

/// What runs now beyond a soft or hard limit of a formulary, or that it has no limits for: each in words.
#[must_use]
pub fn runs_outside(formulary: &Formulary, running: &[RunningNow]) -> Vec<String> {
    let outside = running.iter().filter_map(|RunningNow { named, about, given }| {
        let says = match zone(formulary, about, given) {
            None => format!("has no limits for {}, {}, {}", about.area, about.indication, about.phase),
            Some(zone) if zone.is_beyond() => {
                let (side, kind) = match zone {
                    DoseZone::BelowSoft => ("below", "soft"),
                    DoseZone::AboveSoft => ("above", "soft"),
                    _ => ("above", "hard"),
                };
                format!("is {side} the {kind} limit of {}, {}, {}", about.area, about.indication, about.phase)
            }
            Some(_) => return None,
        };
        Some(format!("{named}: {} {} {says}", exact_or_about(given.dose), given.unit))
    });
    outside.collect()
}

fn zone(formulary: &Formulary, about: &SetUpNames, given: &DoseGiven) -> Option<DoseZone> {
    let limits = limits(formulary, about)?;
    let in_unit = limits.usual.from.or(limits.usual.to).is_some_and(|limit| limit.unit() == given.unit);
    in_unit.then(|| DoseZone::among(limits, given.dose))
}

fn limits<'f>(formulary: &'f Formulary, about: &SetUpNames) -> Option<&'f DoseLimits> {
    let Lookup::Found(drug) = formulary.drug(&about.drug) else { return None };
    let used = drug.indications.iter().find(|one| one.area == about.area && one.name == about.indication)?;
    used.phases.iter().find(|(phase, _)| phase.word() == about.phase).map(|(_, limits)| limits)
}
