//! What came of it, counted: by class, slip, size, drug and rule, with Wilson intervals, baselines on the same slips, and
//! every miss with its reason.
#![expect(clippy::float_arithmetic, clippy::cast_precision_loss, reason = "statistics")]

use std::collections::BTreeMap;
use std::fmt::Write as _;

use countersign::quantity::{Ratio, significant};
use serde_json::{Value, json};

use super::draw::Correct;
use super::path::Came;

/// Where the slip is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Class {
    OneEntry,
    BothEntries,
    NextSyringe,
    Preparation,
    Driver,
}

impl Class {
    pub(crate) const ALL: [Self; 5] =
        [Self::OneEntry, Self::BothEntries, Self::NextSyringe, Self::Preparation, Self::Driver];

    pub(crate) const fn says(self) -> &'static str {
        match self {
            Self::OneEntry => "I: a slip in one entry",
            Self::BothEntries => "II: both read the same wrong thing",
            Self::NextSyringe => "II, next syringe: both read the same wrong thing, beside a record of what runs",
            Self::Preparation => "III: made otherwise than the label, and told so",
            Self::Driver => "IV: at the driver, with a read-back",
        }
    }
}

/// How it ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Ended {
    /// No card, whoever wants one.
    Stopped,
    /// A written reason is asked for.
    Reason,
    /// A card.
    Missed,
}

impl Ended {
    pub(crate) const fn of(came: &Came) -> Self {
        match came {
            Came::Refused(_) | Came::Differ(..) | Came::Apart | Came::Stopped(_) => Self::Stopped,
            Came::Reason(_) => Self::Reason,
            Came::Card(..) => Self::Missed,
        }
    }
}

/// One slip and what came of it.
pub(crate) struct One<'o> {
    pub(crate) class: Class,
    pub(crate) slip: &'static str,
    pub(crate) says: &'static str,
    pub(crate) tells: bool,
    pub(crate) drug: &'static str,
    pub(crate) phase: &'static str,
    /// Whether the phase's soft range is six-fold or narrower.
    pub(crate) narrow: bool,
    /// The rate by the right rate; nothing where none follows.
    pub(crate) ratio: Option<Ratio>,
    /// Harmful whatever the rate: another drug, patient, content, syringe.
    pub(crate) identity: bool,
    pub(crate) ended: Ended,
    /// Whether it came to a comparison.
    pub(crate) differs: bool,
    pub(crate) causes: Vec<String>,
    pub(crate) by: Vec<&'static str>,
    /// What dose limits alone do with one entry: stop it, ask for a reason.
    pub(crate) alone: (bool, bool),
    pub(crate) entry: &'o Value,
    /// What the slip changed.
    pub(crate) field: String,
}

/// How large: by how many times the rate is wrong.
const SIZES: [(&str, u64); 5] = [
    ("below 2-fold", 2),
    ("2 to 5-fold", 5),
    ("5 to 10-fold", 10),
    ("10 to 60-fold", 60),
    ("60-fold and more", u64::MAX),
];

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Count {
    stopped: usize,
    reason: usize,
    missed: usize,
    alone_stopped: usize,
    alone_reason: usize,
}

impl Count {
    const fn all(&self) -> usize {
        self.stopped + self.reason + self.missed
    }

    const fn caught(&self) -> usize {
        self.stopped + self.reason
    }

    const fn alone(&self) -> usize {
        self.alone_stopped + self.alone_reason
    }

    const fn add(&mut self, other: &Self) {
        self.stopped += other.stopped;
        self.reason += other.reason;
        self.missed += other.missed;
        self.alone_stopped += other.alone_stopped;
        self.alone_reason += other.alone_reason;
    }
}

/// Everything that was counted.
#[derive(Debug, Default)]
pub(crate) struct Report {
    /// Correct set-ups: all, stopped, with a reason asked for, with a note.
    pub(crate) set_ups: [usize; 4],
    /// Correct set-ups in a smaller syringe than the area's own: in that one each would have a note.
    smaller: usize,
    /// Correct next syringes of what runs: all, and with a reason asked for.
    next_syringes: [usize; 2],
    /// By rule: how often it spoke on a correct set-up.
    alerts: BTreeMap<&'static str, usize>,
    /// Correct set-ups that were stopped or asked for a reason: drug, source, rule.
    spoken: BTreeMap<(String, &'static str), usize>,
    /// Correct set-ups with a note, by drug and phase.
    noted: BTreeMap<(&'static str, &'static str), usize>,
    slips: BTreeMap<(Class, &'static str, &'static str), Count>,
    /// By phase: correct set-ups as in `set_ups`, and slips.
    correct_by_phase: BTreeMap<&'static str, [usize; 4]>,
    phases: BTreeMap<(Class, &'static str), Count>,
    sizes: BTreeMap<(Class, usize), Count>,
    /// By phase and size.
    sizes_by_phase: BTreeMap<(Class, &'static str, usize), Count>,
    /// Of class II from 2 to 10-fold: by size, drug and phase; and what passed, by slip and field.
    cells: BTreeMap<(Class, usize, &'static str, &'static str), Count>,
    passed: BTreeMap<(Class, usize, &'static str, &'static str, String), usize>,
    /// Of class II from 5-fold on: narrow phases and others, by drug.
    drugs: BTreeMap<(bool, &'static str), Count>,
    /// By rule: how often it was the one that caught a shared slip, alone or among others.
    caught_by: BTreeMap<&'static str, usize>,
    /// Harmless: within 10 % of the right rate.
    harmless: usize,
    /// Differences whose cause can be told: all, told.
    causes: [usize; 2],
    /// Differences whose cause was not told, by slip.
    untold: BTreeMap<&'static str, usize>,
    misses: BTreeMap<String, usize>,
    pub(crate) unused: Vec<String>,
    pub(crate) drugs_with_printed_doses: usize,
}

impl Report {
    pub(crate) fn correct(&mut self, correct: &Correct, came: Came) {
        let Correct { drug, source, phase, entry, smaller } = correct;
        self.set_ups[0] += 1;
        self.smaller += usize::from(*smaller);
        let place = match &came {
            Came::Card(_, notes) if notes.is_empty() => 0,
            Came::Card(..) => 3,
            Came::Reason(_) => 2,
            _ => 1,
        };
        let of_phase = self.correct_by_phase.entry(phase).or_default();
        of_phase[0] += 1;
        if place > 0 {
            self.set_ups[place] += 1;
            of_phase[place] += 1;
        }
        if place == 3 {
            *self.noted.entry((drug, phase)).or_default() += 1;
        }
        let rules = came.rules();
        for rule in &rules {
            *self.alerts.entry(rule).or_default() += 1;
        }
        if matches!(place, 1 | 2) {
            let what = format!("{drug}, {} ({source})", entry["area"]);
            let rule = rules.first().copied().unwrap_or("not judged");
            *self.spoken.entry((what.replace('"', ""), rule)).or_default() += 1;
        }
    }

    pub(crate) fn correct_next_syringe(&mut self, came: &Came) {
        self.next_syringes[0] += 1;
        self.next_syringes[1] += usize::from(!matches!(came, Came::Card(..)));
    }

    /// Counts one; false where it does no harm, and another is to be made.
    pub(crate) fn one(&mut self, one: One<'_>) -> bool {
        let size = size(one.ratio);
        if !one.identity && one.ratio.is_some_and(harmless) {
            self.harmless += 1;
            return false;
        }
        let count = Count {
            stopped: usize::from(one.ended == Ended::Stopped),
            reason: usize::from(one.ended == Ended::Reason),
            missed: usize::from(one.ended == Ended::Missed),
            alone_stopped: usize::from(one.alone.0),
            alone_reason: usize::from(!one.alone.0 && one.alone.1),
        };
        self.slips.entry((one.class, one.slip, one.says)).or_default().add(&count);
        self.phases.entry((one.class, one.phase)).or_default().add(&count);
        if let Some(size) = size.filter(|_| !one.identity) {
            self.sizes.entry((one.class, size)).or_default().add(&count);
            self.sizes_by_phase.entry((one.class, one.phase, size)).or_default().add(&count);
            if matches!(one.class, Class::BothEntries | Class::NextSyringe) && matches!(size, 1 | 2) {
                self.cells.entry((one.class, size, one.drug, one.phase)).or_default().add(&count);
                if one.ended == Ended::Missed {
                    let slip = format!("{} in {}", one.slip, one.field);
                    *self.passed.entry((one.class, size, one.drug, one.phase, slip)).or_default() += 1;
                }
            }
            if one.class == Class::BothEntries && size >= 2 {
                self.drugs.entry((one.narrow, one.drug)).or_default().add(&count);
            }
        }
        if one.class == Class::OneEntry && one.tells && one.differs {
            self.causes[0] += 1;
            self.causes[1] += usize::from(!one.causes.is_empty());
            if one.causes.is_empty() {
                *self.untold.entry(one.slip).or_default() += 1;
            }
        }
        if one.class == Class::BothEntries && one.ended != Ended::Missed {
            for rule in &one.by {
                *self.caught_by.entry(rule).or_default() += 1;
            }
        }
        if one.ended == Ended::Missed {
            let why = why_missed(&one);
            let times =
                one.ratio.map_or_else(String::new, |ratio| format!(", {} times the rate", significant(ratio, 3).0));
            let what = format!("{} {} ({}): {}{times}: {why}", one.slip, one.says, one.drug, one.entry["dose"]);
            *self.misses.entry(what.replace('"', "")).or_default() += 1;
        }
        true
    }

    pub(crate) fn add(&mut self, other: Self) {
        for (mine, theirs) in self.set_ups.iter_mut().zip(other.set_ups) {
            *mine += theirs;
        }
        self.smaller += other.smaller;
        other.noted.into_iter().for_each(|(what, count)| *self.noted.entry(what).or_default() += count);
        for (mine, theirs) in self.next_syringes.iter_mut().zip(other.next_syringes) {
            *mine += theirs;
        }
        other.alerts.into_iter().for_each(|(rule, count)| *self.alerts.entry(rule).or_default() += count);
        other.spoken.into_iter().for_each(|(what, count)| *self.spoken.entry(what).or_default() += count);
        other.slips.into_iter().for_each(|(key, count)| self.slips.entry(key).or_default().add(&count));
        other.phases.into_iter().for_each(|(key, count)| self.phases.entry(key).or_default().add(&count));
        for (phase, theirs) in other.correct_by_phase {
            let mine = self.correct_by_phase.entry(phase).or_default();
            mine.iter_mut().zip(theirs).for_each(|(mine, theirs)| *mine += theirs);
        }
        other.cells.into_iter().for_each(|(key, count)| self.cells.entry(key).or_default().add(&count));
        other.passed.into_iter().for_each(|(key, count)| *self.passed.entry(key).or_default() += count);
        other.sizes.into_iter().for_each(|(key, count)| self.sizes.entry(key).or_default().add(&count));
        let by_phase = other.sizes_by_phase.into_iter();
        by_phase.for_each(|(key, count)| self.sizes_by_phase.entry(key).or_default().add(&count));
        other.drugs.into_iter().for_each(|(key, count)| self.drugs.entry(key).or_default().add(&count));
        other.caught_by.into_iter().for_each(|(rule, count)| *self.caught_by.entry(rule).or_default() += count);
        other.misses.into_iter().for_each(|(what, count)| *self.misses.entry(what).or_default() += count);
        other.untold.into_iter().for_each(|(slip, count)| *self.untold.entry(slip).or_default() += count);
        self.harmless += other.harmless;
        self.causes[0] += other.causes[0];
        self.causes[1] += other.causes[1];
    }

    /// Slips of a class: all, and missed.
    pub(crate) fn missed(&self, class: Class) -> (usize, usize) {
        let of_class = self.slips.iter().filter(|((of, ..), _)| *of == class).map(|(_, count)| count);
        of_class.fold((0, 0), |(all, missed), count| (all + count.all(), missed + count.missed))
    }

    /// Of class II from 60-fold on: all, and not stopped.
    #[allow(dead_code, reason = "for the test")]
    pub(crate) fn huge_not_stopped(&self) -> (usize, usize) {
        let count = self.sizes.get(&(Class::BothEntries, 4)).copied().unwrap_or_default();
        (count.all(), count.reason + count.missed)
    }

    /// Of class II from 5-fold on, in narrow phases or in the others: all, caught, caught by dose limits alone.
    #[allow(dead_code, reason = "for the test")]
    pub(crate) fn large(&self, narrow: bool) -> (usize, usize, usize) {
        let of = self.drugs.iter().filter(|((is_narrow, _), _)| *is_narrow == narrow).map(|(_, count)| count);
        of.fold((0, 0, 0), |(all, caught, alone), count| {
            (all + count.all(), caught + count.caught(), alone + count.alone())
        })
    }

    /// Differences whose cause can be told: all, and told.
    #[allow(dead_code, reason = "for the test")]
    pub(crate) const fn causes(&self) -> [usize; 2] {
        self.causes
    }

    /// By slip and class: the share that was caught.
    pub(crate) fn bars(&self) -> Vec<(String, f64, f64)> {
        let share = |count: &Count, of: usize| of as f64 / count.all().max(1) as f64;
        let label = |class: Class, slip: &str, says: &str| {
            format!("{} {slip} {says}", class.says().split(':').next().unwrap_or_default())
        };
        self.slips
            .iter()
            .map(|((class, slip, says), count)| {
                (label(*class, slip, says), share(count, count.stopped), share(count, count.caught()))
            })
            .collect()
    }

    pub(crate) fn text(&self, misses: bool) -> String {
        let mut out = String::from("INTERCEPTION: slips made on correct set-ups, and how many end without a card\n\n");
        let [all, stopped, reasons, notes] = self.set_ups;
        let _ = writeln!(
            out,
            "Correct set-ups {all}: stopped {stopped}, reason asked for {reasons} ({} per 100), with a note {notes} ({} per 100)\nPrinted doses for {} of the demonstration's drugs; rows without a use here: {}\n",
            percent(reasons, all),
            percent(notes, all),
            self.drugs_with_printed_doses,
            if self.unused.is_empty() { "none".to_owned() } else { self.unused.join("; ") }
        );
        let _ = writeln!(
            out,
            "  in a smaller syringe than the area's own, which would stick: {} ({} per 100, each a note in that one)",
            self.smaller,
            percent(self.smaller, all)
        );
        let [all, reasons] = self.next_syringes;
        let _ = writeln!(out, "  the same as the next syringe of what runs: {all}, reason {reasons}");
        for (phase, [all, stopped, reasons, notes]) in &self.correct_by_phase {
            let _ = writeln!(out, "  {phase}: {all}, stopped {stopped}, reason {reasons}, note {notes}");
        }
        for ((what, rule), count) in &self.spoken {
            let _ = writeln!(out, "  spoken of though correct: {what}: {rule} ({count})");
        }
        for ((drug, phase), count) in &self.noted {
            let _ = writeln!(out, "  noted though correct: {drug}, {phase} ({count})");
        }
        for class in Class::ALL {
            let (all, missed) = self.missed(class);
            let (low, high) = wilson(all - missed, all);
            let _ = writeln!(
                out,
                "\n{}: {} of {all} caught, {missed} missed; {low:.2} to {high:.2} % (Wilson, 95 %)",
                class.says(),
                all - missed
            );
            head(&mut out, "slip");
            let mut worst: Option<(&str, f64)> = None;
            for ((_, slip, says), count) in self.slips.iter().filter(|((of, ..), _)| *of == class) {
                row(&mut out, &format!("{slip} {says}"), count);
                let share = count.caught() as f64 / count.all().max(1) as f64;
                if worst.is_none_or(|(_, least)| share < least) {
                    worst = Some((slip, share));
                }
            }
            for (at, (name, _)) in SIZES.iter().enumerate() {
                if let Some(count) = self.sizes.get(&(class, at)) {
                    row(&mut out, &format!("by size: {name}"), count);
                }
            }
            for ((_, phase), count) in self.phases.iter().filter(|((of, _), _)| *of == class) {
                row(&mut out, &format!("by phase: {phase}"), count);
            }
            for ((_, phase, size), count) in self.sizes_by_phase.iter().filter(|((of, ..), _)| *of == class) {
                row(&mut out, &format!("by phase and size: {phase}, {}", SIZES[*size].0), count);
            }
            if let Some((slip, share)) = worst {
                let _ = writeln!(out, "  the worst is {slip}: {:.1} % caught", share * 100.0);
            }
        }
        self.effective(&mut out);
        out.push_str("\nClass II from 5-fold on, by drug (phases of a six-fold soft range or less, and the others)\n");
        head(&mut out, "drug");
        for ((narrow, drug), count) in &self.drugs {
            row(&mut out, &format!("{drug}{}", if *narrow { "" } else { ", wide" }), count);
        }
        self.by_cell(&mut out);
        out.push_str("\nRules: how often each spoke on a caught slip of class II, and on a correct set-up\n");
        let mut rules: Vec<&str> = self.caught_by.keys().chain(self.alerts.keys()).copied().collect();
        rules.sort_unstable();
        rules.dedup();
        for rule in rules {
            let of = |map: &BTreeMap<&'static str, usize>| map.get(rule).copied().unwrap_or_default();
            let _ = writeln!(out, "  {rule:<44}{:>8}{:>8}", of(&self.caught_by), of(&self.alerts));
        }
        let [tellable, told] = self.causes;
        let _ = writeln!(
            out,
            "\nCause named in {told} of {tellable} differences that tell one: {} %; not told: {:?}",
            percent(told, tellable),
            self.untold
        );
        let _ = writeln!(out, "Harmless slips, within 10 % of the right rate and not counted: {}", self.harmless);
        if misses {
            out.push_str("\nEvery miss, and why\n");
            for (what, count) in &self.misses {
                let _ = writeln!(out, "  {count:>5}  {what}");
            }
        }
        out
    }

    /// Drug by drug and phase by phase, with what passed.
    fn by_cell(&self, out: &mut String) {
        for ((class, size, drug, phase), count) in &self.cells {
            let slips = self
                .passed
                .iter()
                .filter(|((of, fold, one, during, _), _)| (of, fold, one, during) == (class, size, drug, phase));
            let slips: Vec<String> = slips.map(|((.., slip), count)| format!("{slip} ({count})")).collect();
            if slips.is_empty() {
                continue;
            }
            let name = class.says().split(':').next().unwrap_or_default();
            let _ = writeln!(
                out,
                "  passed: {name}, {}, {drug}, {phase}: {} of {}: {}",
                SIZES[*size].0,
                count.missed,
                count.all(),
                slips.join(", ")
            );
        }
    }

    /// Hard stops and asked-for reasons that people override: 0.10, 0.49, 0.79 and 0.96 are published shares.
    fn effective(&self, out: &mut String) {
        let of = |class: Class| {
            let mut sum = Count::default();
            self.slips.iter().filter(|((one, ..), _)| *one == class).for_each(|(_, count)| sum.add(count));
            sum
        };
        let both = of(Class::BothEntries);
        out.push_str("\nClass II, if so many of the asked-for reasons are given without a thought\n");
        for override_share in [0.10, 0.49, 0.79, 0.96] {
            let left = |stopped: usize, reason: usize| {
                (stopped as f64 + reason as f64 * (1.0 - override_share)) / both.all().max(1) as f64 * 100.0
            };
            let _ = writeln!(
                out,
                "  {:.0} %: {:.1} % caught; by dose limits alone {:.1} %; with nothing 0 %",
                override_share * 100.0,
                left(both.stopped, both.reason),
                left(both.alone_stopped, both.alone_reason)
            );
        }
    }

    pub(crate) fn json(&self) -> Value {
        let count = |count: &Count| {
            let (low, high) = wilson(count.caught(), count.all());
            json!({
                "all": count.all(), "stopped": count.stopped, "reason": count.reason, "missed": count.missed,
                "wilson_percent": [format!("{low:.3}"), format!("{high:.3}")],
                "dose_limits_alone": {"stopped": count.alone_stopped, "reason": count.alone_reason},
            })
        };
        let slips: Vec<Value> = self
            .slips
            .iter()
            .map(|((class, slip, says), one)| json!({"class": class.says(), "slip": slip, "says": says, "count": count(one)}))
            .collect();
        let sizes: Vec<Value> = self
            .sizes
            .iter()
            .map(|((class, size), one)| json!({"class": class.says(), "size": SIZES[*size].0, "count": count(one)}))
            .collect();
        let drugs: Vec<Value> = self
            .drugs
            .iter()
            .map(|((narrow, drug), one)| json!({"drug": drug, "narrow": narrow, "count": count(one)}))
            .collect();
        let sizes_by_phase: Vec<Value> = self
            .sizes_by_phase
            .iter()
            .map(|((class, phase, size), one)| {
                json!({"class": class.says(), "phase": phase, "size": SIZES[*size].0, "count": count(one)})
            })
            .collect();
        let phases: Vec<Value> = self
            .phases
            .iter()
            .map(|((class, phase), one)| json!({"class": class.says(), "phase": phase, "count": count(one)}))
            .collect();
        json!({
            "version": 1,
            "correct": {"all": self.set_ups[0], "stopped": self.set_ups[1], "reason": self.set_ups[2], "note": self.set_ups[3], "smaller_syringe": self.smaller},
            "alerts": self.alerts,
            "slips": slips,
            "sizes": sizes,
            "phases": phases,
            "sizes_by_phase": sizes_by_phase,
            "correct_by_phase": self.correct_by_phase,
            "drugs_from_5_fold": drugs,
            "caught_by": self.caught_by,
            "causes": {"tellable": self.causes[0], "told": self.causes[1]},
            "harmless": self.harmless,
            "misses": self.misses,
            "rows_without_a_use": self.unused,
        })
    }
}

fn head(out: &mut String, what: &str) {
    let _ = writeln!(
        out,
        "  {what:<52}{:>7}{:>9}{:>9}{:>8}{:>20}",
        "all", "stopped", "reason", "missed", "dose limits alone"
    );
}

fn row(out: &mut String, name: &str, count: &Count) {
    let _ = writeln!(
        out,
        "  {name:<52}{:>7}{:>9}{:>9}{:>8}{:>18} %",
        count.all(),
        count.stopped,
        count.reason,
        count.missed,
        percent(count.alone(), count.all())
    );
}

fn why_missed(one: &One<'_>) -> &'static str {
    match (one.class, one.ratio) {
        (Class::Preparation, _) => "what is in the syringe differs from its label, and nothing that was told shows it",
        (Class::Driver, _) => "the display was not read",
        (_, _) if one.identity => "the other name or number is as good by every limit, and both read it",
        (_, Some(ratio)) if ratio > Ratio::ONE => "the dose that both read is within the limits of its phase",
        _ => "the dose that both read is above the lower limits of its phase, or has none",
    }
}

fn size(ratio: Option<Ratio>) -> Option<usize> {
    let ratio = ratio.filter(|ratio| !ratio.is_zero())?;
    let fold = if ratio < Ratio::ONE { Ratio::ONE.over(ratio).ok()? } else { ratio };
    SIZES.iter().position(|(_, below)| fold < Ratio::whole(*below))
}

fn harmless(ratio: Ratio) -> bool {
    ratio.apart(Ratio::ONE).and_then(|apart| apart.times(Ratio::whole(10))).is_ok_and(|ten| ten <= Ratio::ONE)
}

fn percent(part: usize, all: usize) -> String {
    format!("{:.1}", part as f64 / all.max(1) as f64 * 100.0)
}

/// In percent (Wilson 1927, J Am Stat Assoc 22:209).
pub(crate) fn wilson(part: usize, all: usize) -> (f64, f64) {
    if all == 0 {
        return (0.0, 100.0);
    }
    let (n, z) = (all as f64, 1.959_964);
    let share = part as f64 / n;
    let middle = share + z * z / (2.0 * n);
    let spread = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z * z / n;
    ((middle - spread) / scale * 100.0, ((middle + spread) / scale * 100.0).min(100.0))
}
