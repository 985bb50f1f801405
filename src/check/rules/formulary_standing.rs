//! The limits themselves: approved, unchanged, and looked at in time.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::formulary::ApprovalStatus;
use crate::infusion::Computed;

static UNAPPROVED: Code = Code::beyond("formulary-unapproved");
static ALTERED: Code = Code::beyond("formulary-altered");
static REVIEW_OVERDUE: Code = Code::justify("review-overdue");
static REVIEW_PAST: Code = Code::note("review-past");

pub(super) const RULE: Rule =
    Rule { codes: &[&UNAPPROVED, &ALTERED, &REVIEW_OVERDUE, &REVIEW_PAST], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    match computed.formulary().standing() {
        ApprovalStatus::Demonstration | ApprovalStatus::Approved { .. } => {}
        ApprovalStatus::Signed { by, .. } => findings.add(
            UNAPPROVED
                .found("drug", format!("this formulary is signed by its author, {by}, and approved by no one else"))
                .help("a second pharmacist approves it, or the approved one is used"),
        ),
        ApprovalStatus::Unapproved => findings.add(
            UNAPPROVED
                .found("drug", "nobody has approved this formulary")
                .help("its author signs it and a second pharmacist approves it, or the approved one is used"),
        ),
        ApprovalStatus::Altered { changed } => findings.add(
            ALTERED
                .found("drug", format!("this formulary is not the one that was approved: {}", changed.join(", ")))
                .help("tell the pharmacist; use the approved formulary until it is approved again"),
        ),
    }
    let Ok(drug) = computed.names().drug else { return };
    let today = computed.now().date();
    let review = &drug.review;
    let message =
        |day| format!("the limits of {} were to be reviewed by {}, and today is {today} ({day})", drug.name, review.by);
    if today >= review.justify_from && today > review.by {
        let finding =
            REVIEW_OVERDUE.found("drug", message(format!("a reason is asked for from {}", review.justify_from)));
        findings
            .add(finding.help("write why these limits are still used, and tell the pharmacist").origin(&review.origin));
    } else if today > review.by {
        let finding =
            REVIEW_PAST.found("drug", message(format!("a reason will be asked for from {}", review.justify_from)));
        findings.add(finding.help("tell the pharmacist").origin(&review.origin));
    }
}
