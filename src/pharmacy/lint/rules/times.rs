//! Times of a size that they hardly ever have: often s for min, or day for h.

use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Quantity, Ratio, Time, duration};

static BOLUS: Code = Code::error("bolus-time-unlikely");
static LIFE: Code = Code::error("life-unlikely");
static LONGEST: Code = Code::error("longest-unlikely");

/// In minutes. All chosen: a driver needs half a minute to give a bolus evenly, a bolus over more than six hours is an
/// infusion, a solution made up on a ward keeps a week at most, and an infusion for less than two hours needs no limit.
const BOLUS_WITHIN: [(u128, u128); 2] = [(1, 2), (6 * 60, 1)];
const LIFE_WITHIN: [(u128, u128); 2] = [(15, 1), (7 * 24 * 60, 1)];
const LONGEST_WITHIN: [(u128, u128); 2] = [(2 * 60, 1), (30 * 24 * 60, 1)];

/// From one end of a bolus's time to the other; chosen: 60 is a unit.
const WIDEST: u64 = 60;

pub(super) const RULE: Rule = Rule { codes: &[&BOLUS, &LIFE, &LONGEST], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let (drug, file) = (seen.drug, &seen.drug.file);
    if let Some(message) = unlikely(drug.life, LIFE_WITHIN) {
        remarks.add(&LIFE, file, &["life_after_drawing_up", "time"], message).value(drug.life);
    }
    for indication in &drug.indications {
        let (area, name) = (indication.area.as_str(), indication.name.as_str());
        let longest = indication.longest.as_ref().and_then(|longest| longest.to);
        if let Some((longest, message)) = longest.and_then(|to| Some((to, unlikely(to, LONGEST_WITHIN)?))) {
            remarks.add(&LONGEST, file, &["areas", area, name, "longest"], message).value(longest);
        }
        let Some(over) = indication.bolus.as_ref().map(|bolus| &bolus.over) else { continue };
        let ends = [over.from, over.to].into_iter().flatten();
        let apart = over.from.zip(over.to).filter(|(from, to)| {
            let times = to.value().over(from.value());
            times.is_ok_and(|times| times >= Ratio::whole(WIDEST))
        });
        let apart =
            apart.map(|(from, to)| format!("a bolus takes {from} or {to} here, {WIDEST} times as long or more"));
        if let Some(message) = ends.filter_map(|end| unlikely(end, BOLUS_WITHIN)).next().or(apart) {
            let ends: Vec<String> = [over.from, over.to].into_iter().flatten().map(|end| end.to_string()).collect();
            remarks.add(&BOLUS, file, &["areas", area, name, "bolus", "over"], message).value(ends.join(" to "));
        }
    }
}

/// What is unlikely about a time, in words. A time counts in hours.
fn unlikely(time: Quantity<Time>, within: [(u128, u128); 2]) -> Option<String> {
    let [shortest, longest] = within.map(|(minutes, of)| Ratio::new(minutes, of * 60).ok());
    let (shortest, longest) = (shortest?, longest?);
    if time.value() < shortest {
        return Some(format!("{time} is less than {}", duration(shortest)));
    }
    (time.value() > longest).then(|| format!("{time} is more than {}", duration(longest)))
}
