//! The day on which the pharmacist looks at a drug again.

use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::Ratio;

static PAST: Code = Code::warning("review-date-past");
static NEAR: Code = Code::note("review-date-near");

pub(super) const RULE: Rule = Rule { codes: &[&PAST, &NEAR], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let (today, review) = (seen.now.date(), &seen.drug.review);
    let keys = ["review", "by"];
    if review.by < today {
        let asks = if review.justify_from <= today { ", and each set-up asks for a reason" } else { "" };
        remarks.add(&PAST, &seen.drug.file, &keys, format!("the review was due on {}{asks}", review.by));
        return;
    }
    let Some(near) = seen.formulary.policy().review_near.value().over(Ratio::whole(24)).ok() else { return };
    let left = review.by.since(today).map_or(0, |span| span.get_days());
    if u64::try_from(left).is_ok_and(|left| Ratio::whole(left) <= near) {
        let days = if left == 1 { "1 day".to_owned() } else { format!("{left} days") };
        remarks.add(&NEAR, &seen.drug.file, &keys, format!("the review is due in {days}, on {}", review.by));
    }
}
