//! Every usual dose of a formulary, with every stocked strength and with light, middling and heavy patients, through the
//! real path: entry, computation, checks. A formulary that alarms on its own usual doses cries wolf.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::check::{Checked, Severity, growth};
use crate::document::{self, LINE_LIMIT, read_json};
use crate::entry::{Entry, EntryForm};
use crate::formulary::{Area, Band, Composition, DosingWeight, Drug, Formulary, Indication, Phase, Stocked};
use crate::infusion::Computed;
use crate::quantity::{Age, BodyMass, Moment, Product, Quantity, Ratio, plain};

/// How often the checks speak on usual set-ups.
#[derive(Debug)]
pub struct Survey {
    rows: Vec<Counted>,
    codes: BTreeMap<(&'static str, &'static str), usize>,
}

/// One use of one drug in one area.
#[derive(Debug, Default)]
struct Counted {
    name: String,
    set_ups: usize,
    stops: usize,
    justifies: usize,
    notes: usize,
}

/// Runs every usual set-up of a formulary through its checks.
///
/// # Errors
/// A message, when the formulary cannot be used or a set-up cannot be written.
pub fn survey(formulary: &Formulary, now: Moment) -> Result<Survey, String> {
    let mut survey = Survey { rows: Vec::new(), codes: BTreeMap::new() };
    for drug in formulary.load_all().map_err(|faulty| faulty.to_string())? {
        for indication in &drug.indications {
            let Some(area) = formulary.area(&indication.area) else { continue };
            let mut row =
                Counted { name: format!("{}, {}, {}", drug.name, area.name, indication.name), ..Counted::default() };
            for line in lines_of(formulary, drug, indication, area, now)? {
                count(&line, formulary, now, &mut row, &mut survey.codes)?;
            }
            survey.rows.push(row);
        }
    }
    Ok(survey)
}

/// Every usual set-up of a formulary, one JSON object a line.
///
/// # Errors
/// A message, when the formulary cannot be used.
pub fn lines(formulary: &Formulary, now: Moment) -> Result<Vec<String>, String> {
    let mut lines = Vec::new();
    for drug in formulary.load_all().map_err(|faulty| faulty.to_string())? {
        for indication in &drug.indications {
            if let Some(area) = formulary.area(&indication.area) {
                lines.extend(lines_of(formulary, drug, indication, area, now)?);
            }
        }
    }
    Ok(lines)
}

impl Survey {
    /// Set-ups, stops, findings that need a reason, and notes.
    #[must_use]
    pub fn totals(&self) -> (usize, usize, usize, usize) {
        self.rows
            .iter()
            .fold((0, 0, 0, 0), |(a, b, c, d), row| (a + row.set_ups, b + row.stops, c + row.justifies, d + row.notes))
    }

    /// A table for people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = format!(
            "{:<58}{:>8}{:>6}{:>8}{:>6}\n",
            "alerts per 100 usual set-ups", "set-ups", "stop", "reason", "note"
        );
        for row in &self.rows {
            let each = |count| per_hundred(count, row.set_ups);
            let _ = writeln!(
                out,
                "{:<58}{:>8}{:>6}{:>8}{:>6}",
                row.name,
                row.set_ups,
                each(row.stops),
                each(row.justifies),
                each(row.notes)
            );
        }
        let (set_ups, stops, justifies, notes) = self.totals();
        let each = |count| per_hundred(count, set_ups);
        let _ = writeln!(out, "{:<58}{set_ups:>8}{:>6}{:>8}{:>6}", "all", each(stops), each(justifies), each(notes));
        for ((severity, code), count) in &self.codes {
            let _ = writeln!(out, "  {severity:<8} {code:<40} {count}");
        }
        out
    }

    /// The same as data.
    #[must_use]
    pub fn json(&self) -> Value {
        let rows: Vec<Value> = self
            .rows
            .iter()
            .map(|row| json!({"use": row.name, "set_ups": row.set_ups, "stop": row.stops, "justify": row.justifies, "note": row.notes}))
            .collect();
        let codes: serde_json::Map<String, Value> =
            self.codes.iter().map(|((_, code), count)| ((*code).to_owned(), json!(count))).collect();
        let (set_ups, stop, justify, note) = self.totals();
        json!({"version": 1, "set_ups": set_ups, "stop": stop, "justify": justify, "note": note, "uses": rows, "codes": codes})
    }
}

fn per_hundred(count: usize, of: usize) -> String {
    let share = Ratio::new(count as u128 * 100, of.max(1) as u128);
    share.map(|share| crate::quantity::significant(share, if share < Ratio::ONE { 1 } else { 2 }).0).unwrap_or_default()
}

fn count(
    line: &str,
    formulary: &Formulary,
    now: Moment,
    row: &mut Counted,
    codes: &mut BTreeMap<(&'static str, &'static str), usize>,
) -> Result<(), String> {
    let entry = entry(line)?;
    let computed = Computed::of(entry, formulary, now).map_err(|faulty| faulty.to_string())?;
    let checked = Checked::of(computed);
    row.set_ups += 1;
    for finding in checked.findings() {
        *codes.entry((finding.severity().word(), finding.code.id)).or_default() += 1;
        match finding.severity() {
            Severity::Stop(_) => row.stops += 1,
            Severity::Justify => row.justifies += 1,
            Severity::Note => row.notes += 1,
        }
    }
    Ok(())
}

/// Reads an entry that was written here.
pub(super) fn entry(line: &str) -> Result<Box<Entry>, String> {
    let mut faults = Vec::new();
    let root = read_json(line, LINE_LIMIT, &mut faults);
    let entry = root.and_then(|root| EntryForm::at(&root, document::Path::Root).read(&mut faults));
    entry.ok_or_else(|| {
        format!(
            "{line}: {}",
            faults.first().map(|fault| format!("{}: {}", fault.field, fault.message)).unwrap_or_default()
        )
    })
}

/// One use of one drug, whose usual doses are tried.
pub(super) struct Usual<'u> {
    pub(super) formulary: &'u Formulary,
    pub(super) drug: &'u Drug,
    pub(super) indication: &'u Indication,
    pub(super) area: &'u Area,
}

/// What stops every set-up of a formulary that nobody has approved yet, and says nothing about a dose.
const OF_THE_APPROVAL: [&str; 2] = ["formulary-unapproved", "formulary-altered"];

impl Usual<'_> {
    /// The codes that stop every usual dose of a stocked strength; nothing if one dose may proceed, or if none can be
    /// tried. The middle is tried first, so that a use in order costs one set-up.
    pub(super) fn all_stopped(&self, stocked: &Stocked, now: Moment) -> Option<BTreeSet<&'static str>> {
        let [light, middling, heavy] = <[String; 3]>::try_from(weights(self.area, self.indication).ok()?)
            .unwrap_or_else(|weights| std::array::from_fn(|_| weights[0].clone()));
        let mut codes = BTreeSet::new();
        for (phase, limits) in &self.indication.phases {
            let (Some(from), Some(to)) = (limits.usual.from, limits.usual.to) else { continue };
            let middle = middle(from.number().ratio(), to.number().ratio()).ok()?;
            for dose in [middle, from.number().to_string(), to.number().to_string()] {
                for weight in [&middling, &light, &heavy] {
                    let stops = self.stops(*phase, &dose, stocked, weight, now).ok()?;
                    if stops.is_empty() {
                        return None;
                    }
                    codes.extend(stops);
                }
            }
        }
        Some(codes).filter(|codes| !codes.is_empty())
    }

    fn stops(
        &self,
        phase: Phase,
        dose: &str,
        stocked: &Stocked,
        weight: &str,
        now: Moment,
    ) -> Result<Vec<&'static str>, String> {
        let Self { formulary, drug, indication, area } = *self;
        let set_up = SurveyedSetUp { formulary, drug, indication, area, phase, dose, stocked, weight };
        let entry = entry(&set_up.entry(now)?.to_string())?;
        let checked = Checked::of(Computed::of(entry, formulary, now).map_err(|faulty| faulty.to_string())?);
        let stops = checked.findings().iter().filter(|finding| matches!(finding.severity(), Severity::Stop(_)));
        Ok(stops.map(|finding| finding.code.id).filter(|id| !OF_THE_APPROVAL.contains(id)).collect())
    }
}

fn lines_of(
    formulary: &Formulary,
    drug: &Drug,
    indication: &Indication,
    area: &Area,
    now: Moment,
) -> Result<Vec<String>, String> {
    let mut lines = Vec::new();
    for (phase, limits) in &indication.phases {
        let (Some(from), Some(to)) = (limits.usual.from, limits.usual.to) else { continue };
        let middle = middle(from.number().ratio(), to.number().ratio())?;
        for dose in [from.number().to_string(), middle, to.number().to_string()] {
            for stocked in indication.strengths.iter().filter_map(|index| drug.strengths.get(*index)) {
                for weight in weights(area, indication)? {
                    let set_up = SurveyedSetUp {
                        formulary,
                        drug,
                        indication,
                        area,
                        phase: *phase,
                        dose: &dose,
                        stocked,
                        weight: &weight,
                    };
                    lines.push(set_up.entry(now)?.to_string());
                }
            }
        }
    }
    Ok(lines)
}

/// A set-up of a formulary, to be written as an entry: `dose` without its unit, `weight` in kg without its own.
#[derive(Debug)]
pub struct SurveyedSetUp<'s> {
    /// Of which formulary.
    pub formulary: &'s Formulary,
    /// The drug.
    pub drug: &'s Drug,
    /// Its use.
    pub indication: &'s Indication,
    /// The area.
    pub area: &'s Area,
    /// The phase.
    pub phase: Phase,
    /// The number of the dose, in the unit of the use.
    pub dose: &'s str,
    /// The strength.
    pub stocked: &'s Stocked,
    /// The number of the weight, in kg.
    pub weight: &'s str,
}

impl SurveyedSetUp<'_> {
    /// The entry of one person, made now, as one JSON object.
    ///
    /// # Errors
    /// A message, when the set-up cannot be written.
    pub fn entry(&self, now: Moment) -> Result<Value, String> {
        let weight =
            Quantity::<BodyMass>::parse(&format!("{} kg", self.weight)).map_err(|refused| refused.to_string())?.value();
        let unit = self.stocked.amount_unit();
        let (amount, volume) = match self.stocked.composition {
            Composition::Fixed { amount, volume, .. } => (plain(amount.number().ratio()), volume),
            Composition::PerKilogram { amount, volume } => {
                let amount =
                    Product::ONE.number(amount.number()).ratio(weight).finish().map_err(|error| error.to_string())?;
                (plain(amount), volume)
            }
        };
        let concentration = self.stocked.concentration(weight).ok_or("a strength cannot be computed")?;
        let per_ml =
            Product::ONE.ratio(concentration.per_ml).over_unit(unit).finish().map_err(|error| error.to_string())?;
        let standard = &self.area.standard;
        let usable = self.formulary.equipment().container(&standard.container).map(|container| container.usable);
        let fill = usable.filter(|usable| usable.value() < volume.value()).unwrap_or(volume);
        let time = now.to_rfc3339();
        let mut line = json!({
            "entered_by": {"name": "First Person", "role": "anaesthetist"},
            "entered_at": time,
            "patient": {
                "identifiers": ["A-1", "B-2"],
                "weight": format!("{} kg", self.weight),
                "weight_from": "measured",
                "age": self.age(weight)?,
            },
            "drug": self.drug.name,
            "area": self.area.name,
            "indication": self.indication.name,
            "phase": self.phase.word(),
            "dose": format!("{} {}", self.dose, self.indication.dose_unit),
            "label": {
                "amount": format!("{amount} {}", unit.shown()),
                "volume": volume.to_string(),
                "strength": format!("{} {}/mL", crate::quantity::significant(per_ml, 9).0, unit.shown()),
            },
            "drawn_up_at": time,
            "access": "central",
            "container": standard.container,
            "fill": fill.to_string(),
            "line": standard.line,
            "line_filled": "from this syringe",
            "driver": standard.driver,
            "starts_at": time,
            // A theatre list; common practice, no source.
            "planned_for": "3 h",
        });
        let derived = self.indication.dosing_weights.iter().any(|one| *one != DosingWeight::Actual);
        if derived || self.indication.body_surface.is_some() {
            // As tall as people of such a weight are likely to be; common practice, no source.
            let height = if weight > Ratio::whole(110) { "188 cm" } else { "170 cm" };
            line["patient"]["height"] = json!(height);
            line["patient"]["sex"] = json!("female");
        }
        if let Some(recipe) = &self.stocked.recipe {
            line["made_from"] = json!({
                "ampoules": recipe.ampoules.to_string(),
                "of": recipe.of.to_string(),
                "how": recipe.how.word(),
            });
            if let Some(diluent) = &recipe.diluent {
                line["made_from"]["diluent"] = json!(diluent);
            }
        }
        Ok(line)
    }

    /// An age that lies in both ranges, and at which such a weight is usual where there is one.
    fn age(&self, weight: Ratio) -> Result<String, String> {
        let bands: Vec<&Band<Age>> = [&self.area.age, &self.indication.age].into_iter().flatten().collect();
        let tries = [
            "40 years", "15 years", "12 years", "10 years", "8 years", "5 years", "2 years", "6 months", "2 months",
            "10 days",
        ];
        let fits = |text: &&&str| {
            Age::parse(text).is_ok_and(|age| bands.iter().all(|band| band.outside(age.days()).is_none()))
        };
        let usual = |text: &&&str| {
            Age::parse(text).is_ok_and(|age| growth::is_usual(age.days().approximate(), weight.approximate()))
        };
        tries
            .iter()
            .filter(fits)
            .find(usual)
            .or_else(|| tries.iter().find(fits))
            .map(|age| (*age).to_owned())
            .ok_or_else(|| format!("no age fits {}", self.indication.name))
    }
}

fn middle(from: Ratio, to: Ratio) -> Result<String, String> {
    let half = from.plus(to).and_then(|sum| sum.over(Ratio::whole(2))).map_err(|error| error.to_string())?;
    Ok(crate::quantity::significant(half, 3).0)
}

/// The lightest, a middling and the heaviest patient within the soft limits of area and indication.
fn weights(area: &Area, indication: &Indication) -> Result<Vec<String>, String> {
    let soft: Vec<&Band<Quantity<BodyMass>>> =
        [&area.weight.soft, &indication.weight.soft].into_iter().flatten().collect();
    let from = soft.iter().filter_map(|band| band.from.map(Quantity::value)).max();
    let to = soft.iter().filter_map(|band| band.to.map(Quantity::value)).min();
    let (Some(from), Some(to)) = (from, to) else { return Ok(vec!["70".to_owned()]) };
    Ok(vec![plain(from), middle(from, to)?, plain(to)])
}
