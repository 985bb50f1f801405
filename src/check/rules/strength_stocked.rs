//! The strength is one that is stocked for this use.

use crate::check::cause;
use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::formulary::{Indication, Stocked};
use crate::infusion::Computed;
use crate::quantity::{Concentration, Ratio, UnitKind, grouped};

static OFF_BY_A_FACTOR: Code = Code::beyond("strength-off-by-a-factor");
static OTHER_KIND: Code = Code::impossible("label-of-another-kind");
static NOT_LISTED: Code = Code::beyond("strength-not-listed");
static NOT_STOCKED: Code = Code::justify("strength-not-stocked");

pub(super) const RULE: Rule =
    Rule { codes: &[&OFF_BY_A_FACTOR, &OTHER_KIND, &NOT_LISTED, &NOT_STOCKED], judges: Judges::Entry, check };

/// The stocked strength that the label shows, if it is one for this use.
pub(in crate::check) fn stocked<'c>(computed: &'c Computed<'_>) -> Option<&'c Stocked> {
    let names = computed.names();
    let (drug, indication) = (names.drug.as_ref().ok()?, names.indication.as_ref().ok()?);
    let label = computed.entry().label();
    let found = label.content.concentration();
    indication.strengths.iter().filter_map(|index| drug.strengths.get(*index)).find(|one| matches(computed, one, found))
}

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let names = computed.names();
    let (Ok(drug), Ok(indication)) = (names.drug.as_ref(), names.indication.as_ref()) else { return };
    let label = computed.entry().label();
    let found = label.content.concentration();
    let here = || indication.strengths.iter().filter_map(|index| drug.strengths.get(*index));
    if !here().any(|one| one.amount_unit().kind() == found.kind) {
        // Where the dose counts something too, `computable` says it already.
        if computed.entry().dose().unit().dose().kind() == UnitKind::Volume {
            let message = format!("the label counts {}, and the stocked strengths do not", found.kind.described());
            findings.add(OTHER_KIND.found("label.amount", message).help("read the label again: is it this drug?"));
        }
        return;
    }
    if here().any(|one| matches(computed, one, found)) {
        return;
    }
    let weight = computed.entry().patient().weight.value();
    // As the label says it, where it says the same kind of thing.
    let stated = label.strength.amount_unit();
    let shown = found.shown_in(if stated.kind() == found.kind { stated } else { label.amount.unit() });
    let listed = here().map(|one| shown_stocked(one, weight)).collect::<Vec<_>>().join(", or ");
    let slip = here().find_map(|one| {
        let concentration = one.concentration(weight)?;
        let exactly = || cause::of_strength(concentration.per_ml, found.per_ml);
        Some((exactly().or_else(|| nearly(computed, one, found))?, one))
    });
    let message = format!("{shown} is not stocked for {}", indication.name);
    if let Some((factor, one)) = slip {
        let asks = match factor {
            60 => "per min and per h taken for each other",
            1000 => "mcg and mg taken for each other",
            _ => "a point misplaced, or a zero too many or too few",
        };
        let message = format!("{message}. Perhaps {} times: {asks}?", grouped(&factor.to_string()));
        let help = "read the label again; a strength typed too low is an overdose, too high an underdose";
        let finding = OFF_BY_A_FACTOR.found("label.strength", message).help(help).origin(&one.origin);
        findings.add(finding.expected(format!("{} is stocked", shown_stocked(one, weight))));
        return;
    }
    let finding = if indication.listed_only {
        NOT_LISTED.found("label.strength", message).help("make up a listed strength").origin(&indication.origin)
    } else {
        not_stocked(message, indication)
    };
    findings.add(finding.expected(format!("stocked is {listed}")));
}

fn not_stocked(message: String, indication: &Indication) -> crate::check::finding::Finding {
    let help = "make up a stocked strength; if that is not possible, write the reason";
    NOT_STOCKED.found("label.strength", message).help(help).origin(&indication.origin)
}

/// Exactly, and for a recipe per kg within the policy's tolerance: the amount drawn up is rounded there.
fn matches(computed: &Computed<'_>, one: &Stocked, found: Concentration) -> bool {
    let weight = computed.entry().patient().weight.value();
    let Some(expected) = one.concentration(weight) else { return false };
    if expected == found {
        return true;
    }
    let within = computed.formulary().policy().per_kg_within.value();
    one.is_per_kilogram()
        && expected.kind == found.kind
        && expected
            .per_ml
            .apart(found.per_ml)
            .and_then(|apart| apart.times(Ratio::whole(100))?.over(expected.per_ml))
            .is_ok_and(|off| off <= within)
}

/// As [`cause::of_strength`], where the amount drawn up by a recipe per kg was rounded.
fn nearly(computed: &Computed<'_>, one: &Stocked, found: Concentration) -> Option<u64> {
    [10, 100, 1000, 10_000, 100_000, 1_000_000, 60].into_iter().filter(|_| one.is_per_kilogram()).find(|factor| {
        let factor = Ratio::whole(*factor);
        [found.per_ml.times(factor), found.per_ml.over(factor)]
            .into_iter()
            .flatten()
            .any(|per_ml| matches(computed, one, Concentration { per_ml, ..found }))
    })
}

fn shown_stocked(one: &Stocked, weight: Ratio) -> String {
    let strength = one.concentration(weight).map(|found| found.shown_in(one.amount_unit())).unwrap_or_default();
    format!("{strength} ({one})")
}
