//! Closed lists of words that a file or an entry may use.

/// A closed list of words: each variant, as it is written.
macro_rules! words {
    ($($(#[doc = $doc:literal])+ $name:ident { $($(#[doc = $vdoc:literal])+ $variant:ident = $word:literal),+ $(,)? })+) => {$(
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum $name { $($(#[doc = $vdoc])+ $variant),+ }
        impl $name {
            /// Every word, as written.
            pub const WORDS: &'static [&'static str] = &[$($word),+];
            /// As written.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
            /// The word that is written exactly so.
            #[must_use]
            pub fn written(text: &str) -> Option<Self> {
                match text { $($word => Some(Self::$variant),)+ _ => None }
            }
        }
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<R: serde::Deserializer<'de>>(deserializer: R) -> Result<Self, R::Error> {
                let text = <std::borrow::Cow<'de, str>>::deserialize(deserializer)?;
                Self::written(&text).ok_or_else(|| serde::de::Error::unknown_variant(&text, Self::WORDS))
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    )+};
}
pub(crate) use words;

words! {
    /// The part of an infusion that an entry sets up.
    Phase {
        /// The first minutes.
        Start = "start",
        /// The running dose.
        Maintenance = "maintenance",
        /// On the way off: no lower limit.
        Weaning = "weaning",
        /// A loading infusion.
        Load = "load",
    }
    /// The weight by which a dose is counted.
    DosingWeight {
        /// As weighed.
        Actual = "actual",
        /// Devine 1974.
        Ideal = "ideal",
        /// Janmahasatian 2005.
        Lean = "lean",
        /// Ideal weight and 0.4 of what is above it.
        Adjusted = "adjusted",
    }
    /// The formula for the body surface.
    SurfaceFormula {
        /// Mosteller 1987.
        Mosteller = "mosteller",
        /// Du Bois 1916.
        DuBois = "du bois",
    }
    /// How a syringe is made up. Published recipes disagree, so each must say.
    HowMade {
        /// Diluent until the final volume is reached.
        MadeUpTo = "made up to",
        /// The drug's volume comes on top of the diluent's.
        AddedTo = "added to",
        /// No diluent.
        Undiluted = "undiluted",
    }
    /// How a drug goes through a line.
    ThroughTheLine {
        /// Dissolved, small molecules.
        Dissolved = "dissolved",
        /// Dissolved, large molecules.
        Protein = "protein",
        /// In droplets or particles.
        Emulsion = "emulsion",
        /// Lost to the wall of the line.
        SticksToPlastic = "sticks to plastic",
    }
    /// Whether the port on which a syringe hangs is read at the start and on each round.
    PortReading {
        /// It has to be said.
        Asked = "asked",
        /// It may be said.
        MayBeSaid = "may be said",
    }
    /// What happens where something else hangs in the lumen of a vasoactive drug.
    SharedLumen {
        /// A reason is asked for.
        Reason = "reason",
        /// The start is stopped.
        Stop = "stop",
    }
    /// How micrograms are written.
    Microgram {
        /// Short.
        Short = "mcg",
        /// In full.
        Full = "microgram",
    }
}
