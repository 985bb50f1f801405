//! What several commands answer: numbers, findings and disagreements, as data and as lines of text.

use std::borrow::Cow;
use std::fmt::Write as _;

use serde::Serialize;

use crate::agreement::NotComparable;
use crate::card::{DEMONSTRATION, wrapped};
use crate::check::{Audience, Checked, Finding, Severity, Verdict};
use crate::formulary::Formulary;
use crate::infusion::working;
pub(super) use crate::quantity::{Exact, Valued};

/// The last line of every answer that only one person asked for.
pub(super) const NOT_DOUBLE_CHECKED: &str = "One person's sum: not double-checked.";

/// A checked entry as data. A rate is shown only where nothing stops.
#[derive(Debug, Serialize)]
pub(super) struct CheckedJson<'c> {
    version: u8,
    #[serde(skip_serializing_if = "Option::is_none")]
    notice: Option<&'static str>,
    verdict: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    agreed: Option<bool>,
    rate: Option<Valued>,
    #[serde(skip_serializing_if = "Option::is_none")]
    exact: Option<Exact>,
    #[serde(skip_serializing_if = "Option::is_none")]
    given: Option<Valued>,
    findings: Vec<FindingJson<'c>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    working: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    card: Option<serde_json::Value>,
}

#[derive(Debug, Serialize)]
struct FindingJson<'c> {
    code: &'static str,
    severity: &'static str,
    field: &'static str,
    message: Cow<'c, str>,
    help: &'c str,
    #[serde(skip_serializing_if = "Option::is_none")]
    working: Option<&'c str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    source: Option<&'c str>,
    /// The reason that this person wrote for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'c str>,
}

/// The whole answer when two entries disagree: nothing that carries a value.
#[derive(Debug, Serialize)]
pub(super) struct DisagreeJson<'d> {
    version: u8,
    verdict: &'static str,
    agreed: bool,
    differ: &'d [&'static str],
}

impl<'c> CheckedJson<'c> {
    /// Without the working, for a line of a batch.
    pub(super) fn of(
        checked: &'c Checked<'_>,
        verdict: Verdict,
        findings: impl IntoIterator<Item = &'c Finding>,
        audience: Audience,
    ) -> Self {
        let computed = checked.computed();
        let sum = computed.sum().ok().filter(|_| verdict != Verdict::Stop);
        let findings = findings.into_iter().map(|finding| FindingJson {
            code: finding.code.id,
            severity: finding.severity().word(),
            field: finding.field,
            message: finding.message_for(audience),
            help: &finding.help,
            working: finding.working.as_deref().filter(|_| verdict != Verdict::Stop),
            source: finding.source.as_deref(),
            reason: computed.entry().reason(finding.code.id).filter(|_| finding.severity() == Severity::Justify),
        });
        Self {
            version: 1,
            notice: computed.formulary().policy().demonstration.then_some(DEMONSTRATION),
            verdict: verdict.word(),
            agreed: None,
            rate: sum.map(|sum| Valued::of(sum.set, "mL/h")),
            exact: None,
            given: None,
            findings: findings.collect(),
            working: Vec::new(),
            card: None,
        }
    }

    /// With the exact rate, the dose given and the working, for one answer.
    pub(super) fn whole(mut self, checked: &Checked<'_>, verdict: Verdict) -> Self {
        let computed = checked.computed();
        if let Some(sum) = computed.sum().ok().filter(|_| verdict != Verdict::Stop) {
            self.exact = Some(Exact::of(sum.exact, "mL/h"));
            self.given = Some(Valued::of(sum.given, computed.entry().dose().unit()));
            self.working = working_lines(checked);
        }
        self
    }

    /// For a pair. The reasons of one person are not for the other before both have written theirs: the card has both.
    pub(super) fn agreed(mut self, agreed: bool) -> Self {
        self.agreed = Some(agreed);
        self.findings.iter_mut().for_each(|finding| finding.reason = None);
        self
    }

    pub(super) fn card(mut self, card: serde_json::Value) -> Self {
        self.card = Some(card);
        self
    }
}

impl<'d> DisagreeJson<'d> {
    pub(super) const fn of(differ: &'d [&'static str]) -> Self {
        Self { version: 1, verdict: "disagree", agreed: false, differ }
    }
}

/// The stable code of a pair that may not be compared.
pub(super) const fn code(refused: &NotComparable) -> &'static str {
    match refused {
        NotComparable::SamePerson => "same-person",
        NotComparable::TwoPatients => "two-patients",
        NotComparable::RatesDiffer => "rates-differ",
    }
}

/// The verdict in one line.
pub(super) const fn headline(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Proceed => "NOTHING STANDS IN THE WAY of this one entry; a second person enters theirs",
        Verdict::Justify => "A WRITTEN REASON IS NEEDED",
        Verdict::Stop => "STOP: no rate is shown",
    }
}

/// Every finding with what to do, its working, its source and the reason written for it.
pub(super) fn findings<'c, 'r>(
    out: &mut String,
    verdict: Verdict,
    findings: impl IntoIterator<Item = &'c Finding>,
    audience: Audience,
    reason: impl Fn(&Finding) -> Option<&'r str>,
) {
    for finding in findings {
        let first = format!("{:<9}", finding.severity().word());
        let rest = " ".repeat(9);
        let _ = writeln!(out);
        wrapped(out, &first, &format!("{}: {} [{}]", finding.field, finding.message_for(audience), finding.code.id));
        wrapped(out, &rest, &format!("do: {}", finding.help));
        // A stop shows no rate, and the sum behind a finding may hold one.
        if let Some(working) = finding.working.as_ref().filter(|_| verdict != Verdict::Stop) {
            wrapped(out, &rest, &format!("sum: {working}"));
        }
        if let Some(source) = &finding.source {
            wrapped(out, &rest, &format!("from: {source}"));
        }
        if let Some(reason) = reason(finding) {
            wrapped(out, &rest, &format!("reason: {reason}"));
        }
    }
}

/// Findings as they were when it was decided.
#[cfg(feature = "journal")]
pub(super) fn kept_findings(out: &mut String, findings: &[crate::case::KeptFinding]) {
    for finding in findings {
        let rest = " ".repeat(9);
        let _ = writeln!(out);
        let says = format!("{}: {} [{}]", finding.field, finding.message, finding.code);
        wrapped(out, &format!("{:<9}", finding.severity), &says);
        wrapped(out, &rest, &format!("do: {}", finding.help));
        if let Some(source) = &finding.source {
            wrapped(out, &rest, &format!("from: {source}"));
        }
    }
}

/// Where a reason is missing: what the house offers, and where to write it.
pub(super) fn reasons_offered(out: &mut String, verdict: Verdict, formulary: &Formulary) {
    let offered = &formulary.policy().clinical_reasons;
    if verdict != Verdict::Justify || offered.is_empty() {
        return;
    }
    let _ = writeln!(out);
    let text = format!(
        "Write the reason in the entry, under `reasons:`, with the code in brackets as its key: in your own words, or one of: {}.",
        offered.join("; ")
    );
    wrapped(out, "", &text);
}

/// The sum of a checked entry, line by line.
pub(super) fn working_lines(checked: &Checked<'_>) -> Vec<String> {
    let computed = checked.computed();
    let Ok(sum) = computed.sum() else { return Vec::new() };
    let label = computed.entry().label();
    let strength = Some(label.content);
    let mut lines: Vec<String> = sum.derived.iter().map(|derived| derived.working.clone()).collect();
    if let Ok(sum_lines) = working::from_dose(computed.entry().dose(), sum.body, strength, sum.exact) {
        lines.extend(sum_lines);
    }
    lines.push(working::rounded(sum.exact, sum.set, sum.step));
    lines
}
