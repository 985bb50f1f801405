//! The rules, one per file, in the order in which a person would look.

macro_rules! rules {
    ($($name:ident),+ $(,)?) => {
        $(mod $name;)+
        /// Every rule.
        pub(super) static RULES: &[super::checked::Rule] = &[$($name::RULE),+];
    };
}

rules! {
    formulary_standing,
    names,
    identifiers,
    age,
    weight,
    weight_source,
    dosing_weight,
    computable,
    dose_unit,
    dose_limits,
    titration,
    bolus,
    label,
    preparation,
    strength_stocked,
    access,
    container,
    fill,
    line,
    arrival,
    driver_range,
    flow,
    rounding,
    lasting,
    duration,
    life,
}
