//! A table of rates to read: doses down, weights across, each rate exact and rounded to the driver's step once. In: a
//! formulary, a drug and where it is used. Out: a neutral table, and its text, CSV and HTML. It is no set-up card: nobody
//! has checked it twice, and every form says so.

mod cell;
mod render;
mod series;

use crate::formulary::{Area, Composition, Driver, Drug, Formulary, Indication, Named, NotNamed, Phase, Stocked, Use};
use crate::infusion::rate::Body;
use crate::quantity::{Amount, BodyMass, DoseRate, Per, Product, Quantity, Ratio, Strength, plain, significant};

pub use cell::{Cell, CellMark};
pub use render::{csv, html, markup, text};
pub use series::{doses, weights};

/// What no table may be taken for.
pub const NO_CARD: &str = "NOT A SET-UP CARD: not double-checked. For reading only.";

/// What a table is asked about. Names as a person types them.
#[derive(Debug, Clone, Default)]
pub struct TableRequest<'a> {
    /// The drug.
    pub drug: &'a str,
    /// The area.
    pub area: &'a str,
    /// The indication; left out where the drug has one there.
    pub indication: Option<&'a str>,
    /// The phase; maintenance, or else the first, where it is left out.
    pub phase: Option<Phase>,
    /// The key of a strength; the first of the indication where it is left out.
    pub strength: Option<&'a str>,
    /// The key of a driver; the area's where it is left out.
    pub driver: Option<&'a str>,
    /// Weights; common ones of the area where there are none.
    pub weights: Vec<Quantity<BodyMass>>,
}

/// A table of rates in mL/h.
#[derive(Debug, Clone)]
pub struct Table {
    /// Whether its limits are for demonstration.
    pub demonstration: bool,
    /// Name and value of each line of the heading.
    pub head: Vec<(&'static str, String)>,
    /// The unit of the doses.
    pub unit: String,
    /// What each column is for: a weight, or any.
    pub columns: Vec<Column>,
    /// One for each dose, rising.
    pub rows: Vec<DoseRow>,
    /// What the marks mean here, in words.
    pub legend: Vec<String>,
}

/// A weight, and what follows from it.
#[derive(Debug, Clone)]
pub struct Column {
    /// `70 kg`; nothing where the weight does not matter.
    pub weight: Option<Quantity<BodyMass>>,
    /// The strength, where it is made for the weight.
    pub strength: Option<String>,
    /// Where the weight lies outside limits, in words.
    pub outside: Option<&'static str>,
}

/// A dose with its rates.
#[derive(Debug, Clone)]
pub struct DoseRow {
    /// The dose.
    pub dose: DoseRate,
    /// Whether it lies in the usual range.
    pub usual: bool,
    /// One for each column.
    pub cells: Vec<Cell>,
}

/// Why there is no table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct NoTable {
    /// Kebab-case, stable.
    pub code: &'static str,
    /// What was found.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

/// A use of a drug, everything named found.
pub(super) struct FoundUse<'f> {
    pub(super) drug: &'f Drug,
    pub(super) area: &'f Area,
    pub(super) indication: &'f Indication,
    pub(super) phase: Phase,
    pub(super) stocked: &'f Stocked,
    pub(super) driver: &'f Driver,
}

/// The table that is asked for.
///
/// # Errors
/// [`NoTable`], with what to write instead, when a name is not known or no rate can be worked out.
pub fn table(formulary: &Formulary, asked: &TableRequest<'_>) -> Result<Table, NoTable> {
    let found = found(formulary, asked)?;
    of(formulary, &found, &asked.weights)
}

/// The table of a use that was found.
pub(super) fn of(formulary: &Formulary, found: &FoundUse<'_>, asked: &[Quantity<BodyMass>]) -> Result<Table, NoTable> {
    let FoundUse { drug, area, indication, phase, stocked, driver } = found;
    let unit = indication.dose_unit;
    if unit.dose().per() == Per::SquareMetre {
        let message = format!("{} is dosed in {unit}, and a body surface does not follow from a weight", drug.name);
        let help = "work out each rate by itself: `countersign rate` with height and weight".to_owned();
        return Err(NoTable { code: "table-by-surface", message, help });
    }
    let limits = indication.limits(*phase).expect("the phase was found in it");
    let by_weight = unit.dose().per() == Per::Kilogram || stocked.is_per_kilogram();
    let columns: Vec<Option<Quantity<BodyMass>>> = match (by_weight, asked.is_empty()) {
        (false, _) => vec![None],
        (true, false) => asked.iter().copied().map(Some).collect(),
        (true, true) => weights(area, indication).into_iter().map(Some).collect(),
    };
    let strengths = columns.iter().map(|weight| strength_at(stocked, *weight)).collect::<Result<Vec<_>, _>>()?;
    let judge = cell::Judge { policy: formulary.policy(), indication, limits, driver };
    let beyond: Vec<bool> = columns
        .iter()
        .map(|weight| weight.is_some_and(|weight| outside(area, indication, weight) == Some(HARD)))
        .collect();
    let mut rows = Vec::new();
    for dose in doses(limits, unit).map_err(|_| too_large())? {
        let cells = columns.iter().zip(&strengths).zip(&beyond).map(|((weight, strength), beyond)| {
            if *beyond {
                return Ok(Cell { set: None, mark: Some(CellMark::NotThisWeight) });
            }
            let body = Body { weight: weight.map(Quantity::value), surface: None };
            judge.cell(dose, body, *strength)
        });
        let cells = cells.collect::<Result<Vec<_>, _>>()?;
        rows.push(DoseRow { dose, usual: limits.usual.outside(dose.number().ratio()).is_none(), cells });
    }
    let columns = columns
        .into_iter()
        .zip(&strengths)
        .map(|(weight, strength)| Column {
            weight,
            strength: stocked.is_per_kilogram().then(|| per_ml(*strength, stocked)),
            outside: weight.and_then(|weight| outside(area, indication, weight)),
        })
        .collect();
    let legend = judge.legend(&rows);
    Ok(Table {
        demonstration: formulary.policy().demonstration,
        head: head(formulary, found, &strengths),
        unit: unit.to_string(),
        columns,
        rows,
        legend,
    })
}

fn head(formulary: &Formulary, found: &FoundUse<'_>, strengths: &[Strength]) -> Vec<(&'static str, String)> {
    let FoundUse { drug, area, indication, phase, stocked, driver } = found;
    let limits = indication.limits(*phase).expect("the phase was found in it");
    let strength = if stocked.is_per_kilogram() {
        format!("{stocked}: another for each weight")
    } else {
        let shown = strengths.first().map(|strength| per_ml(*strength, stocked)).unwrap_or_default();
        format!("{stocked} = {shown} ({})", stocked.key)
    };
    let (from, to) = (limits.usual.from, limits.usual.to);
    let usual = match (from, to) {
        (Some(from), Some(to)) => format!("{} to {to}", from.number()),
        _ => String::new(),
    };
    let mut head = vec![
        ("drug", drug.name.clone()),
        ("for", format!("{}, {}, {phase}", area.name, indication.name)),
        ("strength", strength),
        ("usual dose", usual),
        ("driver", format!("{} ({})", driver.key, driver.kind)),
    ];
    if let Some(counted) = indication.dosing_weights.first() {
        head.push(("weight", format!("{counted} body weight, in kg")));
    }
    let policy = formulary.policy();
    head.push(("formulary", format!("{}, fingerprint {}", policy.version, formulary.fingerprint())));
    head
}

/// A strength as its label says it, `80 mcg/mL`.
fn per_ml(strength: Strength, stocked: &Stocked) -> String {
    strength.concentration().readable(stocked.amount_unit())
}

fn strength_at(stocked: &Stocked, weight: Option<Quantity<BodyMass>>) -> Result<Strength, NoTable> {
    match (stocked.composition, weight) {
        (Composition::Fixed { amount, volume, .. }, _) => Ok(Strength::of(amount, volume)),
        (Composition::PerKilogram { amount, volume }, Some(weight)) => {
            let product = Product::ONE.number(amount.number()).ratio(weight.value()).finish();
            let text = format!("{} {}", plain(product.map_err(|_| too_large())?), amount.unit().amount().shown());
            let amount = Quantity::<Amount>::parse(&text).map_err(|_| too_large())?;
            Ok(Strength::of(amount, volume))
        }
        (Composition::PerKilogram { .. }, None) => Err(too_large()),
    }
}

fn outside(area: &Area, indication: &Indication, weight: Quantity<BodyMass>) -> Option<&'static str> {
    let passes = |hard: bool| {
        [&area.weight, &indication.weight].into_iter().any(|limits| {
            let band = if hard { &limits.hard } else { &limits.soft };
            band.as_ref().is_some_and(|band| band.outside(weight.value()).is_some())
        })
    };
    match (passes(true), passes(false)) {
        (true, _) => Some(HARD),
        (false, true) => Some("beyond a soft limit of the weight: a written reason"),
        (false, false) => None,
    }
}

const HARD: &str = "beyond a hard limit of the weight: stopped";

fn found<'f>(formulary: &'f Formulary, asked: &TableRequest<'_>) -> Result<FoundUse<'f>, NoTable> {
    let named = Named { drug: asked.drug, area: asked.area, indication: asked.indication, phase: asked.phase };
    let Use { drug, area, indication, phase } = formulary.used(&named)?;
    let stocked = stocked(drug, indication, asked.strength)?;
    let driver = formulary.driver_named(asked.driver, area)?;
    Ok(FoundUse { drug, area, indication, phase, stocked, driver })
}

fn stocked<'f>(drug: &'f Drug, indication: &Indication, key: Option<&str>) -> Result<&'f Stocked, NoTable> {
    let listed: Vec<&Stocked> = indication.strengths.iter().filter_map(|at| drug.strengths.get(*at)).collect();
    let keys = || listed.iter().map(|one| one.key.as_str()).collect::<Vec<_>>().join(", ");
    let found = match key {
        None => listed.first().copied(),
        Some(key) => listed.iter().find(|one| one.key == key.trim()).copied(),
    };
    found.ok_or_else(|| NoTable {
        code: "strength-unknown",
        message: format!("`{}` is not a strength of {} for this use", clipped(key.unwrap_or_default()), drug.name),
        help: format!("write --strength with one of: {}", keys()),
    })
}

impl From<NotNamed> for NoTable {
    fn from(not_named: NotNamed) -> Self {
        Self { code: not_named.code, message: not_named.message, help: not_named.help }
    }
}

fn clipped(text: &str) -> String {
    crate::quantity::clip(text).to_string()
}

fn too_large() -> NoTable {
    NoTable {
        code: "numbers-too-far-apart",
        message: "the numbers of this use are too far apart to be worked out exactly".to_owned(),
        help: "run `formulary lint`".to_owned(),
    }
}

/// A number as a table shows it.
fn shown(value: Ratio) -> String {
    crate::quantity::grouped(&significant(value, 9).0)
}
