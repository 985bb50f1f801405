//! Doses that were printed somewhere as right, with where: prescribing information, handbooks, guidelines. They do not come
//! from the limits that are tried, though the same publication may stand behind both.

/// A printed dose.
#[derive(Debug)]
pub(crate) struct Order {
    pub(crate) drug: &'static str,
    /// The printed dose, or the two ends of the printed range: drawn evenly by its logarithm.
    pub(crate) doses: &'static [&'static str],
    /// For adults, or for children.
    pub(crate) adult: bool,
    /// The only area it was printed for; any for adults or children where there is none.
    pub(crate) area: Option<&'static str>,
    /// The only use it was printed for; any where there is none.
    pub(crate) used_for: Option<&'static str>,
    /// From which age on, in months.
    pub(crate) from_months: u32,
    /// Up to which weight, where heavier patients are given another dose.
    pub(crate) up_to_kg: u32,
    /// In which phase.
    pub(crate) phase: &'static str,
    /// The table and row it was read in.
    pub(crate) source: &'static str,
}

const fn adult(drug: &'static str, doses: &'static [&'static str], phase: &'static str, source: &'static str) -> Order {
    Order { drug, doses, adult: true, area: None, used_for: None, from_months: 0, up_to_kg: 400, phase, source }
}

const fn child(drug: &'static str, doses: &'static [&'static str], source: &'static str) -> Order {
    Order {
        drug,
        doses,
        adult: false,
        area: None,
        used_for: None,
        from_months: 0,
        up_to_kg: 400,
        phase: "maintenance",
        source,
    }
}

impl Order {
    const fn within(self, area: &'static str) -> Self {
        Self { area: Some(area), ..self }
    }

    const fn used_for(self, used_for: &'static str) -> Self {
        Self { used_for: Some(used_for), ..self }
    }

    const fn up_to_kg(self, up_to_kg: u32) -> Self {
        Self { up_to_kg, ..self }
    }

    const fn older_than_months(self, from_months: u32) -> Self {
        Self { from_months, ..self }
    }
}

/// Read in November 2026: adrenaline 0.05, increased to 0.1; noradrenaline the same; milrinone 0.25 to 0.5; dopamine 5 mcg/kg/min
/// from three months; vasopressin 0.02 to 0.06 units/kg/h.
const CARDIAC: &str = "Starship, inotropes in children's cardiac anaesthesia, for theatre and intensive care";

/// Rows of the published rate tables, worked examples and paediatric recipes that an infusion of the demonstration may
/// run at, in the units in which they were printed. Left out: W44 and W46 (oxytocin, 20 and 15 mU/min), drills of arithmetic
/// above the labelled 9 to 10 mU/min.
pub(crate) const ORDERS: &[Order] = &[
    adult(
        "cisatracurium",
        &["1 mcg/kg/min", "1.5 mcg/kg/min", "2 mcg/kg/min"],
        "maintenance",
        "US prescribing information, sec 2.6 Table 1: after the start 1 to 2",
    ),
    adult("cisatracurium", &["3 mcg/kg/min"], "start", "US prescribing information, sec 2.6 Table 1: 3 at first"),
    adult(
        "dobutamine",
        &["2.5 mcg/kg/min", "10 mcg/kg/min"],
        "maintenance",
        "US prescribing information, dobutamine in 5 % dextrose, rate table",
    ),
    adult(
        "dobutamine",
        &["0.5 mcg/kg/min"],
        "start",
        "US prescribing information, dobutamine in 5 % dextrose, Example 1 (W01)",
    ),
    adult("dopamine", &["6 mcg/kg/min"], "maintenance", "worked example W29"),
    adult("dopamine", &["3 mcg/kg/min"], "start", "worked example W32"),
    adult("sodium nitroprusside", &["1 mcg/kg/min"], "maintenance", "worked example W07"),
    adult("glyceryl trinitrate", &["5 mcg/min"], "start", "worked example W27"),
    adult("esmolol", &["50 mcg/kg/min", "200 mcg/kg/min"], "maintenance", "worked example W65"),
    adult("nicardipine", &["5 mg/h"], "start", "worked example W23"),
    adult("nicardipine", &["15 mg/h"], "maintenance", "worked example W25"),
    adult("clevidipine", &["4 mg/h", "6 mg/h"], "maintenance", "worked example W19"),
    adult(
        "heparin",
        &["18 units/kg/h"],
        "maintenance",
        "worked example W40, for 75 kg: by the kg up to 100 kg (common practice, no source)",
    )
    .up_to_kg(100),
    adult("oxytocin", &["0.002 units/min"], "maintenance", "worked example W50"),
    adult("oxytocin", &["0.001 units/min"], "start", "worked example W42"),
    adult(
        "propofol",
        &["100 mcg/kg/min", "200 mcg/kg/min"],
        "start",
        "worked example W59: 6 to 12 mg/kg/h, to begin anaesthesia",
    )
    .within("adult theatre"),
    adult("propofol", &["5 mcg/kg/min"], "start", "worked example W61: 0.3 mg/kg/h, to begin sedation")
        .within("adult intensive care"),
    adult("atracurium", &["0.4 mg/kg/h", "0.8 mg/kg/h"], "maintenance", "worked example W63"),
    child(
        "adrenaline",
        &["0.05 mcg/kg/min", "1 mcg/kg/min"],
        "Therapeutic Guidelines Toxicology Table 1: 1 to 20 mL/h, for a poisoned child",
    )
    .used_for("poisoning"),
    child("adrenaline", &["0.05 mcg/kg/min", "0.1 mcg/kg/min"], CARDIAC),
    child("noradrenaline", &["0.05 mcg/kg/min", "0.1 mcg/kg/min"], "general formula, newborn drug guideline")
        .within("paediatric theatre"),
    child("noradrenaline", &["0.05 mcg/kg/min", "0.1 mcg/kg/min"], CARDIAC).within("paediatric intensive care"),
    child("milrinone", &["0.25 mcg/kg/min", "0.5 mcg/kg/min"], CARDIAC),
    child("dopamine", &["5 mcg/kg/min"], CARDIAC).within("paediatric intensive care").older_than_months(3),
    child("vasopressin", &["0.02 units/kg/h", "0.06 units/kg/h"], CARDIAC).within("paediatric intensive care"),
    child("glyceryl trinitrate", &["1 mcg/kg/min"], "BNF for Children, Appendix 4: 3 mg/kg in 50 mL at 1 mL/h"),
    child("midazolam", &["30 mcg/kg/h"], "paediatric recipe: 15 mg/kg in 50 mL at 0.1 mL/h"),
    // Newborns are given less: common practice, no source.
    child("morphine", &["10 mcg/kg/h", "60 mcg/kg/h"], "paediatric recipe: 1 mg/kg in 50 mL at 0.5 to 3 mL/h")
        .older_than_months(3),
    child("dobutamine", &["5 mcg/kg/min"], "rule of three: 90 mg in 50 mL for 6 kg at 1 mL/h"),
    child("dopamine", &["1 mcg/kg/min", "5 mcg/kg/min"], "paediatric recipe: 60 mg/kg in 100 mL at 0.1 mL/h")
        .within("newborn intensive care"),
    child("alprostadil", &["0.05 mcg/kg/min"], "paediatric recipe: 150 mcg in 50 mL"),
    child("insulin", &["0.01 units/kg/h", "0.05 units/kg/h"], "paediatric recipe: 10 units/kg in 100 mL at 0.1 mL/h"),
];

/// Printed boluses and loads: drug, whether for adults, dose, over which time (where none is printed, 10 min: common practice,
/// no source), by the sources of the drug's printed range.
pub(crate) const BOLUSES: &[(&str, bool, &str, &str)] = &[
    // US prescribing information, sec 2.2: 1 mcg/kg over 10 min.
    ("dexmedetomidine", true, "1 mcg/kg", "10 min"),
    // US prescribing information: 500 mcg/kg over 1 min.
    ("esmolol", true, "500 mcg/kg", "1 min"),
    // US prescribing information: 50 mcg/kg over 10 min.
    ("milrinone", true, "50 mcg/kg", "10 min"),
    // Am Fam Physician 2004;69:2841: 80 units/kg.
    ("heparin", true, "80 units/kg", "10 min"),
    // Int J Pediatr 2010, 189142, Table 1: 0.1 to 0.2 mg/kg.
    ("midazolam", false, "100 mcg/kg", "10 min"),
];
