//! The closed table of units. To add one: a line here, and its factor in the second route (`infusion::second_route`).

/// What a unit measures. Body mass is its own kind: mcg/kg/min is not "per mass".
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum UnitKind {
    /// Mass of drug. Reference unit: nanogram.
    Mass,
    /// International or other biological units. Reference unit: milliunit.
    Units,
    /// Amount of substance. Reference unit: micromole.
    Moles,
    /// Amount of charge carried; never converted to moles without a valence. Reference unit: milliequivalent.
    Equivalents,
    /// Volume. Reference unit: millilitre.
    Volume,
    /// Time. Reference unit: second.
    Time,
    /// Length. Reference unit: centimetre.
    Length,
    /// Body surface. Reference unit: square metre.
    Surface,
    /// Body mass only (grams are shared with drug mass). Reference unit: nanogram, as for drug mass.
    BodyMass,
}

impl Unit {
    /// The power of ten that this unit is of another; nothing where it is none.
    pub(super) fn tens_of(self, other: Self) -> Option<i32> {
        match (self.size(), other.size()) {
            ((1, 1, tens), (1, 1, other)) => Some(tens - other),
            _ => None,
        }
    }
}

impl UnitKind {
    /// In words, with its article.
    #[must_use]
    pub const fn described(self) -> &'static str {
        match self {
            Self::Mass => "a mass",
            Self::Units => "an amount in units",
            Self::Moles => "an amount in moles",
            Self::Equivalents => "an amount in milliequivalents",
            Self::Volume => "a volume",
            Self::Time => "a time",
            Self::Length => "a length",
            Self::Surface => "a surface",
            Self::BodyMass => "a body weight",
        }
    }
}

/// One line a unit: kind, as shown, UCUM code, size `above / below x 10^tens` in the kind's reference unit, other spellings.
macro_rules! units {
    ($($(#[doc = $doc:literal])+ $unit:ident: $kind:ident, $shown:literal, ucum $ucum:literal, $above:literal / $below:literal e $tens:literal, also [$($also:literal),*];)+) => {
        /// A unit from the closed table.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Unit { $($(#[doc = $doc])+ $unit),+ }

        impl Unit {
            /// Every unit, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$unit),+];

            /// What it measures.
            #[must_use]
            pub const fn kind(self) -> UnitKind {
                match self { $(Self::$unit => UnitKind::$kind),+ }
            }

            /// As it is shown to people (ISMP: nanogram in full, mcg, units, mL).
            #[must_use]
            pub const fn shown(self) -> &'static str {
                match self { $(Self::$unit => $shown),+ }
            }

            /// Its code in the Unified Code for Units of Measure.
            #[must_use]
            pub const fn ucum(self) -> &'static str {
                match self { $(Self::$unit => $ucum),+ }
            }

            /// Its size in the reference unit of its kind: `above / below x 10^tens`.
            pub(super) const fn size(self) -> (u64, u64, i32) {
                match self { $(Self::$unit => ($above, $below, $tens)),+ }
            }

            /// The unit that is spelled exactly so.
            #[must_use]
            #[allow(unreachable_patterns, reason = "a UCUM code is often the shown form")]
            pub fn spelled(text: &str) -> Option<Self> {
                match text { $($shown | $ucum $(| $also)* => Some(Self::$unit),)+ _ => None }
            }

            /// Every accepted spelling, for suggestions.
            pub(super) const SPELLINGS: &'static [(&'static str, Self)] =
                &[$(($shown, Self::$unit), ($ucum, Self::$unit), $(($also, Self::$unit),)*)+];
        }
    };
}

units! {
    /// Shown in full: ng is misread as mg (ISMP).
    Nanogram: Mass, "nanogram", ucum "ng", 1/1 e 0, also ["nanograms"];
    /// Microgram, never with a mu when shown (ISMP).
    Microgram: Mass, "mcg", ucum "ug", 1/1 e 3, also ["µg", "μg", "microgram", "micrograms"];
    /// Milligram.
    Milligram: Mass, "mg", ucum "mg", 1/1 e 6, also ["milligram", "milligrams"];
    /// Gram, of drug or of a newborn.
    Gram: Mass, "g", ucum "g", 1/1 e 9, also ["gram", "grams"];
    /// A thousandth of a unit.
    Milliunit: Units, "milliunits", ucum "m[IU]", 1/1 e 0, also ["milliunit", "m[iU]"];
    /// International or other biological unit, always as a word (ISMP: U is read as 0).
    Unit: Units, "units", ucum "[IU]", 1/1 e 3, also ["unit", "[iU]"];
    /// Micromole.
    Micromole: Moles, "micromol", ucum "umol", 1/1 e 0, also ["mcmol", "µmol", "μmol", "micromole", "micromoles"];
    /// Millimole.
    Millimole: Moles, "mmol", ucum "mmol", 1/1 e 3, also ["millimole", "millimoles"];
    /// Mole.
    Mole: Moles, "mol", ucum "mol", 1/1 e 6, also ["mole", "moles"];
    /// Milliequivalent.
    Milliequivalent: Equivalents, "mEq", ucum "meq", 1/1 e 0, also ["milliequivalent", "milliequivalents"];
    /// Microlitre.
    Microlitre: Volume, "microlitre", ucum "uL", 1/1 e -3, also ["microlitres", "microliter", "microliters", "mcL", "µL", "μL"];
    /// Millilitre.
    Millilitre: Volume, "mL", ucum "ml", 1/1 e 0, also ["millilitre", "millilitres", "milliliter", "milliliters"];
    /// Litre.
    Litre: Volume, "L", ucum "l", 1/1 e 3, also ["litre", "litres", "liter", "liters"];
    /// Second.
    Second: Time, "s", ucum "s", 1/1 e 0, also ["sec", "second", "seconds"];
    /// Minute.
    Minute: Time, "min", ucum "min", 60/1 e 0, also ["mins", "minute", "minutes"];
    /// Hour.
    Hour: Time, "h", ucum "h", 36/1 e 2, also ["hr", "hrs", "hour", "hours"];
    /// Day of 24 h.
    Day: Time, "day", ucum "d", 864/1 e 2, also ["days"];
    /// Kilogram of body weight.
    Kilogram: BodyMass, "kg", ucum "kg", 1/1 e 12, also ["kilogram", "kilograms"];
    /// Avoirdupois pound: exactly 0.45359237 kg (international yard and pound agreement, 1959).
    Pound: BodyMass, "lb", ucum "[lb_av]", 45359237/1 e 4, also ["lbs", "pound", "pounds"];
    /// Centimetre.
    Centimetre: Length, "cm", ucum "cm", 1/1 e 0, also ["centimetre", "centimetres"];
    /// Metre.
    Metre: Length, "m", ucum "m", 1/1 e 2, also ["metre", "metres"];
    /// Square metre of body surface.
    SquareMetre: Surface, "m2", ucum "m2", 1/1 e 0, also ["m²"];
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    #[test]
    fn no_spelling_means_two_units() {
        let mut seen = HashMap::new();
        for (spelling, unit) in Unit::SPELLINGS {
            assert_eq!(*seen.entry(*spelling).or_insert(*unit), *unit, "{spelling}");
            assert_eq!(Unit::spelled(spelling), Some(*unit));
        }
        assert!(Unit::ALL.iter().all(|u| Unit::spelled(u.shown()) == Some(*u) && Unit::spelled(u.ucum()) == Some(*u)));
    }

    #[test]
    fn a_kind_is_described_with_its_article() {
        assert_eq!(
            [UnitKind::Mass, UnitKind::Units, UnitKind::BodyMass].map(UnitKind::described),
            ["a mass", "an amount in units", "a body weight"]
        );
    }

    // ISMP list of error-prone abbreviations: none of these may ever be shown.
    #[test]
    fn nothing_error_prone_is_shown() {
        for bad in ["ng", "µg", "ug", "U", "IU", "u", "cc", "hr", "ml", "µL"] {
            assert!(Unit::ALL.iter().all(|unit| unit.shown() != bad), "{bad}");
        }
    }
}
