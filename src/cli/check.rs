//! `check`: one entry against the formulary, or many.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use crate::card::{DEMONSTRATION, wrapped};
use crate::check::{Checked, Finding, Severity, Verdict};
use crate::infusion::working;
use crate::quantity::exact_or_about;

use super::answer::Answer;
use super::entry_file::{NoAnswer, check, read};
use super::input::{FormularyArg, Refused};
use super::rate::{Exact, NOT_DOUBLE_CHECKED, Valued};
use super::{Common, Exit, Format, Now, batch};

#[derive(Debug, Args)]
pub(super) struct CheckArgs {
    /// The entry: a YAML file, or a JSON file by its ending; - for standard input
    #[arg(required_unless_present = "batch", conflicts_with = "batch")]
    entry: Option<PathBuf>,
    /// Many entries, one JSON object a line; - for standard input
    #[arg(long, value_name = "FILE")]
    batch: Option<PathBuf>,
    #[command(flatten)]
    formulary: FormularyArg,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: Common,
}

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
    message: &'c str,
    help: &'c str,
    #[serde(skip_serializing_if = "Option::is_none")]
    working: Option<&'c str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    source: Option<&'c str>,
    /// The reason that this person wrote for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'c str>,
}

impl<'c> CheckedJson<'c> {
    /// Without the working, for a line of a batch.
    pub(super) fn of(
        checked: &'c Checked<'_>,
        verdict: Verdict,
        findings: impl IntoIterator<Item = &'c Finding>,
    ) -> Self {
        let computed = checked.computed();
        let sum = computed.sum().ok().filter(|_| verdict != Verdict::Stop);
        let findings = findings.into_iter().map(|finding| FindingJson {
            code: finding.code.id,
            severity: finding.severity().word(),
            field: finding.field,
            message: &finding.message,
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

    pub(super) fn agreed(mut self, agreed: bool) -> Self {
        self.agreed = Some(agreed);
        self
    }

    pub(super) fn card(mut self, card: serde_json::Value) -> Self {
        self.card = Some(card);
        self
    }
}

pub(super) fn run(args: &CheckArgs) -> Answer {
    match answer(args) {
        Ok(answer) => answer,
        Err(NoAnswer::Refused(refused)) => Answer::refused(&refused, args.common.format),
        Err(NoAnswer::Fault(message)) => Answer::fault(&message),
    }
}

fn answer(args: &CheckArgs) -> Result<Answer, NoAnswer> {
    let now = args.now.moment()?;
    if let Some(file) = &args.batch {
        let formulary = args.formulary.open()?;
        formulary.load_all().map_err(Refused::from)?;
        return batch::run(file, &batch::Single { formulary: &formulary, now }).map_err(NoAnswer::Refused);
    }
    let entry = read(args.entry.as_deref().unwrap_or_else(|| std::path::Path::new("-")))?;
    let formulary = args.formulary.open()?;
    let checked = check(entry, &formulary, now)?;
    let verdict = checked.verdict();
    Ok(match args.common.format {
        Format::Json => Answer::json(
            &CheckedJson::of(&checked, verdict, checked.findings()).whole(&checked, verdict),
            Exit::of(verdict),
        ),
        Format::Text => Answer::text(text(&checked, verdict), Exit::of(verdict)),
    })
}

fn text(checked: &Checked<'_>, verdict: Verdict) -> String {
    let mut out = String::new();
    let computed = checked.computed();
    if computed.formulary().policy().demonstration {
        let _ = writeln!(out, "{DEMONSTRATION}");
    }
    let _ = writeln!(out, "{}", headline(verdict));
    if verdict != Verdict::Stop
        && let Ok(sum) = computed.sum()
    {
        let _ = writeln!(out, "\n{} mL/h\n", exact_or_about(sum.set));
        for line in &working_lines(checked) {
            let _ = writeln!(out, "  {line}");
        }
        let _ = writeln!(out, "  gives {} {}", exact_or_about(sum.given), computed.entry().dose().unit());
    }
    findings(&mut out, verdict, checked.findings(), |finding| computed.entry().reason(finding.code.id));
    let _ = writeln!(out, "\n{NOT_DOUBLE_CHECKED}");
    out
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
    reason: impl Fn(&Finding) -> Option<&'r str>,
) {
    for finding in findings {
        let first = format!("{:<9}", finding.severity().word());
        let rest = " ".repeat(9);
        let _ = writeln!(out);
        wrapped(out, &first, &format!("{}: {} [{}]", finding.field, finding.message, finding.code.id));
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

fn working_lines(checked: &Checked<'_>) -> Vec<String> {
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
