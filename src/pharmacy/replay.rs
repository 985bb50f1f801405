//! Past set-ups held against the formulary of now and a proposed one: what would be stopped, need a reason or pass that
//! did not before, by drug, area and rule. In: one entry after the other. Out: counts with a few examples; memory grows
//! with the number of rules and uses, not with the number of entries.

#[cfg(feature = "journal")]
mod doses;
pub mod view;

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::check::{Checked, Severity, Verdict};
use crate::entry::Entry;
use crate::formulary::{Faulty, Formulary};
use crate::infusion::{Computed, Names};
use crate::quantity::{Moment, Ratio, significant};

use super::diff::soft_and_hard_limits;

#[cfg(feature = "journal")]
pub use doses::{DosesMoved, runs_outside};

/// Counts over all entries so far.
#[derive(Debug, Default)]
pub struct Replay {
    entries: u64,
    unreadable: u64,
    verdicts: BTreeMap<(usize, usize), u64>,
    /// By drug, area and indication.
    uses: BTreeMap<[String; 3], Use>,
    rules: BTreeMap<&'static str, RuleCount>,
    /// Soft limits that fired under the proposed formulary, by where they stand: fired, and with a reason written.
    soft: BTreeMap<(String, &'static str), (u64, u64)>,
    /// Every limit that fired under the proposed formulary: where it stands, and the code.
    fired: BTreeMap<(String, &'static str), u64>,
}

/// Why an entry cannot be replayed.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// A formulary cannot be used.
    #[error(transparent)]
    Faulty(#[from] Faulty),
    /// Two routes of a sum disagree: nothing may be counted on.
    #[error("{0}")]
    Fault(String),
}

#[derive(Debug, Default)]
struct Use {
    entries: u64,
    /// Stopped, reason needed, passed: now and proposed.
    now: [u64; 3],
    proposed: [u64; 3],
    /// How many went from which verdict to which.
    moved: [[u64; 3]; 3],
    /// How many of each phase; and of those with a bolus, under `bolus`.
    parts: BTreeMap<&'static str, u64>,
}

#[derive(Debug, Default)]
struct RuleCount {
    now: u64,
    proposed: u64,
    only_now: u64,
    only_proposed: u64,
    /// Of what it newly says.
    examples: Vec<String>,
    /// Of what it says no longer: perhaps nothing stops it any more.
    no_longer: Vec<String>,
}

/// What no set-up went beyond.
#[derive(Debug, Default)]
pub struct NeverFired {
    /// Each limit.
    pub limits: Vec<NeverCrossed>,
    /// How many limits belong to uses without a set-up.
    pub without_set_ups: usize,
}

/// A limit that no set-up went beyond.
#[derive(Debug)]
pub struct NeverCrossed {
    /// In words, with its place.
    pub says: String,
    /// How many set-ups were held against it.
    pub set_ups: u64,
    /// Whether it stops.
    pub hard: bool,
}

impl NeverCrossed {
    fn in_words(&self) -> String {
        let Self { says, set_ups, .. } = self;
        format!("{says}, in {set_ups} set-up{}", if *set_ups == 1 { "" } else { "s" })
    }
}

/// So many soft limits that nothing went beyond are written out, those of the most set-ups first.
const MOST_LIMITS: usize = 20;

/// So many examples are kept of what a rule newly says.
const EXAMPLES: usize = 3;

/// A soft limit is called always overridden from this many firings on.
const OFTEN: u64 = 5;

const BOLUS: &str = "bolus";

const VERDICTS: [&str; 3] = ["stopped", "reason needed", "passed"];

impl Replay {
    /// Holds one entry against both formularies. `name` says where it comes from, for an example.
    ///
    /// # Errors
    /// [`ReplayError`] when a drug's file cannot be used, or the program is at fault.
    pub fn add(
        &mut self,
        name: &dyn std::fmt::Display,
        entry: Box<Entry>,
        now: &Formulary,
        proposed: &Formulary,
        at: Moment,
    ) -> Result<(), ReplayError> {
        // The set-up is judged as of its own time: a solution was not too old when it was new.
        let at = if at.is_before(entry.entered_at()) { at } else { entry.entered_at() };
        let before = checked(entry.clone(), now, at)?;
        let after = checked(entry, proposed, at)?;
        self.count(name, &before, &after);
        Ok(())
    }

    /// Counts an entry that could not be read.
    pub const fn unreadable(&mut self) {
        self.unreadable += 1;
    }

    fn count(&mut self, name: &dyn std::fmt::Display, before: &Checked<'_>, after: &Checked<'_>) {
        self.entries += 1;
        let (old, new) = (verdict(before), verdict(after));
        *self.verdicts.entry((old, new)).or_default() += 1;
        let (names, names_now) = (after.computed().names(), before.computed().names());
        let entry = after.computed().entry();
        // What the proposed formulary has no longer keeps the name by which it is known now.
        let named = |new: Option<&String>, now: Option<&String>| match (new, now) {
            (Some(name), _) => name.clone(),
            (None, Some(name)) => format!("{name} (no longer in the formulary)"),
            (None, None) => "(not known)".to_owned(),
        };
        let drug = |names: &Names<'_>| names.drug.as_ref().ok().map(|drug| drug.name.clone());
        let area = |names: &Names<'_>| names.area.map(|area| area.name.clone());
        let use_of = |names: &Names<'_>| names.indication.as_ref().ok().map(|one| one.name.clone());
        let use_names = [
            named(drug(names).as_ref(), drug(names_now).as_ref()),
            named(area(names).as_ref(), area(names_now).as_ref()),
            named(use_of(names).as_ref(), use_of(names_now).as_ref()),
        ];
        let about = || {
            format!(
                "{}, {}",
                named(drug(names).as_ref(), drug(names_now).as_ref()),
                named(area(names).as_ref(), area(names_now).as_ref())
            )
        };
        let used = self.uses.entry(use_names).or_default();
        used.entries += 1;
        *used.parts.entry(entry.phase().word()).or_default() += 1;
        if entry.bolus().is_some() {
            *used.parts.entry(BOLUS).or_default() += 1;
        }
        used.now[old] += 1;
        used.proposed[new] += 1;
        used.moved[old][new] += 1;
        for finding in before.findings() {
            let rule = self.rules.entry(finding.code.id).or_default();
            rule.now += 1;
            if !after.findings().iter().any(|other| other.code == finding.code && other.field == finding.field) {
                rule.only_now += 1;
                if rule.no_longer.len() < EXAMPLES {
                    rule.no_longer.push(format!("{name}, {}: {}", about(), finding.message));
                }
            }
        }
        for finding in after.findings() {
            let rule = self.rules.entry(finding.code.id).or_default();
            rule.proposed += 1;
            if !before.findings().iter().any(|other| other.code == finding.code && other.field == finding.field) {
                rule.only_proposed += 1;
                if rule.examples.len() < EXAMPLES {
                    rule.examples.push(format!("{name}, {}: {}", about(), finding.message));
                }
            }
            let Some(source) = &finding.source else { continue };
            let place = source.split(" (").next().unwrap_or(source).to_owned();
            if finding.severity() == Severity::Justify {
                let (fired, overridden) = self.soft.entry((place.clone(), finding.code.id)).or_default();
                *fired += 1;
                *overridden += u64::from(entry.reason(finding.code.id).is_some());
            }
            *self.fired.entry((place, finding.code.id)).or_default() += 1;
        }
    }

    /// Adds what another replay has counted of the entries after these.
    pub fn merge(&mut self, other: Self) {
        self.entries += other.entries;
        self.unreadable += other.unreadable;
        for (key, count) in other.verdicts {
            *self.verdicts.entry(key).or_default() += count;
        }
        for (key, used) in other.uses {
            let into = self.uses.entry(key).or_default();
            into.entries += used.entries;
            for at in 0..VERDICTS.len() {
                into.now[at] += used.now[at];
                into.proposed[at] += used.proposed[at];
                for (into, used) in into.moved[at].iter_mut().zip(used.moved[at]) {
                    *into += used;
                }
            }
            for (part, count) in used.parts {
                *into.parts.entry(part).or_default() += count;
            }
        }
        for (code, rule) in other.rules {
            let into = self.rules.entry(code).or_default();
            into.now += rule.now;
            into.proposed += rule.proposed;
            into.only_now += rule.only_now;
            into.only_proposed += rule.only_proposed;
            // Parts are merged in the order of the entries, so the first ones stay.
            into.examples.extend(rule.examples);
            into.examples.truncate(EXAMPLES);
            into.no_longer.extend(rule.no_longer);
            into.no_longer.truncate(EXAMPLES);
        }
        for (key, (fired, overridden)) in other.soft {
            let into = self.soft.entry(key).or_default();
            *into = (into.0 + fired, into.1 + overridden);
        }
        for (key, count) in other.fired {
            *self.fired.entry(key).or_default() += count;
        }
    }

    /// Soft and hard limits of the proposed formulary that no set-up went beyond, each with how many of its use there
    /// were. Limits of uses without a set-up are only counted: nothing is known about them.
    ///
    /// # Errors
    /// [`Faulty`] when it cannot be read whole.
    pub fn never_fired(&self, proposed: &Formulary) -> Result<NeverFired, Faulty> {
        let mut never = NeverFired::default();
        for limit in soft_and_hard_limits(proposed)? {
            let side = if limit.upper { "above" } else { "below" };
            let fired = self.fired.keys().any(|(place, code)| {
                *place == limit.file && code.contains(if limit.hard { "hard" } else { "soft" }) && {
                    code.contains(side) || code.contains("beyond")
                }
            });
            let set_ups: u64 = self.uses.iter().map(|(names, used)| used.judged_by(&limit.place, names)).sum();
            match (fired, set_ups) {
                (true, _) => {}
                (false, 0) => never.without_set_ups += 1,
                (false, _) => never.limits.push(NeverCrossed { says: limit.says, set_ups, hard: limit.hard }),
            }
        }
        Ok(never)
    }

    /// Soft limits that fire often, and always with a reason written: they only annoy, or the practice has moved.
    #[must_use]
    pub fn always_overridden(&self) -> Vec<String> {
        let always = self.soft.iter().filter(|(_, (fired, overridden))| *fired >= OFTEN && fired == overridden);
        always
            .map(|((place, code), (fired, _))| format!("{place}, {code}: {fired} times, each with a reason"))
            .collect()
    }

    /// As text of 80 columns.
    ///
    /// # Errors
    /// As for [`Replay::never_fired`].
    pub fn text(&self, proposed: &Formulary) -> Result<String, Faulty> {
        let mut out = format!("{} set-ups, {} that could not be read\n\n", self.entries, self.unreadable);
        let _ =
            writeln!(out, "{:<28} {:>12} {:>14} {:>12}", "of now -> proposed", VERDICTS[0], VERDICTS[1], VERDICTS[2]);
        for (old, name) in VERDICTS.iter().enumerate() {
            let of = |new| self.verdicts.get(&(old, new)).copied().unwrap_or_default();
            let _ = writeln!(out, "{name:<28} {:>12} {:>14} {:>12}", of(0), of(1), of(2));
        }
        let alerts = |proposed: bool| {
            let sum: u64 = self.rules.values().map(|rule| if proposed { rule.proposed } else { rule.now }).sum();
            per_hundred(sum, self.entries)
        };
        let _ = writeln!(out, "\nFindings per 100 set-ups: {} now, {} proposed", alerts(false), alerts(true));
        let _ = writeln!(out, "\nBy use: stopped, reason needed, passed; now -> proposed, where they differ");
        let mut same = 0;
        for ([drug, area, indication], used) in &self.uses {
            if used.now == used.proposed {
                same += 1;
                continue;
            }
            let shown = |three: [u64; 3]| format!("{}, {}, {}", three[0], three[1], three[2]);
            let (now, proposed) = (shown(used.now), shown(used.proposed));
            let says = format!("{drug}, {area}, {indication}: {now} -> {proposed} of {}", used.entries);
            crate::card::wrapped(&mut out, "  ", &says);
        }
        let _ = writeln!(out, "  {same} others alike");
        let _ = writeln!(out, "\nBy rule: now -> proposed (newly said, no longer said)");
        for (code, rule) in &self.rules {
            let _ = writeln!(
                out,
                "  {code}: {} -> {} (+{}, -{})",
                rule.now, rule.proposed, rule.only_proposed, rule.only_now
            );
            for (what, examples) in [("newly", &rule.examples), ("no longer", &rule.no_longer)] {
                for example in examples {
                    crate::card::wrapped(&mut out, "      ", &format!("{what}: {example}"));
                }
            }
        }
        let mut listed = |head: &str, lines: &[String]| {
            let _ = writeln!(out, "\n{head}:{}", if lines.is_empty() { " none" } else { "" });
            lines.iter().for_each(|line| crate::card::wrapped(&mut out, "  ", line));
        };
        listed("Soft limits that are always overridden", &self.always_overridden());
        let mut never = self.never_fired(proposed)?;
        // A hard limit is there so that nobody goes beyond it: of those, only the number is told.
        let all = never.limits.len();
        never.limits.retain(|limit| !limit.hard);
        let hard = all - never.limits.len();
        never.limits.sort_by_key(|limit| std::cmp::Reverse(limit.set_ups));
        let lines: Vec<String> = never.limits.iter().take(MOST_LIMITS).map(NeverCrossed::in_words).collect();
        listed("Soft limits that no set-up went beyond", &lines);
        let rest = never.limits.len() - lines.len();
        if rest + hard + never.without_set_ups > 0 {
            let without = never.without_set_ups;
            let says = format!(
                "and {rest} more soft limits, {hard} hard limits, and {without} limits of uses without a set-up; --format json has each"
            );
            crate::card::wrapped(&mut out, "  ", &says);
        }
        Ok(out)
    }

    /// The same as data.
    ///
    /// # Errors
    /// As for [`Replay::never_fired`].
    pub fn json(&self, proposed: &Formulary) -> Result<Value, Faulty> {
        let verdicts: Vec<Value> = self
            .verdicts
            .iter()
            .map(|((old, new), count)| json!({"now": VERDICTS[*old], "proposed": VERDICTS[*new], "set_ups": count}))
            .collect();
        let three = |of: [u64; 3]| json!({"stopped": of[0], "reason_needed": of[1], "passed": of[2]});
        let uses: Vec<Value> = self
            .uses
            .iter()
            .map(|([drug, area, indication], used)| {
                json!({"drug": drug, "area": area, "indication": indication, "set_ups": used.entries, "now": three(used.now), "proposed": three(used.proposed)})
            })
            .collect();
        let rules: Vec<Value> = self
            .rules
            .iter()
            .map(|(code, rule)| {
                json!({
                    "code": code,
                    "now": rule.now,
                    "proposed": rule.proposed,
                    "newly_said": rule.only_proposed,
                    "no_longer_said": rule.only_now,
                    "examples": rule.examples,
                    "examples_no_longer_said": rule.no_longer,
                })
            })
            .collect();
        let never = self.never_fired(proposed)?;
        let limits: Vec<Value> =
            never.limits.iter().map(|limit| json!({"limit": limit.says, "set_ups": limit.set_ups})).collect();
        Ok(json!({
            "version": 1,
            "set_ups": self.entries,
            "unreadable": self.unreadable,
            "verdicts": verdicts,
            "uses": uses,
            "rules": rules,
            "always_overridden": self.always_overridden(),
            "never_fired": limits,
            "limits_without_set_ups": never.without_set_ups,
        }))
    }
}

fn checked(entry: Box<Entry>, formulary: &Formulary, at: Moment) -> Result<Checked<'_>, ReplayError> {
    let computed = Computed::of(entry, formulary, at)?;
    match computed.sum() {
        Err(no_sum) if no_sum.is_fault_of_the_program() => Err(ReplayError::Fault(no_sum.to_string())),
        _ => Ok(Checked::of(computed)),
    }
}

fn verdict(checked: &Checked<'_>) -> usize {
    match checked.verdict() {
        Verdict::Stop => 0,
        // A reason that was written does not make the alert go away.
        _ if checked.findings().iter().any(|finding| finding.severity() == Severity::Justify) => 1,
        Verdict::Justify | Verdict::Proceed => 2,
    }
}

impl Use {
    /// How many set-ups of this use a limit judges that stands there.
    fn judged_by(&self, place: &str, names: &[String; 3]) -> u64 {
        if let Some(area) = place.strip_prefix("area ") {
            return if area == names[1] { self.entries } else { 0 };
        }
        let mut parts = place.split(", ");
        if names.iter().any(|name| parts.next().is_some_and(|part| part != name)) {
            return 0;
        }
        parts.next().map_or(self.entries, |part| self.parts.get(part).copied().unwrap_or_default())
    }
}

fn per_hundred(count: u64, of: u64) -> String {
    let share = Ratio::new(u128::from(count) * 100, u128::from(of.max(1)));
    share.map_or_else(|_| "many".to_owned(), |share| significant(share, 3).0)
}
