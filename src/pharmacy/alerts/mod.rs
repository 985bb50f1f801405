//! How often the rules speak, and what came of it: findings per 100 set-ups over the months, and by rule how often it was
//! overridden with a reason and how often the set-up was then entered otherwise. In: judged readings of a journal, one
//! after the other. Out: counts. It judges rules, and not people: no value, no patient and no name is in it.

mod render;

use std::collections::BTreeMap;

use crate::case::{CaseError, Cases, Ended, EntryOutcome, FindingOutcome, Written};
use crate::check::{Code, Severity};
use crate::quantity::{Moment, Ratio, significant};

pub use render::{READ_FIRST, json, text};

/// Under so many set-ups a share says nothing: only the counts are told.
pub const FEW: u64 = 20;

/// Counts over all set-ups so far.
#[derive(Debug, Default)]
pub struct Alerts {
    /// Over everything.
    pub all: Tally,
    /// By month, `2026-03`, in the order of time; a month without a set-up in between is there too.
    pub months: BTreeMap<String, Tally>,
    /// By the code of a rule.
    pub rules: BTreeMap<&'static str, RuleTally>,
    /// Set-ups that still wait for somebody: nothing of them is counted.
    pub waiting: u64,
    /// Cases that were made unreadable: nothing of them can be counted.
    pub forgotten: u64,
}

/// Set-ups, and the findings about them.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub struct Tally {
    /// Set-ups entered; each syringe of one counts.
    pub set_ups: u64,
    /// Findings that stop.
    pub stops: u64,
    /// Findings that ask for a reason.
    pub asked: u64,
    /// Findings that are only told.
    pub notes: u64,
}

/// One rule: how often it spoke, and what came of it. What came of it adds up to how often it spoke, but for notes,
/// of which nothing is asked.
#[derive(Debug, Clone)]
pub struct RuleTally {
    /// Its kind.
    pub code: &'static Code,
    /// In so many set-ups it spoke.
    pub fired: u64,
    /// Two people gave their reasons, and it went on to an agreed card.
    pub overridden: u64,
    /// The set-up was then entered otherwise: two entries disagreed, or it was read anew with something else.
    pub otherwise: u64,
    /// Both said the same, it stopped, and nothing was entered afterwards.
    pub stopped: u64,
    /// It was left.
    pub left: u64,
    /// An emergency entry went on past it, alone.
    pub alone: u64,
    /// It was started all the same, without a card.
    pub ran: u64,
    /// Which fields were entered otherwise, and how often.
    pub fields: BTreeMap<&'static str, u64>,
    /// Reasons that were written for it. Each of two people writes one.
    pub reasons: BTreeMap<Written, u64>,
}

impl Alerts {
    /// Counts everything in a journal that nobody is waited for any more.
    ///
    /// # Errors
    /// [`CaseError`] when a case cannot be read.
    pub fn of(cases: &Cases, now: Moment) -> Result<Self, CaseError> {
        let mut alerts = Self::default();
        let (waiting, forgotten) = cases.each_judged(now, |judged| alerts.add(&judged))?;
        alerts.fill_months();
        Ok(Self { waiting, forgotten, ..alerts })
    }

    /// Counts one reading.
    pub fn add(&mut self, judged: &EntryOutcome) {
        for tally in [&mut self.all, self.months.entry(month(judged.at)).or_default()] {
            tally.set_ups += 1;
            for said in &judged.said {
                match said.code.severity {
                    Severity::Stop(_) => tally.stops += 1,
                    Severity::Justify => tally.asked += 1,
                    Severity::Note => tally.notes += 1,
                }
            }
        }
        for said in &judged.said {
            self.rules.entry(said.code.id).or_insert_with(|| RuleTally::of(said.code)).add(judged, said);
        }
    }

    /// Puts in the months in between, in which nothing was entered.
    pub fn fill_months(&mut self) {
        let (Some((first, _)), Some((last, _))) = (self.months.first_key_value(), self.months.last_key_value()) else {
            return;
        };
        let (mut at, last) = (first.clone(), last.clone());
        // A clock that was years off makes no row for each month of them.
        for _ in 0..MOST_MONTHS {
            if at >= last {
                break;
            }
            at = month_after(&at);
            self.months.entry(at.clone()).or_default();
        }
    }

    /// Rules of a weight, the one that spoke most often first.
    #[must_use]
    pub fn rules_of(&self, is: impl Fn(Severity) -> bool) -> Vec<&RuleTally> {
        let mut rules: Vec<&RuleTally> = self.rules.values().filter(|rule| is(rule.code.severity)).collect();
        rules.sort_by_key(|rule| (std::cmp::Reverse(rule.fired), rule.code.id));
        rules
    }
}

impl RuleTally {
    const fn of(code: &'static Code) -> Self {
        Self {
            code,
            fired: 0,
            overridden: 0,
            otherwise: 0,
            stopped: 0,
            left: 0,
            alone: 0,
            ran: 0,
            fields: BTreeMap::new(),
            reasons: BTreeMap::new(),
        }
    }

    fn add(&mut self, judged: &EntryOutcome, said: &FindingOutcome) {
        self.fired += 1;
        if said.code.severity == Severity::Note {
            return;
        }
        match judged.ended {
            Ended::Agreed if said.pair_findings => {
                self.overridden += 1;
                for reason in &said.reasons {
                    *self.reasons.entry(reason.clone()).or_default() += 1;
                }
            }
            Ended::Stopped if said.pair_findings => self.stopped += 1,
            Ended::Alone => self.alone += 1,
            Ended::Ran => self.ran += 1,
            // What two people agreed on is no longer what it spoke of.
            Ended::Agreed => self.entered_otherwise(&judged.otherwise),
            _ if !judged.otherwise.is_empty() => self.entered_otherwise(&judged.otherwise),
            Ended::Stopped => self.stopped += 1,
            Ended::Left => self.left += 1,
        }
    }

    fn entered_otherwise(&mut self, fields: &[&'static str]) {
        self.otherwise += 1;
        for field in fields {
            *self.fields.entry(field).or_default() += 1;
        }
    }

    /// How often it kept something from going on as it was entered: stopped, entered otherwise, or left.
    #[must_use]
    pub const fn near_misses(&self) -> u64 {
        self.otherwise + self.stopped + self.left
    }
}

/// A count among set-ups, with both numbers: `31 in 250 set-ups, 12.4 per 100`. Of few, the counts alone.
#[must_use]
pub fn share(count: u64, of: u64) -> String {
    let set_ups = if of == 1 { "set-up" } else { "set-ups" };
    if of < FEW {
        return format!("{count} in {of} {set_ups}");
    }
    let hundredfold = Ratio::new(u128::from(count) * 100, u128::from(of));
    let per_hundred = hundredfold.map_or_else(
        |_| "many".to_owned(),
        |share| {
            let (text, exact) = significant(share, 3);
            if exact { text } else { format!("≈ {text}") }
        },
    );
    format!("{count} in {of} {set_ups}, {per_hundred} per 100")
}

impl Written {
    /// In words; what is not of the list is not shown.
    #[must_use]
    pub fn says(&self) -> &str {
        match self {
            Self::Listed(words) => words,
            Self::Confirmed => "confirmed with somebody",
            Self::Free => "in words of their own",
        }
    }
}

const MOST_MONTHS: usize = 600;

fn month(at: Moment) -> String {
    at.date().to_string().chars().take(7).collect()
}

fn month_after(month: &str) -> String {
    let (year, number) = month.split_once('-').unwrap_or((month, "1"));
    let (year, number) = (year.parse::<u32>().unwrap_or_default(), number.parse::<u32>().unwrap_or(1));
    if number == 12 { format!("{:04}-01", year + 1) } else { format!("{year:04}-{:02}", number + 1) }
}

#[cfg(test)]
mod tests;
