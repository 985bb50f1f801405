//! A set-up with every finding about it, and the verdict that follows.

use crate::infusion::Computed;

use super::finding::{Code, Finding, Severity, Stop, Verdict};
use super::rule::{Findings, Judges, Rule};
use super::rules::{RULES, order, running};

/// A computed entry that went through every rule.
#[derive(Debug)]
pub struct Checked<'f> {
    computed: Computed<'f>,
    findings: Vec<Finding>,
}

static REASON_WITHOUT_FINDING: Code = Code::note("reason-without-finding");

/// Stops beyond the limits after which a rate is shown only to somebody who types the dose again.
const DOSE_IN_DOUBT: [&str; 13] = [
    "age-outside",
    "dose-above-hard-limit",
    "dose-below-hard-limit",
    "dose-far-below",
    "dose-outside-titration",
    "dose-unit-not-local",
    "dosing-weight-not-local",
    "flow-beyond-hard-limit",
    "phase-without-limits",
    "rate-above-driver",
    "rate-below-driver",
    "strength-off-by-a-factor",
    "weight-beyond-hard-limit",
];

impl<'f> Checked<'f> {
    /// The stops that put the dose or its rate in doubt, and not the vein, the solution's age or the formulary.
    pub fn dose_in_doubt(&self) -> impl Iterator<Item = &Finding> {
        let in_doubt = |finding: &&Finding| DOSE_IN_DOUBT.contains(&finding.code.id);
        self.findings().iter().filter(in_doubt)
    }

    /// Runs every rule. What only follows from a rate is not said of a set-up that stops.
    #[must_use]
    pub fn of(computed: Computed<'f>) -> Self {
        Self::judged(computed, |severity| matches!(severity, Severity::Stop(_)))
    }

    /// Runs every rule for somebody who goes on past the limits: what follows from the rate is said too, unless there is
    /// no true rate.
    #[must_use]
    pub fn in_an_emergency(computed: Computed<'f>) -> Self {
        Self::judged(computed, |severity| severity == Severity::Stop(Stop::Impossible))
    }

    fn judged(computed: Computed<'f>, ends: impl Fn(Severity) -> bool) -> Self {
        let mut findings = Findings::default();
        let run = |rule: &Rule, findings: &mut Findings| (rule.check)(&computed, findings);
        RULES.iter().filter(|rule| rule.judges == Judges::Entry).for_each(|rule| run(rule, &mut findings));
        let stops = findings.iter().any(|finding| ends(finding.severity()));
        RULES.iter().filter(|rule| rule.judges == Judges::Rate && !stops).for_each(|rule| run(rule, &mut findings));
        let mut findings = findings.into_inner();
        let unused = computed.entry().reasons().filter(|(code, _)| {
            let of_a_pair = running::CODES.iter().chain(&order::CODES).any(|known| known.id == *code);
            let asked = |finding: &Finding| finding.code.id == *code && finding.severity() == Severity::Justify;
            !of_a_pair && !findings.iter().any(asked)
        });
        let unused: Vec<Finding> = unused
            .map(|(code, _)| {
                REASON_WITHOUT_FINDING
                    .found(
                        "reasons",
                        format!(
                            "a reason is written for `{}`, and nothing of that name needs one",
                            crate::quantity::clip(code)
                        ),
                    )
                    .help("take it away, or look whether another finding was meant")
            })
            .collect();
        findings.extend(unused);
        findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity()));
        Self { computed, findings }
    }

    /// The same, held against what runs: for somebody whose entry and its pair are sealed, and who is to write a reason.
    #[must_use]
    pub fn beside(mut self, runs: &running::RunningInfusion) -> Self {
        self.findings.extend(running::far(&self.computed, runs));
        self.findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity()));
        self
    }

    /// The same with what was found when both entries were held against something else.
    #[must_use]
    pub fn and(mut self, found: Option<Finding>) -> Self {
        self.findings.extend(found);
        self.findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity()));
        self
    }

    /// The computed entry.
    #[must_use]
    pub const fn computed(&self) -> &Computed<'f> {
        &self.computed
    }

    /// Every finding, what stops first.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// Findings that need a written reason and have none.
    pub fn unreasoned(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| {
            finding.severity() == Severity::Justify && self.computed.entry().reason(finding.code.id).is_none()
        })
    }

    /// What follows.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let stops = self.findings.iter().any(|finding| matches!(finding.severity(), Severity::Stop(_)));
        match (stops, self.unreasoned().next()) {
            (true, _) => Verdict::Stop,
            (false, Some(_)) => Verdict::Justify,
            (false, None) => Verdict::Proceed,
        }
    }
}

/// Every kind of finding there is.
pub fn codes() -> impl Iterator<Item = &'static Code> {
    let of_pairs = running::CODES.into_iter().chain(order::CODES);
    RULES.iter().flat_map(|rule| rule.codes.iter().copied()).chain(of_pairs).chain([&REASON_WITHOUT_FINDING])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_that_puts_a_dose_in_doubt_is_a_stop_beyond_the_limits() {
        for id in DOSE_IN_DOUBT {
            let known = RULES
                .iter()
                .flat_map(|rule| rule.codes)
                .any(|code| code.id == id && code.severity == Severity::Stop(Stop::Beyond));
            assert!(known, "{id}");
        }
    }
}
