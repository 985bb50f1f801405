//! Every typed name leads somewhere: drug, area, indication, phase, equipment.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::{Computed, NoIndication};
use crate::quantity::{clip, look_alike};

static DRUG: Code = Code::impossible("drug-unknown");
static AREA: Code = Code::impossible("area-unknown");
static NOT_IN_AREA: Code = Code::impossible("drug-not-in-area");
static INDICATION: Code = Code::impossible("indication-unknown");
static NOT_NAMED: Code = Code::impossible("indication-not-named");
static PHASE: Code = Code::beyond("phase-without-limits");
static CONTAINER: Code = Code::impossible("container-unknown");
static LINE: Code = Code::impossible("line-unknown");
static DRIVER: Code = Code::impossible("driver-unknown");

pub(super) const RULE: Rule = Rule {
    codes: &[&DRUG, &AREA, &NOT_IN_AREA, &INDICATION, &NOT_NAMED, &PHASE, &CONTAINER, &LINE, &DRIVER],
    judges: Judges::Entry,
    check,
};

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, names, formulary) = (computed.entry(), computed.names(), computed.formulary());
    // No drug that is near: somebody who reads alone would copy it off the screen.
    if names.drug.is_err() {
        let message = format!("the drug `{}` is not in this formulary", clip(entry.drug()));
        let retype = look_alike::named(entry.drug());
        let help = "read the order again, and write the generic name. A drug without local limits cannot be checked";
        findings.add(DRUG.found("drug", message).help(format!("{retype}{help}")));
    }
    if names.area.is_none() {
        let known: Vec<&str> = formulary.areas().iter().map(|area| area.name.as_str()).collect();
        let message = format!("the area `{}` is not in this formulary", clip(entry.area()));
        findings.add(AREA.found("area", message).help(format!("write one of: {}", known.join(", "))));
    }
    indication(computed, findings);
    if let Ok(indication) = names.indication
        && names.limits.is_none()
    {
        let known: Vec<&str> = indication.phases.iter().map(|(phase, _)| phase.word()).collect();
        let message = format!(
            "{} for {} in {} has no limits for the phase {}",
            entry.drug(),
            indication.name,
            indication.area,
            entry.phase()
        );
        let finding = PHASE.found("phase", message).help(format!("write one of: {}", known.join(", ")));
        findings.add(finding.origin(&indication.origin));
    }
    equipment(computed, findings);
}

fn indication(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, names) = (computed.entry(), computed.names());
    let drug = || clip(entry.drug());
    match &names.indication {
        Ok(_) | Err(NoIndication::NameUnknown) => {}
        Err(NoIndication::NotInArea { areas }) => {
            let message = format!("{} has no limits in {}", drug(), clip(entry.area()));
            let help = format!("it has limits in: {}; ask the pharmacist", areas.join(", "));
            findings.add(NOT_IN_AREA.found("area", message).help(help));
        }
        Err(NoIndication::NotNamed { indications }) => {
            let message = format!("{} is used for {} things in {}", drug(), indications.len(), entry.area());
            findings.add(
                NOT_NAMED
                    .found("indication", message)
                    .help(format!("write `indication:` and one of: {}", indications.join(", "))),
            );
        }
        Err(NoIndication::Unknown { indications }) => {
            let named = clip(entry.indication().unwrap_or_default());
            let message = format!("{} has no indication `{named}` in {}", drug(), entry.area());
            findings
                .add(INDICATION.found("indication", message).help(format!("write one of: {}", indications.join(", "))));
        }
    }
}

fn equipment(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, names, equipment) = (computed.entry(), computed.names(), computed.formulary().equipment());
    let mut unknown = |code: &'static Code, field, typed: &str, known: Vec<&str>| {
        let message = format!("`{}` is not in this formulary's equipment", clip(typed));
        findings.add(code.found(field, message).help(format!("write one of: {}", known.join(", "))));
    };
    if names.container.is_none() {
        unknown(
            &CONTAINER,
            "container",
            entry.container(),
            equipment.containers.iter().map(|item| item.key.as_str()).collect(),
        );
    }
    if names.line.is_none() {
        unknown(&LINE, "line", entry.line(), equipment.lines.iter().map(|item| item.key.as_str()).collect());
    }
    if names.driver.is_none() {
        unknown(&DRIVER, "driver", entry.driver(), equipment.drivers.iter().map(|item| item.key.as_str()).collect());
    }
}
