//! Single values of a file: what a text may look like. Looser than the readers, which say what is wrong and why.

use std::borrow::Cow;
use std::collections::BTreeMap;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

/// One or more of a thing, under names that a person chooses.
pub(super) type Named<T> = BTreeMap<String, T>;

macro_rules! texts {
    ($($name:ident $title:literal, $schema:tt;)+) => {$(
        #[doc = $title]
        pub(super) struct $name;
        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                $title.into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!($schema)
            }
        }
    )+};
}

/// Digits, groups of digits and a point; then a unit, a `%` or the second half of a ratio.
const QUANTITY: &str = r"^[0-9]+( [0-9]{3})*(\.[0-9]+)? ?[^0-9 .,].*$";
/// A unit of a dose, without a number.
const UNIT: &str = r"^[^0-9 ][^ ]*$";

texts! {
    Words "words", {"type": "string", "pattern": r"\S"};
    SmallName "name-in-small-letters", {"type": "string", "pattern": r"^[^A-Z]*\S[^A-Z]*$"};
    // A year or a version that is all digits is a number to most editors.
    WordsOrNumber "words-or-a-number", {"type": ["string", "integer"], "pattern": r"\S"};
    YesOrNo "true-or-false", {"enum": [true, false]};
    Day "date", {"type": "string", "pattern": r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$", "examples": ["2027-06-30"]};
    Age "age", {"type": "string", "pattern": r"^[0-9]", "examples": ["28 days", "16 years"]};
    DoseRate "quantity-dose-per-time", {"type": "string", "pattern": QUANTITY, "examples": ["0.05 mcg/kg/min"]};
    Bolus "quantity-dose", {"type": "string", "pattern": QUANTITY, "examples": ["50 mcg/kg"]};
    Amount "quantity-amount-or-amount-per-kg", {"type": "string", "pattern": QUANTITY, "examples": ["4 mg", "0.3 mg/kg"]};
    Volume "quantity-volume", {"type": "string", "pattern": QUANTITY, "examples": ["50 mL"]};
    Weight "quantity-body-weight", {"type": "string", "pattern": QUANTITY, "examples": ["40 kg"]};
    Time "quantity-time", {"type": "string", "pattern": QUANTITY, "examples": ["24 h"]};
    Length "quantity-length", {"type": "string", "pattern": QUANTITY, "examples": ["150 cm"]};
    Flow "quantity-rate", {"type": "string", "pattern": QUANTITY, "examples": ["0.1 mL/h"]};
    Strength "quantity-strength", {"type": "string", "pattern": QUANTITY, "examples": ["80 mcg/mL", "1 mg in 1 mL"]};
    Percent "quantity-percentage", {"type": "string", "pattern": QUANTITY, "examples": ["5 %"]};
    Number "quantity-number", {"type": ["string", "number"], "pattern": r"^[0-9]+( [0-9]{3})*(\.[0-9]+)?$", "examples": ["2.5"]};
    DoseRateUnit "quantity-unit-of-a-dose-per-time", {"type": "string", "pattern": UNIT, "examples": ["mcg/kg/min"]};
    DoseUnit "quantity-unit-of-a-dose", {"type": "string", "pattern": UNIT, "examples": ["mcg/kg"]};
    Count "count", {"type": ["string", "integer"], "pattern": r"^[0-9]+$", "minimum": 1, "maximum": 255};
}

/// A word of a closed list, which the schema takes from the reader's own.
macro_rules! words {
    ($($name:ident $title:literal;)+) => {$(
        impl JsonSchema for $crate::formulary::$name {
            fn schema_name() -> Cow<'static, str> {
                $title.into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({"enum": Self::WORDS})
            }
        }
    )+};
}

words! {
    ContainerKind "kind-of-container";
    LineKind "kind-of-line";
    DriverKind "kind-of-driver";
    DosingWeight "dosing-weight";
    SurfaceFormula "formula-for-the-body-surface";
    HowMade "way-of-making-up";
    ThroughTheLine "way-through-a-line";
    Microgram "way-of-writing-micrograms";
}
