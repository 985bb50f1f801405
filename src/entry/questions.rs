//! Every question of an entry: where its answer stands in the form, where it is read, and the keys that write it. No question
//! holds an answer that a person must read for themselves.

use super::NotTold;

/// One question of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Question {
    /// Where the answer stands in the form: `label.amount`.
    pub path: &'static str,
    /// The field that a disagreement names.
    pub field: &'static str,
    /// In words.
    pub says: &'static str,
    /// What an answer looks like. Never the value that this patient or syringe has.
    pub example: &'static str,
    /// Keys beside the digits, row by row: every unit of the kind, in the same order for everybody and every drug.
    pub keys: &'static [&'static [&'static str]],
}

/// Where somebody reads an answer: what is read at one place is asked together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ReadFrom {
    /// Drug, use, dose.
    Order,
    /// The wristband and the scales.
    Patient,
    /// The syringe in the hand, and its label.
    Syringe,
    /// Access, line and driver.
    Line,
}

impl ReadFrom {
    /// In the order in which they are read.
    pub const ALL: [Self; 4] = [Self::Order, Self::Patient, Self::Syringe, Self::Line];

    /// In one word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Order => "order",
            Self::Patient => "patient",
            Self::Syringe => "syringe",
            Self::Line => "line",
        }
    }

    /// What is in the hand.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::Order => "The order",
            Self::Patient => "The patient: wristband",
            Self::Syringe => "The syringe: label",
            Self::Line => "Line and driver",
        }
    }
}

impl Question {
    /// Where its answer is read.
    #[must_use]
    pub fn read_from(&self) -> ReadFrom {
        match self.field {
            _ if self.path.starts_with("patient.") => ReadFrom::Patient,
            "label" | "made_from" | "drawn_up_at" | "use_before" | "container" | "fill" => ReadFrom::Syringe,
            "access" | "line" | "line_filled" | "beyond" | "driver" => ReadFrom::Line,
            _ => ReadFrom::Order,
        }
    }
}

const fn question(path: &'static str, field: &'static str, says: &'static str, example: &'static str) -> Question {
    Question { path, field, says, example, keys: &[] }
}

/// The same, answered with digits and units.
const fn keyed(question: Question, keys: &'static [&'static [&'static str]]) -> Question {
    Question { keys, ..question }
}

/// The amounts of drug, from the smallest unit of mass on.
const AMOUNTS: &[&str] = &["nanogram", "mcg", "mg", "g", "milliunits", "units", "micromol", "mmol", "mEq"];
const PER: &[&str] = &["/kg", "/m2"];
const AMOUNT: &[&[&str]] = &[AMOUNTS];
const DOSES: &[&[&str]] = &[AMOUNTS, PER];
const DOSE_RATES: &[&[&str]] = &[AMOUNTS, PER, &["/min", "/h", "/day"]];
const STRENGTHS: &[&[&str]] = &[AMOUNTS, &["/mL", "%", ":"]];
const AMPOULE: &[&[&str]] = &[AMOUNTS, &["in"], &["mL"]];
const VOLUME: &[&[&str]] = &[&["mL", "L"]];
const BODY: &[&[&str]] = &[&["kg", "g"]];
const LENGTHS: &[&[&str]] = &[&["cm", "m"]];
const AGES: &[&[&str]] = &[&["days", "weeks", "months", "years"]];
const TIMES_LONG: &[&[&str]] = &[&["s", "min", "h", "days"]];
const CLOCK: &[&[&str]] = &[&[":", "now"]];
const COUNT: &[&[&str]] = &[NotTold::WORDS];

/// Every question, in the order in which they are asked.
pub const QUESTIONS: &[Question] = &[
    question("area", "area", "Area", "adult theatre"),
    question("drug", "drug", "Drug, as the order says", "dobutamine"),
    question("indication", "indication", "What it is for", "vasopressor"),
    question(IDENTIFIER, "identifiers", "First identifier, off the wristband, or pending", "AB-12345"),
    question("patient.identifiers[1]", "identifiers", "Second identifier, off the wristband", "1970-01-31"),
    keyed(question("patient.weight", "weight", "Weight", "70.5 kg"), BODY),
    question("patient.weight_from", "weight", "Where the weight comes from", "measured"),
    question("patient.born", "born", "Date of birth", "1970-01-31"),
    keyed(question("patient.age", "born", "Age", "45 years"), AGES),
    keyed(question("patient.gestation", "gestation", "Weeks of pregnancy at birth, for the preterm", "34 weeks"), AGES),
    question("patient.sex", "sex", "Sex", "female"),
    keyed(question("patient.height", "height", "Height", "170 cm"), LENGTHS),
    question("phase", "phase", "Phase", "maintenance"),
    keyed(question("dose", "dose", "Dose, with its unit, as the order says", "1.5 mcg/kg/min"), DOSE_RATES),
    keyed(question("titrate.from", "titrate", "Ordered range, from", "1 mcg/kg/min"), DOSE_RATES),
    keyed(question("titrate.to", "titrate", "Ordered range, to", "2 mcg/kg/min"), DOSE_RATES),
    keyed(question("titrate.step", "titrate", "Ordered step", "0.5 mcg/kg/min"), DOSE_RATES),
    keyed(question("bolus.dose", "bolus", "Ordered bolus", "0.5 mg/kg"), DOSES),
    keyed(question("bolus.over", "bolus", "Bolus over which time", "1 min"), TIMES_LONG),
    question("dosing_weight", "dosing_weight", "Weight by which the dose is counted", "actual"),
    keyed(question("label.amount", "label", "Amount, off the syringe's label", "250 mg"), AMOUNT),
    keyed(question("label.volume", "label", "Volume, off the syringe's label", "30 mL"), VOLUME),
    keyed(question("label.strength", "label", "Strength, off the syringe's label", "7.5 mg/mL"), STRENGTHS),
    keyed(question(AMPOULES, "made_from", "How many ampoules it was made from, or not seen, or bought in", "3"), COUNT),
    keyed(question("made_from.of", "made_from", "What each ampoule holds", "75 mg in 5 mL"), AMPOULE),
    question("made_from.how", "made_from", "How it was made", "made up to"),
    question("made_from.diluent", "made_from", "Diluent", "glucose 5 %"),
    keyed(question("drawn_up_at", "drawn_up_at", "Drawn up at", "06:15"), CLOCK),
    question("use_before", "use_before", "To be used before, as the syringe says", "2026-01-31 06:15"),
    question("access", "access", "Access", "central"),
    question("container", "container", "Syringe or bag", "syringe 50 mL"),
    question("line", "line", "Line", "narrow-150"),
    question("driver", "driver", "Driver or pump", "bench"),
    keyed(question("fill", "fill", "Volume in the syringe, before the line is filled", "28.5 mL"), VOLUME),
    question("line_filled", "line_filled", "With what the line is filled", "from this syringe"),
    keyed(question("beyond", "beyond", "Dead space beyond the line", "0.25 mL"), VOLUME),
    keyed(question("starts_at", "starts_at", "Planned start", "06:30"), CLOCK),
    keyed(question("planned_for", "planned_for", "Planned for", "90 min"), TIMES_LONG),
];

pub(super) const IDENTIFIER: &str = "patient.identifiers[0]";
pub(super) const AMPOULES: &str = "made_from.ampoules";
/// The two that an area's standard equipment answers at once. The syringe is read by each, off the one in the hand.
pub const EQUIPMENT: [&str; 2] = ["line", "driver"];
/// Answers that may be clock times.
pub const TIMES: [&str; 3] = ["drawn_up_at", "use_before", "starts_at"];
