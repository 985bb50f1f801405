//! Invented entries of a formulary, to try a replay or a batch with. In: a formulary and a seed. Out: entries as JSON
//! objects without end, most of them usual, some outside their limits, some of those with a reason; the same for the same
//! formulary, seed and moment.

use serde_json::{Value, json};

use crate::check::{Checked, Severity};
use crate::formulary::{Area, Band, Drug, Formulary, Indication, Phase, Stocked};
use crate::infusion::Computed;
use crate::quantity::{BodyMass, DoseRate, Moment, Quantity, Ratio, significant};

use super::survey::{self, SurveyedSetUp};

/// Entries without end.
#[derive(Debug)]
pub struct Sample<'f> {
    formulary: &'f Formulary,
    uses: Vec<(&'f Drug, &'f Indication, &'f Area)>,
    at: Moment,
    lot: Lot,
}

impl<'f> Sample<'f> {
    /// Entries of one moment.
    ///
    /// # Errors
    /// A message, when the formulary cannot be used or has no use with a stocked strength.
    pub fn new(formulary: &'f Formulary, seed: u64, at: Moment) -> Result<Self, String> {
        let mut uses = Vec::new();
        for drug in formulary.load_all().map_err(|faulty| faulty.to_string())? {
            for indication in drug.indications.iter().filter(|one| !one.strengths.is_empty() && !one.phases.is_empty())
            {
                uses.extend(formulary.area(&indication.area).map(|area| (drug, indication, area)));
            }
        }
        if uses.is_empty() {
            return Err("this formulary has no use with a stocked strength".to_owned());
        }
        Ok(Self { formulary, uses, at, lot: Lot(seed) })
    }

    /// The next entry, as one JSON object.
    ///
    /// # Errors
    /// A message, when it cannot be written.
    pub fn next_entry(&mut self) -> Result<Value, String> {
        let (drug, indication, area) = self.uses[self.lot.below(self.uses.len())];
        let phase_at = self.lot.below(indication.phases.len());
        let stocked = &drug.strengths[indication.strengths[self.lot.below(indication.strengths.len())]];
        let weight = self.weight(area, indication)?;
        let dose = self.dose(indication, phase_at)?;
        let phase = indication.phases[phase_at].0;
        let mut entry = self.set_up(drug, indication, area, phase, &dose, stocked, &weight).entry(self.at)?;
        let person = self.lot.below(PEOPLE.len());
        entry["entered_by"] = json!({"name": PEOPLE[person].0, "role": PEOPLE[person].1});
        entry["planned_for"] = json!(["1 h", "2 h", "3 h", "6 h"][self.lot.below(4)]);
        if self.lot.one_in(10) {
            entry["access"] = json!("peripheral");
        }
        if !self.lot.one_in(3) {
            self.reasons(&mut entry)?;
        }
        Ok(entry)
    }

    /// A reason of the house for everything that asks for one.
    fn reasons(&mut self, entry: &mut Value) -> Result<(), String> {
        let computed = Computed::of(survey::entry(&entry.to_string())?, self.formulary, self.at);
        let checked = Checked::of(computed.map_err(|faulty| faulty.to_string())?);
        let asked = checked.findings().iter().filter(|finding| finding.severity() == Severity::Justify);
        let codes: Vec<&str> = asked.map(|finding| finding.code.id).collect();
        let reasons = &self.formulary.policy().clinical_reasons;
        if !codes.is_empty() && !reasons.is_empty() {
            let reason = &reasons[self.lot.below(reasons.len())];
            entry["reasons"] = codes.into_iter().map(|code| (code.to_owned(), json!(reason))).collect();
        }
        Ok(())
    }

    #[expect(clippy::too_many_arguments, reason = "the parts of a set-up")]
    const fn set_up<'s>(
        &self,
        drug: &'s Drug,
        indication: &'s Indication,
        area: &'s Area,
        phase: Phase,
        dose: &'s str,
        stocked: &'s Stocked,
        weight: &'s str,
    ) -> SurveyedSetUp<'s>
    where
        'f: 's,
    {
        SurveyedSetUp { formulary: self.formulary, drug, indication, area, phase, dose, stocked, weight }
    }

    /// Mostly within the soft limits of area and use, now and then a little outside; one decimal.
    fn weight(&mut self, area: &Area, indication: &Indication) -> Result<String, String> {
        let soft: Vec<&Band<Quantity<BodyMass>>> =
            [&area.weight.soft, &indication.weight.soft].into_iter().flatten().collect();
        let from = soft.iter().filter_map(|band| band.from.map(Quantity::value)).max().unwrap_or(Ratio::whole(3));
        let to = soft.iter().filter_map(|band| band.to.map(Quantity::value)).min().unwrap_or(Ratio::whole(120));
        let (from, to) = if self.lot.one_in(25) { (to, scaled(to, 110, 100)?) } else { (from, to) };
        let weight = self.between(from, to.max(from))?;
        let tenths = weight.to_nearest(scaled(Ratio::ONE, 1, 10)?).map_err(|error| error.to_string())?;
        Ok(significant(tenths.max(from), 4).0)
    }

    /// Seven in ten usual; the others up to the soft limit, up to the hard one, beyond it, or below the usual range.
    fn dose(&mut self, indication: &Indication, phase_at: usize) -> Result<String, String> {
        let limits = &indication.phases[phase_at].1;
        let number = |dose: DoseRate| dose.number().ratio();
        let usual = (limits.usual.from.map(number), limits.usual.to.map(number));
        let (Some(from), Some(to)) = usual else { return Err(format!("{} has no usual range", indication.name)) };
        let upper = |band: &Option<Band<DoseRate>>| band.as_ref().and_then(|band| band.to).map(number);
        let soft = upper(&limits.beyond.soft).unwrap_or(to).max(to);
        let hard = upper(&limits.beyond.hard).unwrap_or(soft).max(soft);
        let (from, to) = match self.lot.below(100) {
            0..=69 => (from, to),
            70..=81 => (to, soft),
            82..=91 => (soft, hard),
            92..=94 => (hard, scaled(hard, 12, 1)?),
            _ => (scaled(from, 1, 10)?, from),
        };
        let dose = self.between(from, to)?;
        Ok(significant(dose, 2).0)
    }

    fn between(&mut self, from: Ratio, to: Ratio) -> Result<Ratio, String> {
        let share = u64::try_from(self.lot.below(STEPS + 1)).map_err(|error| error.to_string())?;
        let width = to.less(from).map_err(|error| error.to_string())?;
        from.plus(scaled(width, share, STEPS as u64)?).map_err(|error| error.to_string())
    }
}

/// A range is cut into so many.
const STEPS: usize = 40;

/// Invented people.
const PEOPLE: [(&str, &str); 4] = [
    ("Ines Haldorf", "anaesthetist"),
    ("Tomas Quell", "anaesthetist"),
    ("Mira Sandell", "nurse"),
    ("Owen Pratley", "anaesthetist"),
];

fn scaled(value: Ratio, by: u64, over: u64) -> Result<Ratio, String> {
    let product = value.times(Ratio::whole(by)).and_then(|product| product.over(Ratio::whole(over)));
    product.map_err(|error| error.to_string())
}

/// A lot that is the same for the same seed: `SplitMix64` (Steele, Lea, Flood 2014).
#[derive(Debug)]
pub struct Lot(u64);

impl Lot {
    /// From a seed.
    #[must_use]
    pub const fn of(seed: u64) -> Self {
        Self(seed)
    }

    const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below `most`, which is not zero. The bias of a remainder is beyond counting here.
    pub fn below(&mut self, most: usize) -> usize {
        usize::try_from(self.next() % most as u64).expect("below a usize")
    }

    /// Once in this many times.
    pub fn one_in(&mut self, many: usize) -> bool {
        self.below(many) == 0
    }
}
