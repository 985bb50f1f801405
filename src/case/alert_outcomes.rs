//! What the checks said of set-ups, what became of them, and which doses ran: for the people who keep the rules. In: sealed
//! entries, each with the formulary it was made with, and the record. Out: names of drugs, areas and fields, and how it
//! ended; nothing of a patient, and nobody's name. A set-up whose latest reading awaits a blind entry stays closed.

use std::collections::BTreeMap;

use crate::agreement::fields_that_differ;
use crate::check::{Checked, Code, Finding, Severity};
use crate::formulary::{Band, DoseLimits, Policy, Side};
use crate::quantity::{DoseRate, DoseRateUnit, Moment, Ratio};

use super::Cases;
use super::basis::SyringeParameters;
use super::error::CaseError;
use super::formularies::Formularies;
use super::list::set_up_rows;
use super::restart::RateAndDose;
use super::review::ReviewStage;
use super::state::{Case, EntryTurn, Reading, SetUp};

/// One reading of a set-up that nobody is waited for any more.
#[derive(Debug, Clone)]
pub struct EntryOutcome {
    /// When its first entry was sealed.
    pub at: Moment,
    /// What it was about.
    pub about: SetUpNames,
    /// How it ended.
    pub ended: Ended,
    /// Every kind of finding about it, once.
    pub said: Vec<FindingOutcome>,
    /// The fields in which two of its entries disagreed, or which the next reading of the same set-up has otherwise.
    pub otherwise: Vec<&'static str>,
    /// Whether its syringe was put in, and then whether two people had agreed on it independently before.
    pub double_checked: Option<bool>,
    /// Every dose that ran, by the record: the one it was started with, and each change of the rate.
    pub doses: Vec<DoseGiven>,
}

/// By which a reading is counted.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SetUpNames {
    /// The drug.
    pub drug: String,
    /// The area.
    pub area: String,
    /// What the drug is used for.
    pub indication: String,
    /// The phase.
    pub phase: String,
    /// The role of the person who entered it first.
    pub role: String,
    /// Version and first digits of the formulary that it was entered with.
    pub edition: String,
}

/// A dose that ran.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DoseGiven {
    /// In the unit.
    pub dose: Ratio,
    /// The unit of its use.
    pub unit: DoseRateUnit,
    /// Where it lies among the limits of its phase.
    pub zone: DoseZone,
}

/// Where a dose lies among the limits, from the lowest on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DoseZone {
    /// Below the soft or the hard lower limit.
    BelowSoft,
    /// Below what is usual.
    BelowUsual,
    /// Usual.
    Usual,
    /// Above what is usual.
    AboveUsual,
    /// Above the soft limit.
    AboveSoft,
    /// Above the hard limit.
    AboveHard,
}

impl DoseZone {
    /// Where a dose lies among the limits of a phase, in the unit of which it is.
    #[must_use]
    pub fn among(limits: &DoseLimits, dose: Ratio) -> Self {
        let side = |band: Option<&Band<DoseRate>>| band.and_then(|band| band.outside(dose)).map(|one| one.side);
        let hard = side(limits.beyond.hard.as_ref());
        match (hard, side(limits.beyond.soft.as_ref()), side(Some(&limits.usual))) {
            (Some(Side::Above), ..) => Self::AboveHard,
            (Some(Side::Below), ..) | (_, Some(Side::Below), _) => Self::BelowSoft,
            (_, Some(Side::Above), _) => Self::AboveSoft,
            (.., Some(Side::Below)) => Self::BelowUsual,
            (.., Some(Side::Above)) => Self::AboveUsual,
            (None, None, None) => Self::Usual,
        }
    }

    /// Whether a reason is asked for, or more.
    #[must_use]
    pub const fn is_beyond(self) -> bool {
        matches!(self, Self::BelowSoft | Self::AboveSoft | Self::AboveHard)
    }
}

/// A dose that runs now.
#[derive(Debug, Clone)]
pub struct RunningNow {
    /// What people call the set-up.
    pub named: String,
    /// What it is about.
    pub about: SetUpNames,
    /// The dose of its rate.
    pub given: DoseGiven,
}

/// What of a journal is not counted, and what its open set-ups still lack.
#[derive(Debug, Clone, Default)]
pub struct Uncounted {
    /// Since when each set-up waits for somebody.
    pub waiting: Vec<Moment>,
    /// Cases that were forgotten.
    pub forgotten: u64,
    /// How often each thing is outstanding, by its code.
    pub outstanding: BTreeMap<&'static str, u64>,
}

/// A kind of finding about a reading.
#[derive(Debug, Clone)]
pub struct FindingOutcome {
    /// Its kind.
    pub code: &'static Code,
    /// It was still said of what both entered alike: of a card, or of what was stopped.
    pub pair_findings: bool,
    /// The limit of the dose that it crossed, where it is about one.
    pub limit: Option<String>,
    /// The reasons that were written for it in the entries that agreed.
    pub reasons: Vec<Written>,
}

/// A written reason, without what may name somebody.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Written {
    /// One of the formulary's own list.
    Listed(String),
    /// Confirmed with somebody, who is named in the entry and not here.
    Confirmed,
    /// Words of one's own, which are not shown.
    Free,
}

/// How a reading ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Two people agreed on it, or one checked an emergency entry: a card.
    Agreed,
    /// Both said the same, and it stopped.
    Stopped,
    /// It was left for another reading, or no two of three agreed.
    Left,
    /// An emergency entry that nobody checked before it was read anew.
    Alone,
    /// It was started all the same, without a card: what was said of it kept nothing from the patient.
    Ran,
}

impl Cases {
    /// Calls `with` for every reading of every set-up whose latest reading waits for nobody, in the order of their cases.
    ///
    /// # Errors
    /// When a case cannot be read.
    pub fn each_judged(&self, now: Moment, mut with: impl FnMut(EntryOutcome)) -> Result<Uncounted, CaseError> {
        let mut uncounted = Uncounted::default();
        for code in self.codes()? {
            let case = self.case(code)?;
            if case.forgotten_at.is_some() {
                uncounted.forgotten += 1;
                continue;
            }
            let kept = self.kept_of_case(&case)?;
            for set_up in &case.set_ups {
                match case.judged(set_up, now, &kept)? {
                    Some(judged) => judged.into_iter().for_each(&mut with),
                    None => {
                        let first = set_up.latest().and_then(|latest| latest.entries.first());
                        uncounted.waiting.push(first.map_or(now, |entry| entry.at));
                    }
                }
            }
            let rows = set_up_rows(&case, &|_, _| Ok(None), now)?;
            for owed in rows.iter().filter(|row| !row.over).flat_map(|row| &row.owed) {
                *uncounted.outstanding.entry(owed.code).or_default() += 1;
            }
        }
        Ok(uncounted)
    }
}

impl Cases {
    /// Every dose that runs now, by the record, of what two people agreed on or one entered in an emergency.
    ///
    /// # Errors
    /// When a case cannot be read.
    pub fn running_now(&self, now: Moment) -> Result<Vec<RunningNow>, CaseError> {
        let mut running = Vec::new();
        for case in self.not_forgotten()? {
            let case = case?;
            for set_up in &case.set_ups {
                let Some(course) = case.course(set_up, now)?.filter(|course| course.is_running()) else { continue };
                let (basis, rate) = (&course.syringe().basis, course.rate.or(course.before_pause));
                let given = rate.filter(|rate| !rate.is_zero()).and_then(|rate| zone(basis, rate));
                if let Some((given, reading)) = given.zip(set_up.reading(basis.reading)) {
                    let about = case.names_of(reading, &self.kept_of_case(&case)?)?;
                    running.push(RunningNow { named: case.named(set_up)?, about, given });
                }
            }
        }
        Ok(running)
    }
}

impl Case {
    /// Every reading of a set-up; nothing while its latest awaits somebody: what was said of one reading would tell the
    /// next person what to expect of another.
    fn judged(&self, set_up: &SetUp, now: Moment, kept: &Formularies) -> Result<Option<Vec<EntryOutcome>>, CaseError> {
        let mut judged = Vec::new();
        for (at, reading) in set_up.readings.iter().enumerate() {
            let next = set_up.readings.get(at + 1);
            let standing = self.standing(reading);
            let ended = match &standing.stage {
                ReviewStage::Agreed(_) | ReviewStage::CheckedAfterwards(..) => Ended::Agreed,
                ReviewStage::Stopped(_) => Ended::Stopped,
                ReviewStage::NotAgreed { .. } => Ended::Left,
                _ if next.is_none() => return Ok(None),
                ReviewStage::Unchecked => Ended::Alone,
                _ => Ended::Left,
            };
            let has_run = set_up.has_run(reading.number);
            let ended = match ended {
                Ended::Stopped | Ended::Left if has_run => Ended::Ran,
                other => other,
            };
            let said = self.said(reading, &standing.stage, kept)?;
            let otherwise = self.otherwise(reading, next.filter(|_| ended != Ended::Agreed), kept)?;
            let first = reading.entries.first().map_or(now, |entry| entry.at);
            let independent = matches!(standing.stage, ReviewStage::Agreed(_));
            judged.push(EntryOutcome {
                at: first,
                about: self.names_of(reading, kept)?,
                ended,
                said,
                otherwise,
                double_checked: has_run.then_some(independent),
                doses: self.doses_given(set_up, reading.number, now),
            });
        }
        Ok(Some(judged))
    }

    /// By which a reading is counted: as its first entry has it.
    fn names_of(&self, reading: &Reading, kept: &Formularies) -> Result<SetUpNames, CaseError> {
        let Some(first) = reading.entries.first() else { return Ok(SetUpNames::default()) };
        let checked = self.checked(first, first.at, kept)?;
        let (entry, names) = (checked.computed().entry(), checked.computed().names());
        let known = |name: Option<&str>| name.unwrap_or("(not known)").to_owned();
        let version = &checked.computed().formulary().policy().version;
        Ok(SetUpNames {
            drug: known(names.drug.as_ref().ok().map(|drug| drug.name.as_str())),
            area: known(names.area.map(|area| area.name.as_str())),
            indication: known(names.indication.as_ref().ok().map(|one| one.name.as_str())),
            phase: entry.phase().word().to_owned(),
            role: self.open(first)?.role,
            edition: format!("{version} ({})", first.edition.get(..8).unwrap_or(&first.edition)),
        })
    }

    /// Every dose that one syringe gave, by the record. A record that cannot be followed gives none.
    fn doses_given(&self, set_up: &SetUp, reading: u16, now: Moment) -> Vec<DoseGiven> {
        let Ok(Some(course)) = self.course(set_up, now) else { return Vec::new() };
        let mut doses: Vec<DoseGiven> = Vec::new();
        for (at, syringe) in course.syringes.iter().enumerate().filter(|(_, one)| one.basis.reading == reading) {
            let until = course.syringes.get(at + 1).map_or(course.until, |next| next.since);
            let within = |from: Moment| !from.is_before(syringe.since) && from.is_before(until);
            let mut last = None;
            for segment in course.segments.iter().filter(|segment| within(segment.from) && !segment.rate.is_zero()) {
                // A pause between two times at one rate is no other dose.
                if last != Some(segment.rate) {
                    doses.extend(zone(&syringe.basis, segment.rate));
                }
                last = Some(segment.rate);
            }
        }
        doses
    }

    /// What every entry of a reading was told when it was sealed, and what both are told together.
    fn said(
        &self,
        reading: &Reading,
        stage: &ReviewStage,
        kept: &Formularies,
    ) -> Result<Vec<FindingOutcome>, CaseError> {
        let mut all: Vec<FindingOutcome> = Vec::new();
        let agreed = stage.same().map(|decision| self.compared_again(reading, decision, kept)).transpose()?.flatten();
        if let Some(pair) = agreed {
            for finding in pair.findings() {
                let reasons = [pair.first(), pair.second()].into_iter().filter_map(|one| {
                    let needs = finding.severity() == Severity::Justify;
                    let reason = one.computed().entry().reason(finding.code.id).filter(|_| needs)?;
                    Some(Written::of(reason, one.computed().formulary().policy()))
                });
                let reasons: Vec<Written> = reasons.collect();
                if !all.iter().any(|known| known.code == finding.code) {
                    let limit = crossed(finding, pair.first());
                    all.push(FindingOutcome { code: finding.code, pair_findings: true, limit, reasons });
                }
            }
        }
        if let ReviewStage::Stopped(decision) = stage
            && let Some(pair) = self.compared_again(reading, decision, kept)?
        {
            for finding in pair.findings() {
                if !all.iter().any(|known: &FindingOutcome| known.code == finding.code) {
                    let limit = crossed(finding, pair.first());
                    all.push(FindingOutcome { code: finding.code, pair_findings: true, limit, reasons: Vec::new() });
                }
            }
        }
        for sealed in &reading.entries {
            let judge = if sealed.place == EntryTurn::Emergency { Checked::in_an_emergency } else { Checked::of };
            let checked = self.checked_by(sealed, sealed.at, kept, judge)?;
            for finding in checked.findings() {
                if !all.iter().any(|known| known.code == finding.code) {
                    let limit = crossed(finding, &checked);
                    let outcome =
                        FindingOutcome { code: finding.code, pair_findings: false, limit, reasons: Vec::new() };
                    all.push(outcome);
                }
            }
        }
        Ok(all)
    }

    /// Fields that any two entries of a reading have otherwise; and those that the first entry of the next has.
    fn otherwise(
        &self,
        reading: &Reading,
        next: Option<&Reading>,
        kept: &Formularies,
    ) -> Result<Vec<&'static str>, CaseError> {
        let entries = reading.entries.iter().chain(next.and_then(|next| next.entries.last()));
        let checked: Vec<Checked<'_>> =
            entries.map(|sealed| self.checked(sealed, sealed.at, kept)).collect::<Result<_, _>>()?;
        let mut fields = Vec::new();
        for pair in checked.windows(2) {
            fields.extend(fields_that_differ(pair[0].computed(), pair[1].computed()));
        }
        fields.sort_unstable();
        fields.dedup();
        Ok(fields)
    }
}

/// The limit of the dose that a finding is about, with its number.
fn crossed(finding: &Finding, checked: &Checked<'_>) -> Option<String> {
    let limits = checked.computed().names().limits?;
    let (soft, hard) = (limits.beyond.soft.as_ref(), limits.beyond.hard.as_ref());
    let (name, limit) = match finding.code.id {
        "dose-above-soft-limit" => ("soft upper limit", soft?.to),
        "dose-below-soft-limit" => ("soft lower limit", soft?.from),
        "dose-above-hard-limit" => ("hard upper limit", hard?.to),
        "dose-below-hard-limit" => ("hard lower limit", hard?.from),
        _ => return None,
    };
    limit.map(|limit| format!("{name} {limit}"))
}

/// The dose of a rate, and where it lies; nothing where nobody agreed on limits, or it cannot be worked out.
fn zone(basis: &SyringeParameters, rate: Ratio) -> Option<DoseGiven> {
    let limits = basis.limits.as_ref().filter(|_| !basis.sealed)?;
    limits.usual.from.or(limits.usual.to).filter(|limit| limit.unit() == basis.unit)?;
    let RateAndDose { dose, unit, .. } = RateAndDose::given_by(basis, rate).ok()?;
    let zone = DoseZone::among(limits, dose);
    Some(DoseGiven { dose, unit, zone })
}

impl Written {
    fn of(reason: &str, policy: &Policy) -> Self {
        let folded = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let reason = folded(reason);
        match policy.clinical_reasons.iter().find(|known| folded(known) == reason) {
            Some(known) => Self::Listed(known.clone()),
            None if reason.starts_with("confirmed with") => Self::Confirmed,
            None => Self::Free,
        }
    }
}
