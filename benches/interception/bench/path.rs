//! The real path: text, entry, sum, checks, agreement, card or none; and the read-back.

use countersign::agreement::{Outcome, agree, agree_beside};
use countersign::case::{Shown, against_agreed};
use countersign::check::{Checked, RunningInfusion, Severity};
use countersign::document::{LINE_LIMIT, Path, read_json};
use countersign::entry::EntryForm;
use countersign::formulary::Formulary;
use countersign::infusion::Computed;
use countersign::quantity::{Moment, Ratio};
use serde_json::Value;

/// What came of two entries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Came {
    /// One of them cannot be read.
    Refused(String),
    /// They differ: in these fields, for these likely causes.
    Differ(Vec<&'static str>, Vec<String>),
    /// Not to be compared: two patients.
    Apart,
    /// Both stopped, by these rules.
    Stopped(Vec<&'static str>),
    /// A written reason is asked for, by these rules.
    Reason(Vec<&'static str>),
    /// A card, with this rate in mL/h, and these notes.
    Card(Ratio, Vec<&'static str>),
}

/// The second person's form of the same reading.
pub(crate) fn second(first: &Value) -> Value {
    let mut second = first.clone();
    second["entered_by"] = serde_json::json!({"name": "Second Person", "role": "nurse"});
    second
}

/// Two texts, through everything.
pub(crate) fn judge(
    first: &str,
    other: &str,
    runs: Option<&RunningInfusion>,
    formulary: &Formulary,
    now: Moment,
) -> Came {
    let (one, two) = match (checked(first, formulary, now), checked(other, formulary, now)) {
        (Ok(one), Ok(two)) => (one, two),
        (Err(code), _) | (_, Err(code)) => return Came::Refused(code),
    };
    match agree_beside(one, two, runs) {
        Err(_) => Came::Apart,
        Ok(Outcome::Differ(differ)) => {
            Came::Differ(differ.fields().to_vec(), differ.diagnoses().iter().map(|one| one.says.clone()).collect())
        }
        Ok(Outcome::Stopped(pair)) => {
            Came::Stopped(codes(pair.first(), |severity| matches!(severity, Severity::Stop(_))))
        }
        Ok(Outcome::ReasonsMissing(pair)) => {
            Came::Reason(pair.unreasoned().iter().map(|finding| finding.code.id).collect())
        }
        Ok(Outcome::Agreed(agreed)) => {
            Came::Card(agreed.sum().set, codes(agreed.pair().first(), |severity| matches!(severity, Severity::Note)))
        }
    }
}

/// What the driver shows against what two people agreed on: whether anything differs. Nothing where there is no card.
pub(crate) fn read_back(
    first: &str,
    other: &str,
    shown: &[(&str, String)],
    formulary: &Formulary,
    now: Moment,
) -> Option<bool> {
    let (one, two) = (checked(first, formulary, now).ok()?, checked(other, formulary, now).ok()?);
    let Ok(Outcome::Agreed(agreed)) = agree(one, two) else { return None };
    let shown: Vec<Shown> =
        shown.iter().map(|(value, typed)| Shown { value: (*value).to_owned(), typed: typed.clone() }).collect();
    // What cannot be read is not taken for right.
    Some(against_agreed(&agreed, &shown).map_or(true, |differences| !differences.is_empty()))
}

/// By dose limits alone, one person: whether they stop it, and whether they ask for a reason.
pub(crate) fn dose_limits_alone(first: &str, formulary: &Formulary, now: Moment) -> (bool, bool) {
    const LIMITS: [&str; 4] =
        ["dose-above-hard-limit", "dose-below-hard-limit", "dose-above-soft-limit", "dose-below-soft-limit"];
    let Ok(checked) = checked(first, formulary, now) else { return (false, false) };
    let found = |hard: bool| {
        checked
            .findings()
            .iter()
            .any(|finding| LIMITS.contains(&finding.code.id) && matches!(finding.severity(), Severity::Stop(_)) == hard)
    };
    (found(true), found(false))
}

fn checked<'f>(text: &str, formulary: &'f Formulary, now: Moment) -> Result<Checked<'f>, String> {
    let mut faults = Vec::new();
    let root = read_json(text, LINE_LIMIT, &mut faults);
    let entry = root.and_then(|root| EntryForm::at(&root, Path::Root).read(&mut faults));
    let first = || faults.first().map(|fault| fault.code.to_owned()).unwrap_or_default();
    match entry {
        Some(entry) if faults.is_empty() => {
            Computed::of(entry, formulary, now).map(Checked::of).map_err(|faulty| faulty.to_string())
        }
        _ => Err(first()),
    }
}

fn codes(checked: &Checked<'_>, of: impl Fn(Severity) -> bool) -> Vec<&'static str> {
    checked.findings().iter().filter(|finding| of(finding.severity())).map(|finding| finding.code.id).collect()
}

/// What runs where one entry is what runs: the drug, its dose and its rate.
pub(crate) fn runs(text: &str, formulary: &Formulary, now: Moment) -> Option<RunningInfusion> {
    let checked = checked(text, formulary, now).ok()?;
    let (computed, dose) = (checked.computed(), checked.computed().entry().dose());
    let drug = computed.names().drug.as_ref().ok()?.name.clone();
    let rate = computed.sum().ok()?.set;
    Some(RunningInfusion { drug, dose: dose.number().ratio(), unit: dose.unit(), rate })
}

/// The rate that one entry comes to, whether it may be set or not.
pub(crate) fn rate(text: &str, formulary: &Formulary, now: Moment) -> Option<Ratio> {
    checked(text, formulary, now).ok()?.computed().sum().ok().map(|sum| sum.set)
}

impl Came {
    /// The rules that spoke.
    pub(crate) fn rules(&self) -> Vec<&'static str> {
        match self {
            Self::Stopped(codes) | Self::Reason(codes) | Self::Card(_, codes) => codes.clone(),
            _ => Vec::new(),
        }
    }
}
