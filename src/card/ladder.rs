//! The rates of the ordered range for this patient, and of a bolus: a small table apart from the one rate that is set at
//! the start, headed by its doses.

use crate::infusion::{Computed, Sum};
use crate::quantity::{DoseRate, Per, Ratio, exact_or_about, grouped, plain};

use super::block::{Block, BolusRate, Ladder, LadderRow};
use super::build::{bolus_amount, counted_by};

/// The most doses of a range that are listed, beside the one that is set.
const MOST: u64 = 8;

/// Nothing where neither a range nor a bolus was ordered.
pub(super) fn block(computed: &Computed<'_>, sum: &Sum) -> Option<Block> {
    let entry = computed.entry();
    let ordered = entry.dose();
    let mut rows: Vec<LadderRow> = doses(computed).into_iter().filter_map(|dose| rung(computed, sum, dose)).collect();
    // The ordered dose alone is no ladder.
    if rows.iter().all(|row| row.is_set) {
        rows.clear();
    }
    let bolus = entry.bolus().zip(sum.bolus).and_then(|(bolus, found)| {
        // As of every row: the rate that this driver can be set to.
        let (rate, _) = computed.names().driver?.nearest(found.volume.over(found.over).ok()?).ok()?;
        let rate = exact_or_about(rate);
        let amount = bolus_amount(computed, sum).map(|amount| format!(" = {amount}")).unwrap_or_default();
        // What is ordered as an amount says it already.
        let amount = if bolus.dose.unit().per() != Per::Patient { amount } else { String::new() };
        let dose = format!("{}{amount}, {} mL over {}", bolus.dose, exact_or_about(found.volume), bolus.over);
        Some(BolusRate { dose, rate })
    });
    if rows.is_empty() && bolus.is_none() {
        return None;
    }
    let range = entry.titration();
    let step = range.and_then(|range| range.step).map(|step| step.to_string());
    let listed = range.and_then(|range| apart(range.from, range.to, range.step?));
    // By another weight than the measured one, the rates are those of that weight.
    let counted_by = (ordered.unit().dose().per() != Per::Patient).then(|| match &sum.derived {
        None => entry.patient().weight.to_string(),
        Some(_) => counted_by(computed, sum),
    });
    Some(Block::Ladder(Box::new(Ladder {
        counted_by,
        step,
        every: listed.map(|(_, apart)| apart).filter(|apart| *apart > 1),
        dose_unit: ordered.unit().to_string(),
        rate_unit: "mL/h".into(),
        rows,
        bolus,
    })))
}

/// The ends of the range, the ordered dose, and steps between where a step was ordered; rising.
fn doses(computed: &Computed<'_>) -> Vec<DoseRate> {
    let (entry, ordered) = (computed.entry(), computed.entry().dose());
    let Some(range) = entry.titration() else { return Vec::new() };
    let mut doses = vec![range.from, ordered, range.to];
    let step = range.step.filter(|step| [range.from, range.to].iter().all(|end| end.unit() == step.unit()));
    doses.extend(step.and_then(|step| between(range.from, range.to, step)).unwrap_or_default());
    doses.sort_by_key(|dose| dose.amount_per_hour());
    doses.dedup_by(|one, other| one.same_as(*other));
    doses
}

/// Every step of the range, or every second, third and so on where that would be a long list.
fn between(from: DoseRate, to: DoseRate, step: DoseRate) -> Option<Vec<DoseRate>> {
    let (from_number, step_number) = (from.number().ratio(), step.number().ratio());
    let (steps, apart) = apart(from, to, step)?;
    let dose = |times: u64| {
        let value = step_number.times(Ratio::whole(times)).ok()?.plus(from_number).ok()?;
        DoseRate::parse(&format!("{} {}", grouped(&plain(value)), from.unit())).ok()
    };
    Some((0..=steps / apart).filter_map(|count| dose(count * apart)).collect())
}

/// How many steps a range has, and how far apart those are that are listed.
fn apart(from: DoseRate, to: DoseRate, step: DoseRate) -> Option<(u64, u64)> {
    if [from, to].iter().any(|end| end.unit() != step.unit()) {
        return None;
    }
    let [from, to, step] = [from, to, step].map(|dose| dose.number().ratio());
    let steps = u64::try_from(to.less(from).ok()?.over(step).ok()?.floor()).ok()?;
    Some((steps, (1..=steps.max(1)).find(|apart| steps / apart < MOST)?))
}

/// A dose, and the rate that the driver is set to for it.
fn rung(computed: &Computed<'_>, sum: &Sum, dose: DoseRate) -> Option<LadderRow> {
    let ordered = computed.entry().dose();
    let shown = if dose.unit() == ordered.unit() { grouped(&dose.number().to_string()) } else { dose.to_string() };
    let is_set = dose.same_as(ordered);
    let (_, set) = if is_set { (sum.exact, sum.set) } else { computed.rates_of(dose)? };
    let driver = computed.names().driver?;
    let is_reached = set >= driver.smallest.value() && set <= driver.largest.value();
    let rate = if is_reached { exact_or_about(set) } else { NOT_SETTABLE.to_owned() };
    Some(LadderRow { dose: shown, rate, is_set })
}

/// What stands beside the rate that is set, where no frame or sign can.
pub(super) const SET: &str = "(set)";

/// What stands for a rate that lies outside the driver's range.
const NOT_SETTABLE: &str = "none";

impl Ladder {
    /// What the table is, and what it is not.
    pub(super) fn heading(&self) -> String {
        let whom = self.counted_by.as_ref().map(|weight| format!(" for {weight}")).unwrap_or_default();
        // How large a step is stands with the order.
        let step = match (&self.step, self.every) {
            (None, _) => String::new(),
            (Some(step), None | Some(1)) => format!(", steps of {step}"),
            (_, Some(2)) => ", every second step".to_owned(),
            (_, Some(3)) => ", every third step".to_owned(),
            (_, Some(more)) => format!(", every {more}th step"),
        };
        let what = if self.rows.is_empty() { "Bolus" } else { "Ordered range" };
        format!("{what}{whom}{step}: NOT the rate to start at")
    }

    /// What its doses are headed by.
    pub(super) fn dose_head(&self) -> &str {
        if self.rows.is_empty() { "dose" } else { &self.dose_unit }
    }
}
