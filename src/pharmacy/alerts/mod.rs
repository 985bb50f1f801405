//! How often the rules speak, what came of it, and which doses ran: by drug, area, phase, role, hour, edition and limit. In:
//! judged readings of a journal, one after the other. Out: a [`Report`](super::report::Report). It judges rules, and not
//! people: no patient and no name is in it, and small counts are hidden.

mod render;

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::case::{CaseError, Cases, DoseZone, Ended, EntryOutcome, FindingOutcome, SetUpNames, Uncounted, Written};
use crate::check::{Code, Severity};
use crate::formulary::words;
use crate::quantity::{Moment, Ratio, significant};

/// Under so many set-ups a share says nothing: only the counts are told.
pub const FEW: u64 = 20;

words! {
    /// By what set-ups are told apart.
    Dimension {
        /// The drug.
        Drug = "drug",
        /// What it is used for.
        Indication = "indication",
        /// The area.
        Area = "area",
        /// The phase.
        Phase = "phase",
        /// The role of the person who entered first.
        Role = "role",
        /// The hour of the day.
        Hour = "hour",
        /// The edition of the formulary.
        Edition = "edition",
    }
}

/// Which set-ups are counted, and how they are told apart.
#[derive(Debug, Clone, Default)]
pub struct Selection {
    /// From this day on.
    pub from: Option<Date>,
    /// To this day, which counts.
    pub to: Option<Date>,
    /// Only those whose value begins so.
    pub only: Vec<(Dimension, String)>,
    /// One table for each.
    pub by: Vec<Dimension>,
}

/// Counts over all set-ups so far.
#[derive(Debug, Default)]
pub struct Alerts {
    selection: Selection,
    /// Over everything.
    pub all: Tally,
    /// By month, `2026-03`, in the order of time; a month without a set-up in between is there too.
    pub months: BTreeMap<String, Tally>,
    /// By each dimension that was asked for, and its values.
    groups: BTreeMap<(usize, String), (u64, RuleOutcomes)>,
    /// By the code of a rule.
    pub rules: BTreeMap<&'static str, RuleTally>,
    /// By limit of a dose: its use, and which.
    limits: BTreeMap<[String; 2], RuleTally>,
    /// By use and unit: each dose that ran.
    doses: BTreeMap<(String, String), Vec<(Ratio, DoseZone)>>,
    /// Syringes that were put in, and those on which two people had agreed independently.
    started: [u64; 2],
    uncounted: Uncounted,
    /// Waiting for longer than an hour.
    late: u64,
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

/// How often a rule spoke, and what came of it: that adds up, but for notes, of which nothing is asked.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RuleOutcomes {
    /// How often it spoke.
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
}

/// One rule.
#[derive(Debug, Clone)]
pub struct RuleTally {
    /// Its kind.
    pub code: &'static Code,
    /// What came of it.
    pub outcomes: RuleOutcomes,
    /// Which fields were entered otherwise, and how often.
    pub fields: BTreeMap<&'static str, u64>,
    /// Reasons that were written for it. Each of two people writes one.
    pub reasons: BTreeMap<Written, u64>,
}

impl Dimension {
    fn value(self, outcome: &EntryOutcome) -> String {
        let SetUpNames { drug, area, indication, phase, role, edition } = &outcome.about;
        match self {
            Self::Drug => drug.clone(),
            Self::Area => area.clone(),
            Self::Indication => format!("{indication} with {drug}"),
            Self::Phase => phase.clone(),
            Self::Role => role.clone(),
            Self::Edition => edition.clone(),
            Self::Hour => {
                outcome.at.local().to_rfc3339().get(11..13).map(|hour| format!("{hour}:00")).unwrap_or_default()
            }
        }
    }
}

impl Selection {
    fn holds(&self, outcome: &EntryOutcome) -> bool {
        let day = outcome.at.local().date();
        let begins = |(dimension, wanted): &(Dimension, String)| {
            dimension.value(outcome).to_lowercase().starts_with(&wanted.trim().to_lowercase())
        };
        self.from.is_none_or(|from| day >= from) && self.to.is_none_or(|to| day <= to) && self.only.iter().all(begins)
    }
}

/// Number of rows of each table on one sheet of paper.
const ROWS_ON_PAPER: usize = 8;

/// One sheet to be printed and signed: the first rows of the tables that a committee looks at.
#[must_use]
pub fn for_committee(report: super::report::Report, notice: Option<&str>) -> String {
    let sections = ["in_all", "by_month", "by_drug", "by_limit", "doses", "near_misses"];
    report.brief(&sections, ROWS_ON_PAPER).page(notice, &["For the committee", "Pharmacist"])
}

impl Alerts {
    /// Counts everything in a journal that nobody is waited for any more.
    ///
    /// # Errors
    /// [`CaseError`] when a case cannot be read.
    pub fn of(cases: &Cases, selection: Selection, now: Moment) -> Result<Self, CaseError> {
        let mut alerts = Self { selection, ..Self::default() };
        alerts.uncounted = cases.each_judged(now, |judged| alerts.add(&judged))?;
        let late = |since: &&Moment| now.seconds_since(**since) > 3600;
        alerts.late = u64::try_from(alerts.uncounted.waiting.iter().filter(late).count()).unwrap_or(u64::MAX);
        alerts.fill_months();
        Ok(alerts)
    }

    /// Counts one reading, if it is among those that are asked for.
    pub fn add(&mut self, judged: &EntryOutcome) {
        if !self.selection.holds(judged) {
            return;
        }
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
        let SetUpNames { drug, area, indication, phase, .. } = &judged.about;
        let place = format!("{drug}, {area}, {indication}, {phase}");
        for (at, dimension) in self.selection.by.iter().enumerate() {
            let (set_ups, outcomes) = self.groups.entry((at, dimension.value(judged))).or_default();
            *set_ups += 1;
            for said in judged.said.iter().filter(|said| said.code.severity != Severity::Note) {
                outcomes.add(judged, said);
            }
        }
        for said in &judged.said {
            let limit = said.limit.as_ref().map(|limit| [place.clone(), limit.clone()]);
            let limit = limit.map(|key| self.limits.entry(key).or_insert_with(|| RuleTally::of(said.code)));
            let rule = self.rules.entry(said.code.id).or_insert_with(|| RuleTally::of(said.code));
            for tally in [Some(rule), limit].into_iter().flatten() {
                tally.add(judged, said);
            }
        }
        if let Some(independent) = judged.double_checked {
            self.started[0] += 1;
            self.started[1] += u64::from(independent);
        }
        for given in &judged.doses {
            self.doses.entry((place.clone(), given.unit.to_string())).or_default().push((given.dose, given.zone));
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
        rules.sort_by_key(|rule| (std::cmp::Reverse(rule.outcomes.fired), rule.code.id));
        rules
    }
}

impl RuleOutcomes {
    fn add(&mut self, judged: &EntryOutcome, said: &FindingOutcome) {
        self.fired += 1;
        *match FindingEnd::of(judged, said) {
            Some(FindingEnd::Overridden) => &mut self.overridden,
            Some(FindingEnd::Otherwise) => &mut self.otherwise,
            Some(FindingEnd::Stopped) => &mut self.stopped,
            Some(FindingEnd::Left) => &mut self.left,
            Some(FindingEnd::Alone) => &mut self.alone,
            Some(FindingEnd::Ran) => &mut self.ran,
            None => return,
        } += 1;
    }

    /// How often it kept something from going on as it was entered: stopped, entered otherwise, or left.
    #[must_use]
    pub const fn near_misses(&self) -> u64 {
        self.otherwise + self.stopped + self.left
    }
}

/// What came of a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FindingEnd {
    Overridden,
    Otherwise,
    Stopped,
    Left,
    Alone,
    Ran,
}

impl FindingEnd {
    /// Of a note nothing is asked, and so nothing comes of it.
    fn of(judged: &EntryOutcome, said: &FindingOutcome) -> Option<Self> {
        if said.code.severity == Severity::Note {
            return None;
        }
        Some(match judged.ended {
            Ended::Agreed if said.pair_findings => Self::Overridden,
            Ended::Stopped if said.pair_findings => Self::Stopped,
            Ended::Alone => Self::Alone,
            Ended::Ran => Self::Ran,
            // What two people agreed on is no longer what it spoke of.
            Ended::Agreed => Self::Otherwise,
            _ if !judged.otherwise.is_empty() => Self::Otherwise,
            Ended::Stopped => Self::Stopped,
            Ended::Left => Self::Left,
        })
    }
}

impl RuleTally {
    const fn of(code: &'static Code) -> Self {
        let outcomes = RuleOutcomes { fired: 0, overridden: 0, otherwise: 0, stopped: 0, left: 0, alone: 0, ran: 0 };
        Self { code, outcomes, fields: BTreeMap::new(), reasons: BTreeMap::new() }
    }

    fn add(&mut self, judged: &EntryOutcome, said: &FindingOutcome) {
        self.outcomes.add(judged, said);
        match FindingEnd::of(judged, said) {
            Some(FindingEnd::Overridden) => {
                for reason in &said.reasons {
                    *self.reasons.entry(reason.clone()).or_default() += 1;
                }
            }
            Some(FindingEnd::Otherwise) => {
                for field in &judged.otherwise {
                    *self.fields.entry(field).or_default() += 1;
                }
            }
            _ => {}
        }
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
