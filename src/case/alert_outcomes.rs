//! What the checks said of set-ups, and what became of them: for whoever keeps the rules. In: sealed entries, each with
//! the very formulary it was made with. Out: kinds of findings, names of fields and how it ended; no value, no patient
//! and nobody's name. What still awaits somebody's blind entry stays closed.

use crate::agreement::fields_that_differ;
use crate::check::{Checked, Code, Severity};
use crate::formulary::Policy;
use crate::journal::Of;
use crate::quantity::Moment;

use super::Cases;
use super::code::CaseCode;
use super::error::CaseError;
use super::formularies::Formularies;
use super::review::ReviewStage;
use super::state::{self, Case, EntryTurn, Reading, SetUp};

/// One reading of a set-up that nobody is waited for any more.
#[derive(Debug, Clone)]
pub struct EntryOutcome {
    /// When its first entry was sealed.
    pub at: Moment,
    /// How it ended.
    pub ended: Ended,
    /// Every kind of finding about it, once.
    pub said: Vec<FindingOutcome>,
    /// The fields in which two of its entries disagreed, or which the next reading of the same set-up has otherwise.
    pub otherwise: Vec<&'static str>,
}

/// A kind of finding about a reading.
#[derive(Debug, Clone)]
pub struct FindingOutcome {
    /// Its kind.
    pub code: &'static Code,
    /// It was still said of what both entered alike: of a card, or of what was stopped.
    pub pair_findings: bool,
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
    /// Hands over every reading of every set-up that nobody is waited for any more, in the order of their cases; then how
    /// many readings still wait for somebody, and how many cases were forgotten.
    ///
    /// # Errors
    /// When a case cannot be read.
    pub fn each_judged(&self, now: Moment, mut with: impl FnMut(EntryOutcome)) -> Result<(u64, u64), CaseError> {
        let (mut waiting, mut forgotten) = (0, 0);
        for opened in self.journal.events(Of::Kind(state::OPENED))? {
            let Some(code) = opened.scope().and_then(|scope| CaseCode::parse(scope).ok()) else { continue };
            let case = self.case(code)?;
            if case.forgotten_at.is_some() {
                forgotten += 1;
                continue;
            }
            let kept = self.kept_of_case(&case)?;
            for set_up in &case.set_ups {
                match case.judged(set_up, now, &kept)? {
                    Some(judged) => judged.into_iter().for_each(&mut with),
                    None => waiting += 1,
                }
            }
        }
        Ok((waiting, forgotten))
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
            let ended = match ended {
                Ended::Stopped | Ended::Left if set_up.has_run(reading.number) => Ended::Ran,
                other => other,
            };
            let said = self.said(reading, &standing.stage, kept)?;
            let otherwise = self.otherwise(reading, next.filter(|_| ended != Ended::Agreed), kept)?;
            let first = reading.entries.first().map_or(now, |entry| entry.at);
            judged.push(EntryOutcome { at: first, ended, said, otherwise });
        }
        Ok(Some(judged))
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
                    all.push(FindingOutcome { code: finding.code, pair_findings: true, reasons });
                }
            }
        }
        if let ReviewStage::Stopped(decision) = stage
            && let Some(pair) = self.compared_again(reading, decision, kept)?
        {
            for finding in pair.findings() {
                if !all.iter().any(|known: &FindingOutcome| known.code == finding.code) {
                    all.push(FindingOutcome { code: finding.code, pair_findings: true, reasons: Vec::new() });
                }
            }
        }
        let mut also = |found: Vec<&'static Code>| {
            for code in found {
                if !all.iter().any(|known| known.code == code) {
                    all.push(FindingOutcome { code, pair_findings: false, reasons: Vec::new() });
                }
            }
        };
        for sealed in &reading.entries {
            let judge = if sealed.place == EntryTurn::Emergency { Checked::in_an_emergency } else { Checked::of };
            let checked = self.checked_by(sealed, sealed.at, kept, judge)?;
            also(checked.findings().iter().map(|finding| finding.code).collect());
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
