//! From ampoules and diluent to the syringe. In: what is opened, and how it is made up. Out: how much is drawn up of each,
//! what is left over, and the three figures of the label, all exact. "Made up to" and "added to" are two things.

use crate::formulary::{Composition, HowMade, Stocked};
use crate::quantity::{
    Amount, Concentration, Number, Product, Quantity, Ratio, Strength, TooLarge, Unit, UnitKind, Volume,
};

/// An ampoule: how much drug, in how much solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ampoule {
    /// How much drug.
    pub amount: Quantity<Amount>,
    /// In how much.
    pub volume: Quantity<Volume>,
}

/// How much drug goes into the syringe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// A number of ampoules, or a part of one.
    Ampoules(Number),
    /// So much drug, in the reference unit of its kind.
    Amount(UnitKind, Ratio),
}

/// What the drug is brought to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BroughtTo {
    /// Diluent is added until there is so much in all.
    MadeUpTo(Ratio),
    /// The drug is added to so much diluent: there is more than that in all.
    AddedTo(Ratio),
    /// As it is in the ampoule.
    Undiluted,
}

/// A syringe as it is made up. Volumes are in mL, the amount in the reference unit of its kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Prepared {
    /// What is opened.
    pub ampoule: Ampoule,
    /// How much of it is used, in ampoules.
    pub used: Ratio,
    /// How many ampoules are opened.
    pub opened: Ratio,
    /// How much drug solution is drawn up.
    pub drawn: Ratio,
    /// How much diluent there is in the end.
    pub diluent: Ratio,
    /// Which of the three ways.
    pub how: HowMade,
    /// How much drug is in the syringe.
    pub amount: Ratio,
    /// How much solution.
    pub volume: Ratio,
    /// What is left in the opened ampoules.
    pub left_over: Ratio,
}

/// Why it cannot be made so.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotMade {
    /// Grams of a drug that is in units, and the like.
    #[error("the ampoule holds {ampoule}, and {wanted} is wanted")]
    KindsDiffer {
        /// What an ampoule holds, in words.
        ampoule: &'static str,
        /// What is wanted, in words.
        wanted: &'static str,
    },
    /// More drug solution than the whole.
    #[error("{drawn} mL of drug cannot be made up to {volume} mL: it is more already")]
    MoreThanWhole {
        /// What is drawn up.
        drawn: String,
        /// The whole.
        volume: String,
    },
    /// A strength without a recipe.
    #[error("the formulary has no recipe for this strength")]
    NoRecipe,
    /// A strength that is made for each weight.
    #[error("this strength is made for the patient's weight, and no weight is given")]
    NoWeight,
    /// Another strength than the stocked one.
    #[error("from this ampoule it comes to {made}, and the strength is {stocked}")]
    OtherStrength {
        /// What it comes to.
        made: String,
        /// The stocked strength.
        stocked: String,
    },
    /// The numbers do not fit.
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
}

impl NotMade {
    /// Kebab-case, stable.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::KindsDiffer { .. } => "preparation-kinds-differ",
            Self::MoreThanWhole { .. } => "preparation-more-than-whole",
            Self::NoRecipe => "preparation-no-recipe",
            Self::NoWeight => "weight-missing",
            Self::OtherStrength { .. } => "preparation-other-strength",
            Self::TooLarge(_) => "too-large",
        }
    }

    /// What to do.
    #[must_use]
    pub const fn help(&self) -> &'static str {
        match self {
            Self::KindsDiffer { .. } => "write the amount in a unit of the same kind as the ampoule's",
            Self::MoreThanWhole { .. } => {
                "use fewer or stronger ampoules, or make it up to more; if the diluent was measured first, it is `added to`"
            }
            Self::NoRecipe => "name what is opened: --ampoule \"1 mg in 1 mL\"",
            Self::NoWeight => "give the weight: --weight \"3.2 kg\"",
            Self::OtherStrength { .. } => {
                "take the ampoule of the recipe; an undiluted strength comes out of one kind of ampoule only"
            }
            Self::TooLarge(_) => "look at the numbers: they are too far apart to be a syringe",
        }
    }
}

impl Prepared {
    /// Works out a syringe.
    ///
    /// # Errors
    /// [`NotMade`], when kinds differ or there is more drug solution than the whole.
    pub fn of(ampoule: Ampoule, wanted: Wanted, to: BroughtTo) -> Result<Self, NotMade> {
        let used = match wanted {
            Wanted::Ampoules(number) => number.ratio(),
            Wanted::Amount(kind, _) if kind != ampoule.amount.kind() => {
                let (ampoule, wanted) = (ampoule.amount.kind().described(), kind.described());
                return Err(NotMade::KindsDiffer { ampoule, wanted });
            }
            Wanted::Amount(_, amount) => amount.over(ampoule.amount.value())?,
        };
        let times = |value: Ratio| Product::ONE.ratio(used).ratio(value).finish();
        let (amount, drawn) = (times(ampoule.amount.value())?, times(ampoule.volume.value())?);
        let (how, diluent, volume) = match to {
            BroughtTo::MadeUpTo(whole) if drawn > whole => {
                let shown = crate::quantity::exact_or_about;
                return Err(NotMade::MoreThanWhole { drawn: shown(drawn), volume: shown(whole) });
            }
            BroughtTo::MadeUpTo(whole) => (HowMade::MadeUpTo, whole.less(drawn)?, whole),
            BroughtTo::AddedTo(diluent) => (HowMade::AddedTo, diluent, diluent.plus(drawn)?),
            BroughtTo::Undiluted => (HowMade::Undiluted, Ratio::ZERO, drawn),
        };
        let opened = Ratio::new(used.ceiling(), 1)?;
        let left_over = opened.less(used)?.times(ampoule.volume.value())?;
        Ok(Self { ampoule, used, opened, drawn, diluent, how, amount, volume, left_over })
    }

    /// A stocked strength as its recipe makes it, or from another ampoule made up to the same; in another volume, with
    /// drug and diluent in the same proportion.
    ///
    /// # Errors
    /// [`NotMade`].
    pub fn of_stock(
        stocked: &Stocked,
        ampoule: Option<Ampoule>,
        weight: Option<Ratio>,
        volume: Option<Ratio>,
    ) -> Result<Self, NotMade> {
        let (kind, amount, listed) = match stocked.composition {
            Composition::Fixed { amount, volume, .. } => (amount.kind(), amount.value(), volume.value()),
            Composition::PerKilogram { amount, volume } => {
                let weight = weight.ok_or(NotMade::NoWeight)?;
                let unit = amount.unit();
                let product = Product::ONE.number(amount.number()).unit(unit.amount()).ratio(weight);
                (unit.kind(), product.finish()?, volume.value())
            }
        };
        let whole = volume.unwrap_or(listed);
        let amount = Product::ONE.ratio(amount).ratio(whole).over_ratio(listed).finish()?;
        let recipe = stocked.recipe.as_ref();
        let ampoule = ampoule.or_else(|| Ampoule::of(recipe?.of)).ok_or(NotMade::NoRecipe)?;
        let how = recipe.map_or(HowMade::MadeUpTo, |recipe| recipe.how);
        let to = match how {
            HowMade::MadeUpTo => BroughtTo::MadeUpTo(whole),
            HowMade::Undiluted => BroughtTo::Undiluted,
            // The listed volume is drug and diluent together.
            HowMade::AddedTo => {
                let drawn = Product::ONE.ratio(amount).ratio(ampoule.volume.value()).over_ratio(ampoule.amount.value());
                let drawn = drawn.finish()?;
                let shown = crate::quantity::exact_or_about;
                let more = || NotMade::MoreThanWhole { drawn: shown(drawn), volume: shown(whole) };
                BroughtTo::AddedTo(whole.less(drawn).map_err(|_| more())?)
            }
        };
        let made = Self::of(ampoule, Wanted::Amount(kind, amount), to)?;
        let (comes_to, listed) = (made.concentration()?, stocked.concentration(weight.unwrap_or(Ratio::ONE)));
        if listed != Some(comes_to) {
            let unit = made.unit();
            let volume = crate::quantity::exact_or_about(made.volume);
            return Err(NotMade::OtherStrength {
                made: format!("{volume} mL of {}", comes_to.readable(unit)),
                stocked: stocked.to_string(),
            });
        }
        Ok(made)
    }

    /// What is in each mL.
    ///
    /// # Errors
    /// [`TooLarge`].
    pub fn concentration(&self) -> Result<Concentration, TooLarge> {
        Ok(Concentration { kind: self.ampoule.amount.kind(), per_ml: self.amount.over(self.volume)? })
    }

    /// The same drug if the volume were meant in the other way: what was to be the whole taken for the diluent, or the
    /// diluent for the whole. Nothing where it is undiluted, or could not be.
    #[must_use]
    pub fn taken_otherwise(&self) -> Option<Self> {
        let to = match self.how {
            HowMade::MadeUpTo => BroughtTo::AddedTo(self.volume),
            HowMade::AddedTo => BroughtTo::MadeUpTo(self.diluent),
            HowMade::Undiluted => return None,
        };
        Self::of(self.ampoule, Wanted::Amount(self.ampoule.amount.kind(), self.amount), to).ok()
    }

    /// The same syringe from a solution that is diluted tenfold first: the volume to which one ampoule is made up, and what is
    /// drawn up of that. Nothing where it does not come to the same syringe: where the drug is not made up to a volume, the
    /// one ampoule does not hold enough, or what is drawn up is more than the whole or still less than can be measured.
    #[must_use]
    pub fn in_two_steps(&self, smallest: Ratio) -> Option<(Ratio, Ratio)> {
        let tenfold = |volume: Ratio| volume.times(Ratio::whole(TENFOLD)).ok();
        let (first, drawn) = (tenfold(self.ampoule.volume.value())?, tenfold(self.drawn)?);
        let fits = self.how == HowMade::MadeUpTo && drawn <= first && drawn <= self.volume && drawn >= smallest;
        fits.then_some((first, drawn))
    }

    /// The unit of the amounts: the ampoule's.
    #[must_use]
    pub const fn unit(&self) -> Unit {
        self.ampoule.amount.unit()
    }

    /// The three figures of a label: amount, volume, strength. A mass is shown in the unit in which it is 1 or more, so
    /// that no figure begins with a nought.
    ///
    /// # Errors
    /// [`TooLarge`].
    pub fn label(&self) -> Result<[String; 3], TooLarge> {
        let content = self.concentration()?;
        let amount_unit = self.unit().readable_for(self.amount);
        let amount = Product::ONE.ratio(self.amount).over_unit(amount_unit).finish()?;
        let amount = format!("{} {}", crate::quantity::exact_or_about(amount), amount_unit.shown());
        let volume = format!("{} mL", crate::quantity::exact_or_about(self.volume));
        Ok([amount, volume, content.readable(self.unit())])
    }
}

/// A first dilution in round figures (common practice, no source).
pub const TENFOLD: u64 = 10;

impl Ampoule {
    /// What a strength `1 mg in 1 mL` says of an ampoule; nothing where it does not say how much one holds.
    #[must_use]
    pub fn of(strength: Strength) -> Option<Self> {
        match strength.stated() {
            crate::quantity::Stated::Of { amount, volume, in_words: true } => Some(Self { amount, volume }),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::LazyLock;

    use super::{Ampoule, BroughtTo, NotMade, Prepared, Wanted};
    use crate::formulary::{Formulary, Lookup, Stocked};
    use crate::quantity::{Amount, Number, NumberForm, Quantity, Ratio, Strength, TooLarge, exact_or_about};
    use proptest::prelude::*;
    use rstest::rstest;

    fn ampoule(text: &str) -> Ampoule {
        Ampoule::of(Strength::parse_label(text).expect("a strength")).expect("an ampoule")
    }

    fn number(text: &str) -> Number {
        Number::parse(text, NumberForm::Measured).expect("a number")
    }

    fn ml(text: &str) -> Ratio {
        number(text).ratio()
    }

    // US prescribing information, epinephrine sec 2.2: 1 mg (10 mL of 0.1 mg/mL) in 1,000 mL is printed as 1 mcg/mL; if the
    // added volume counts it is 0.990. Dopamine vial, dilution chart: 200 mg (5 mL) in 500 mL, printed 400, is 396.0.
    // Milrinone: 10 mL of 1 mg/mL added to 40 mL is 200 mcg/mL. CHEO parenteral manual, noradrenaline: 2.5 mL in 47.5 mL is 50.
    #[rstest]
    #[case("1 mg in 10 mL", "1", BroughtTo::AddedTo(ml("1000")), "≈ 0.9901 mcg/mL")]
    #[case("1 mg in 10 mL", "1", BroughtTo::MadeUpTo(ml("1000")), "1 mcg/mL")]
    #[case("200 mg in 5 mL", "1", BroughtTo::AddedTo(ml("500")), "≈ 396 mcg/mL")]
    #[case("200 mg in 5 mL", "2", BroughtTo::AddedTo(ml("500")), "≈ 784.3 mcg/mL")]
    #[case("10 mg in 10 mL", "1", BroughtTo::AddedTo(ml("40")), "200 mcg/mL")]
    #[case("1 mg in 1 mL", "2.5", BroughtTo::AddedTo(ml("47.5")), "50 mcg/mL")]
    #[case("5 mg in 5 mL", "1", BroughtTo::Undiluted, "1000 mcg/mL")]
    fn a_published_dilution_has_its_strength(
        #[case] of: &str,
        #[case] count: &str,
        #[case] to: BroughtTo,
        #[case] printed: &str,
    ) {
        let made = Prepared::of(ampoule(of), Wanted::Ampoules(number(count)), to).expect("it can be made");
        let shown = made.concentration().expect("small").shown_in(crate::quantity::Unit::Microgram);
        assert_eq!(shown, printed);
    }

    #[test]
    fn what_is_left_of_an_ampoule_is_told() {
        let to = BroughtTo::MadeUpTo(ml("50"));
        let made = Prepared::of(ampoule("5 mg in 2 mL"), Wanted::Ampoules(number("1.5")), to).expect("it can be made");
        assert_eq!((made.opened, made.left_over), (Ratio::whole(2), Ratio::ONE));
        assert_eq!(exact_or_about(made.drawn), "3");
    }

    #[test]
    fn more_drug_than_the_whole_is_refused() {
        let to = BroughtTo::MadeUpTo(ml("50"));
        let refused = Prepared::of(ampoule("20 mg in 20 mL"), Wanted::Ampoules(number("3")), to);
        assert!(matches!(refused, Err(NotMade::MoreThanWhole { .. })), "{refused:?}");
    }

    #[test]
    fn what_just_fits_is_made() {
        let of = |count: &str| {
            let to = BroughtTo::MadeUpTo(ml("50"));
            Prepared::of(ampoule("20 mg in 20 mL"), Wanted::Ampoules(number(count)), to).map(|made| made.diluent)
        };
        assert_eq!(of("2.5"), Ok(Ratio::ZERO));
        assert_eq!(of("2"), Ok(ml("10")));
        let too_much = NotMade::MoreThanWhole { drawn: "52".to_owned(), volume: "50".to_owned() };
        assert_eq!(of("2.6"), Err(too_much));
    }

    #[test]
    fn an_amount_is_wanted_in_the_ampoules_own_kind() {
        let of = |wanted: &str| {
            let wanted = Quantity::<Amount>::parse(wanted).expect("an amount");
            let to = BroughtTo::MadeUpTo(ml("50"));
            Prepared::of(ampoule("1 mg in 1 mL"), Wanted::Amount(wanted.kind(), wanted.value()), to)
        };
        assert_eq!(of("4 mg").map(|made| (made.used, made.drawn)), Ok((ml("4"), ml("4"))));
        let differ = NotMade::KindsDiffer { ampoule: "a mass", wanted: "an amount in units" };
        assert_eq!(of("4 units"), Err(differ));
    }

    #[rstest]
    #[case(NotMade::KindsDiffer { ampoule: "", wanted: "" }, "preparation-kinds-differ", "write the amount in a unit")]
    #[case(NotMade::MoreThanWhole { drawn: String::new(), volume: String::new() }, "preparation-more-than-whole", "use fewer or stronger")]
    #[case(NotMade::NoRecipe, "preparation-no-recipe", "name what is opened")]
    #[case(NotMade::NoWeight, "weight-missing", "give the weight")]
    #[case(NotMade::OtherStrength { made: String::new(), stocked: String::new() }, "preparation-other-strength", "take the ampoule")]
    #[case(NotMade::TooLarge(TooLarge), "too-large", "look at the numbers")]
    fn each_refusal_has_its_code_and_says_what_to_do(#[case] why: NotMade, #[case] code: &str, #[case] help: &str) {
        assert_eq!((why.code(), why.help().starts_with(help)), (code, true), "{}", why.help());
    }

    fn stock(drug: &str, amount: &str) -> &'static Stocked {
        static HOUSE: LazyLock<Formulary> = LazyLock::new(|| Formulary::demonstration().expect("it has no fault"));
        let Lookup::Found(drug) = HOUSE.drug(drug) else { panic!("{drug} is in the demonstration") };
        let of = |stocked: &&Stocked| stocked.to_string().contains(amount);
        drug.strengths.iter().find(of).unwrap_or_else(|| panic!("{amount} of {}", drug.name))
    }

    // As the recipes of the demonstration say: drug, strength, another ampoule, weight, another volume; drawn up, diluent.
    #[rstest]
    #[case("noradrenaline", "4 mg", "", "", "", Ok(("4", "46")))]
    #[case("noradrenaline", "4 mg", "", "", "25", Ok(("2", "23")))]
    #[case("noradrenaline", "4 mg", "2 mg in 5 mL", "", "", Ok(("10", "40")))]
    #[case("noradrenaline", "0.3 mg/kg", "1 mg in 1 mL", "10", "", Ok(("3", "47")))]
    #[case("noradrenaline", "0.3 mg/kg", "1 mg in 1 mL", "10", "25", Ok(("1.5", "23.5")))]
    #[case("noradrenaline", "0.3 mg/kg", "1 mg in 1 mL", "", "", Err("weight-missing"))]
    #[case("noradrenaline", "0.3 mg/kg", "", "10", "", Err("preparation-no-recipe"))]
    #[case("noradrenaline", "4 mg", "50 units in 1 mL", "", "", Err("preparation-kinds-differ"))]
    #[case("noradrenaline", "4 mg", "1 mg in 20 mL", "", "", Err("preparation-more-than-whole"))]
    #[case("milrinone", "10 mg", "", "", "", Ok(("10", "40")))]
    #[case("milrinone", "10 mg", "", "", "100", Ok(("20", "80")))]
    #[case("propofol", "500 mg", "", "", "", Ok(("50", "0")))]
    #[case("propofol", "500 mg", "", "", "20", Ok(("20", "0")))]
    #[case("propofol", "500 mg", "1000 mg in 50 mL", "", "", Err("preparation-other-strength"))]
    fn a_stocked_strength_is_made(
        #[case] drug: &str,
        #[case] strength: &str,
        #[case] of: &str,
        #[case] weight: &str,
        #[case] volume: &str,
        #[case] made: Result<(&str, &str), &str>,
    ) {
        let some = |text: &str| (!text.is_empty()).then(|| ml(text));
        let of = (!of.is_empty()).then(|| ampoule(of));
        let found = Prepared::of_stock(stock(drug, strength), of, some(weight), some(volume));
        let found = found.map(|made| (exact_or_about(made.drawn), exact_or_about(made.diluent)));
        let found = found.as_ref().map(|(drawn, diluent)| (&**drawn, &**diluent)).map_err(NotMade::code);
        assert_eq!(found, made);
    }

    #[rstest]
    #[case(BroughtTo::MadeUpTo(ml("50")), Some("54"))]
    #[case(BroughtTo::AddedTo(ml("46")), Some("46"))]
    #[case(BroughtTo::AddedTo(ml("3")), None)]
    #[case(BroughtTo::Undiluted, None)]
    fn the_whole_and_the_diluent_may_be_mixed_up(#[case] to: BroughtTo, #[case] volume: Option<&str>) {
        let made = Prepared::of(ampoule("1 mg in 1 mL"), Wanted::Ampoules(number("4")), to).expect("it can be made");
        assert_eq!(
            made.taken_otherwise().map(|other| (other.volume, other.amount)),
            volume.map(|ml_| (ml(ml_), made.amount))
        );
    }

    #[rstest]
    #[case("100 mg in 10 mL", "0.05", BroughtTo::MadeUpTo(ml("50")), "1", Some(("100", "5")))]
    #[case("100 mg in 10 mL", "0.05", BroughtTo::MadeUpTo(ml("50")), "5", Some(("100", "5")))]
    #[case("100 mg in 10 mL", "0.05", BroughtTo::MadeUpTo(ml("50")), "5.1", None)]
    #[case("100 mg in 10 mL", "0.5", BroughtTo::MadeUpTo(ml("50")), "1", Some(("100", "50")))]
    #[case("100 mg in 10 mL", "0.51", BroughtTo::MadeUpTo(ml("50")), "1", None)]
    #[case("100 mg in 1 mL", "1", BroughtTo::MadeUpTo(ml("50")), "1", Some(("10", "10")))]
    #[case("100 mg in 1 mL", "1.1", BroughtTo::MadeUpTo(ml("50")), "1", None)]
    #[case("100 mg in 10 mL", "0.05", BroughtTo::AddedTo(ml("49.5")), "1", None)]
    fn a_small_volume_is_drawn_up_of_a_tenfold_dilution(
        #[case] of: &str,
        #[case] count: &str,
        #[case] to: BroughtTo,
        #[case] smallest: &str,
        #[case] steps: Option<(&str, &str)>,
    ) {
        let made = Prepared::of(ampoule(of), Wanted::Ampoules(number(count)), to).expect("it can be made");
        assert_eq!(made.in_two_steps(ml(smallest)), steps.map(|(first, drawn)| (ml(first), ml(drawn))));
    }

    #[rstest]
    #[case("1 mg in 1 mL", "4", "50", ["4 mg", "50 mL", "80 mcg/mL"])]
    #[case("1 mg in 1 mL", "0.5", "10", ["500 mcg", "10 mL", "50 mcg/mL"])]
    #[case("100 units in 1 mL", "0.5", "50", ["50 units", "50 mL", "1 unit/mL"])]
    fn a_label_begins_with_no_nought(
        #[case] of: &str,
        #[case] count: &str,
        #[case] to: &str,
        #[case] label: [&str; 3],
    ) {
        let to = BroughtTo::MadeUpTo(ml(to));
        let made = Prepared::of(ampoule(of), Wanted::Ampoules(number(count)), to).expect("it can be made");
        assert_eq!(made.label(), Ok(label.map(str::to_owned)));
    }

    #[test]
    fn what_each_ml_holds_says_nothing_of_an_ampoule() {
        assert_eq!(Ampoule::of(Strength::parse("1 mg/mL").expect("a strength")), None);
        assert_eq!(Ampoule::of(Strength::parse("1 %").expect("a strength")), None);
    }

    proptest! {
        // Drug and diluent together are the whole, and nothing of an ampoule is lost, in each of the three ways.
        #[test]
        fn nothing_is_lost(count in 1_u32..40, tenths in 1_u32..200, whole in 1_u32..5000) {
            let ampoule = ampoule(&format!("3 mg in {}.{} mL", tenths / 10 + 1, tenths % 10 + 1).replace(".10 ", ".9 "));
            let used = Wanted::Ampoules(number(&count.to_string()));
            for to in [BroughtTo::MadeUpTo(Ratio::whole(u64::from(whole))), BroughtTo::AddedTo(Ratio::whole(u64::from(whole))), BroughtTo::Undiluted] {
                let Ok(made) = Prepared::of(ampoule, used, to) else { continue };
                prop_assert_eq!(made.drawn.plus(made.diluent).expect("small"), made.volume);
                let all = made.opened.times(ampoule.volume.value()).expect("small");
                prop_assert_eq!(made.drawn.plus(made.left_over).expect("small"), all);
                if let Some(other) = made.taken_otherwise() {
                    prop_assert_eq!(other.amount, made.amount);
                    prop_assert_ne!(other.volume, made.volume);
                    prop_assert_eq!(other.taken_otherwise().expect("it can be made again").volume, made.volume);
                }
            }
        }
    }
}
