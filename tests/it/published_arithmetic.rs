//! Every sum once more by fractions of whole numbers of any length, from a library of general use, with unit factors of
//! its own (UCUM v2.2; the pound of 1959): random typed doses, bodies and strengths of up to nine digits give exactly
//! the same number, or numbers so far apart that they are refused.

use countersign::infusion::rate::{Body, RateError, dose_at, rate_for, volume_of};
use countersign::quantity::{
    BodyMass, BodySurface, BolusDose, DoseRate, DoseRateUnit, FlowRate, Quantity, Ratio, Strength,
};
use num_bigint::BigInt;
use num_rational::BigRational;
use proptest::prelude::*;
use proptest::sample::select;

/// Spelling and size in the smallest unit of the kind, as a power of ten.
type Unit = (&'static str, i32);

const KINDS: [&[Unit]; 5] = [
    &[("ng", 0), ("nanogram", 0), ("mcg", 3), ("ug", 3), ("mg", 6), ("g", 9)],
    &[("milliunits", 0), ("m[IU]", 0), ("units", 3), ("[IU]", 3)],
    &[("mcmol", 0), ("umol", 0), ("mmol", 3), ("mol", 6)],
    &[("mEq", 0), ("meq", 0)],
    VOLUMES,
];
const VOLUMES: &[Unit] = &[("microlitre", 0), ("uL", 0), ("mL", 3), ("ml", 3), ("L", 6)];
const MASS: usize = 0;
const VOLUME: usize = 4;
const TIMES: &[(&str, i64)] = &[("s", 1), ("min", 60), ("h", 3600), ("hr", 3600), ("day", 86_400), ("d", 86_400)];
/// Spelling, and kilograms as a fraction.
const WEIGHTS: &[(&str, i64, i64)] =
    &[("kg", 1, 1), ("g", 1, 1000), ("lb", 45_359_237, 100_000_000), ("[lb_av]", 45_359_237, 100_000_000)];

/// A typed number: its digits and how many of them stand after the point.
type Typed = (u64, u32);

#[derive(Debug, Clone)]
struct Case {
    kind: usize,
    dose: Typed,
    amount: Unit,
    per: &'static str,
    time: (&'static str, i64),
    weight: (Typed, (&'static str, i64, i64)),
    surface: Typed,
    strength: (Typed, Unit, Typed, Unit),
    form: u8,
    flow: Typed,
}

/// Up to nine significant digits from 10^-9 to 10^9, and at most sixteen decimals.
fn any_number() -> BoxedStrategy<Typed> {
    (1..=9_u32).prop_flat_map(|length| (10_u64.pow(length - 1)..10_u64.pow(length), 0..=(length + 8).min(16))).boxed()
}

/// Five digits, from 0.0001 to 99 999: what stands on orders and labels.
fn usual_number() -> BoxedStrategy<Typed> {
    (1..=99_999_u64, 0..=4_u32).boxed()
}

fn cases(number: BoxedStrategy<Typed>) -> impl Strategy<Value = Case> {
    (0..KINDS.len()).prop_flat_map(move |kind| {
        let doses = (number.clone(), select(KINDS[kind]), select(&["", "/kg", "/m2"][..]), select(TIMES));
        let bodies = (number.clone(), select(WEIGHTS), number.clone());
        let held = if kind == VOLUME { KINDS[MASS] } else { KINDS[kind] };
        let strengths = (number.clone(), select(held), number.clone(), select(VOLUMES));
        (doses, bodies, strengths, 0..5_u8, number.clone()).prop_map(
            move |((dose, amount, per, time), (weight, weighed, surface), strength, form, flow)| Case {
                kind,
                dose,
                amount,
                per,
                time,
                weight: (weight, weighed),
                surface,
                strength,
                form,
                flow,
            },
        )
    })
}

/// A product of factors that is not yet reduced: both parts as they would stand before anything cancels.
#[derive(Clone)]
struct Factors(BigInt, BigInt);

impl Factors {
    fn times(self, above: impl Into<BigInt>, below: impl Into<BigInt>) -> Self {
        Self(self.0 * above.into(), self.1 * below.into())
    }

    fn number(self, (digits, scale): Typed) -> Self {
        self.times(digits, ten(scale))
    }

    fn tens(self, tens: i32) -> Self {
        if tens < 0 { self.times(1, ten(tens.unsigned_abs())) } else { self.times(ten(tens.unsigned_abs()), 1) }
    }

    fn of(self, other: Self) -> Self {
        self.times(other.0, other.1)
    }

    fn over(self, other: Self) -> Self {
        self.times(other.1, other.0)
    }
}

const ONE: fn() -> Factors = || Factors(BigInt::from(1), BigInt::from(1));

fn ten(power: u32) -> BigInt {
    BigInt::from(10).pow(power)
}

impl Case {
    /// How much of the body the dose is counted against.
    fn against(&self) -> Factors {
        match (self.per, self.weight) {
            ("/kg", (number, (_, above, below))) => ONE().number(number).times(above, below),
            ("/m2", _) => ONE().number(self.surface),
            _ => ONE(),
        }
    }

    /// Smallest units of the amount in one mL; for a volume, microlitres in one mL.
    fn per_ml(&self) -> Factors {
        let (amount, unit, volume, volume_unit) = self.strength;
        match (self.kind, self.form) {
            (VOLUME, _) => ONE().tens(3),
            // Grams in 100 mL, and one gram in so many mL.
            (MASS, 3) if self.percent() => ONE().number(amount).tens(9 - 2),
            (MASS, 4) if self.one_in() => ONE().tens(9).over(ONE().number(volume)),
            (_, 1 | 2) => ONE().number(amount).tens(unit.1).tens(3 - volume_unit.1),
            _ => ONE().number(amount).tens(unit.1).over(ONE().number(volume)).tens(3 - volume_unit.1),
        }
    }

    fn percent(&self) -> bool {
        let ((digits, scale), ..) = self.strength;
        BigInt::from(digits) <= BigInt::from(100) * ten(scale)
    }

    /// Less than 1 mL for 1 g is more than 100 %, which is refused.
    fn one_in(&self) -> bool {
        let (.., (digits, scale), _) = self.strength;
        BigInt::from(digits) >= ten(scale)
    }

    fn strength(&self) -> Option<Strength> {
        let (amount, unit, volume, volume_unit) = self.strength;
        let (amount, volume) = (typed(amount), typed(volume));
        let text = match (self.kind, self.form) {
            (VOLUME, 0) => return None,
            (MASS, 3) if self.percent() => format!("{amount} %"),
            (MASS, 4) if self.one_in() => format!("1:{volume}"),
            (_, 1) => format!("{amount} {}/{}", unit.0, volume_unit.0),
            (_, 2) => format!("{amount} {} per {}", unit.0, volume_unit.0),
            _ => format!("{amount} {} in {volume} {}", unit.0, volume_unit.0),
        };
        Some(Strength::parse(&text).unwrap_or_else(|refused| panic!("{text}: {refused}")))
    }

    fn body(&self) -> Body {
        let (number, (unit, ..)) = self.weight;
        let weight = Quantity::<BodyMass>::parse(&format!("{} {unit}", typed(number))).expect("a weight");
        let surface = Quantity::<BodySurface>::parse(&format!("{} m2", typed(self.surface))).expect("a surface");
        Body { weight: Some(weight.value()), surface: Some(surface.value()) }
    }

    fn rate(&self) -> Factors {
        let amount = ONE().number(self.dose).tens(self.amount.1).of(self.against());
        amount.over(self.per_ml()).times(3600, self.time.1)
    }

    fn volume(&self) -> Factors {
        ONE().number(self.dose).tens(self.amount.1).of(self.against()).over(self.per_ml())
    }

    fn dose_at_flow(&self) -> Factors {
        let amount_per_hour = ONE().number(self.flow).of(self.per_ml());
        amount_per_hour.times(self.time.1, 3600).tens(-self.amount.1).over(self.against())
    }

    /// Each of our three sums, with theirs.
    fn sums(&self) -> [(&'static str, Result<Ratio, RateError>, Factors); 3] {
        let unit = format!("{}{}/{}", self.amount.0, self.per, self.time.0);
        let number = typed(self.dose);
        let dose = DoseRate::parse(&format!("{number} {unit}")).expect("a dose");
        let bolus = BolusDose::parse(&format!("{number} {}{}", self.amount.0, self.per)).expect("a bolus");
        let unit = DoseRateUnit::parse(&unit).expect("a unit");
        let flow = FlowRate::parse(&format!("{} mL/h", typed(self.flow))).expect("a rate").value();
        let (body, strength) = (self.body(), self.strength());
        [
            ("rate", rate_for(dose, body, strength), self.rate()),
            ("volume", volume_of(bolus, body, strength), self.volume()),
            ("dose", dose_at(flow, unit, body, strength), self.dose_at_flow()),
        ]
    }
}

fn typed((digits, scale): Typed) -> String {
    let scale = usize::try_from(scale).expect("small");
    let padded = format!("{digits:0>width$}", width = scale + 1);
    let (whole, fraction) = padded.split_at(padded.len() - scale);
    let fraction = fraction.trim_end_matches('0');
    if fraction.is_empty() { whole.to_owned() } else { format!("{whole}.{fraction}") }
}

fn theirs(ours: Ratio) -> BigRational {
    BigRational::new(BigInt::from(ours.numerator()), BigInt::from(ours.denominator()))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_same_number_or_both_out_of_range(case in cases(any_number())) {
        for (what, ours, Factors(above, below)) in case.sums() {
            let exact = BigRational::new(above.clone(), below.clone());
            let fits = |part: &BigInt| *part <= ten(37);
            match ours {
                Ok(ours) => prop_assert_eq!(theirs(ours), exact, "{}", what),
                Err(RateError::TooLarge(_)) => prop_assert!(!fits(&above) || !fits(&below), "{} is in range: {}", what, exact),
                Err(other) => prop_assert!(false, "{what}: {other}"),
            }
        }
    }

    // Where numbers are as on orders and labels, a sum is never refused.
    #[test]
    fn usual_numbers_always_have_an_answer(case in cases(usual_number())) {
        for (what, ours, Factors(above, below)) in case.sums() {
            prop_assert_eq!(ours.map(theirs), Ok(BigRational::new(above, below)), "{}", what);
        }
    }
}
