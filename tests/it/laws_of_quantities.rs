//! Laws that hold for every quantity: what is shown is read again as the same, no text makes the reader fall over,
//! every refusal points into its text, two spellings of one quantity are equal, and sums scale as they must.

use std::fmt::{Debug, Display};

use countersign::infusion::rate::{Body, dose_at, rate_for, volume_of};
use countersign::quantity::{
    Age, Amount, BodyMass, BodySurface, BolusDose, Dimension, DoseRate, DoseRateUnit, DoseUnit, FlowRate, Length,
    Moment, Number, NumberForm, Percent, Quantity, Ratio, Refused, Step, Strength, Time, Unit, Volume, exact_or_about,
    grouped, parse_date, plain,
};
use proptest::prelude::*;
use proptest::sample::select;

// Each line holds spellings of one unit.
const MASSES: &[&[&str]] = &[
    &["nanogram", "nanograms", "ng"],
    &["mcg", "ug", "µg", "μg", "microgram", "micrograms"],
    &["mg", "milligram", "milligrams"],
    &["g", "gram", "grams"],
];
const AMOUNTS: &[&[&str]] = &[
    MASSES[0],
    MASSES[1],
    MASSES[2],
    MASSES[3],
    &["milliunits", "milliunit", "m[IU]", "m[iU]"],
    &["units", "unit", "[IU]", "[iU]"],
    &["micromol", "umol", "mcmol", "µmol", "μmol", "micromole", "micromoles"],
    &["mmol", "millimole", "millimoles"],
    &["mol", "mole", "moles"],
    &["mEq", "meq", "milliequivalent", "milliequivalents"],
];
const VOLUMES: &[&[&str]] = &[
    &["microlitre", "microlitres", "uL", "mcL", "µL", "μL", "microliter", "microliters"],
    &["mL", "ml", "millilitre", "millilitres", "milliliter", "milliliters"],
    &["L", "l", "litre", "litres", "liter", "liters"],
];
const TIMES: &[&[&str]] = &[
    &["s", "sec", "second", "seconds"],
    &["min", "mins", "minute", "minutes"],
    &["h", "hr", "hrs", "hour", "hours"],
    &["day", "days", "d"],
];
const WEIGHTS: &[&[&str]] =
    &[&["kg", "kilogram", "kilograms"], MASSES[3], &["lb", "lbs", "pound", "pounds", "[lb_av]"]];
const LENGTHS: &[&[&str]] = &[&["cm", "centimetre", "centimetres"], &["m", "metre", "metres"]];
const SURFACES: &[&[&str]] = &[&["m2", "m²"]];
const BODIES: &[&[&str]] = &[&["", ""], &["/kg", " per kg", " / kg", "/kilogram"], &["/m2", " per m2", "/m²"]];

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

/// A number in two spellings: bare, and grouped where it is long enough.
fn numbers() -> BoxedStrategy<[String; 2]> {
    (1..=9_u32)
        .prop_flat_map(|length| (10_u64.pow(length - 1)..10_u64.pow(length), 0..=(length + 8).min(16)))
        .prop_map(|(digits, scale)| {
            let scale = usize::try_from(scale).expect("small");
            let padded = format!("{digits:0>width$}", width = scale + 1);
            let (whole, fraction) = padded.split_at(padded.len() - scale);
            let fraction = fraction.trim_end_matches('0');
            let bare = if fraction.is_empty() { whole.to_owned() } else { format!("{whole}.{fraction}") };
            [grouped(&bare), bare]
        })
        .boxed()
}

/// One unit in two spellings.
fn unit(spellings: &'static [&'static [&'static str]]) -> BoxedStrategy<[&'static str; 2]> {
    select(spellings).prop_flat_map(|same| (select(same), select(same))).prop_map(|(one, other)| [one, other]).boxed()
}

fn quantity(spellings: &'static [&'static [&'static str]]) -> BoxedStrategy<[String; 2]> {
    (numbers(), unit(spellings))
        .prop_map(|(number, unit)| [0, 1].map(|way| format!("{} {}", number[way], unit[way])))
        .boxed()
}

fn doses() -> BoxedStrategy<[String; 2]> {
    (prop_oneof![quantity(AMOUNTS), quantity(VOLUMES)], unit(BODIES))
        .prop_map(|(amount, per)| [0, 1].map(|way| format!("{}{}", amount[way], per[way])))
        .boxed()
}

fn dose_rates() -> BoxedStrategy<[String; 2]> {
    (doses(), unit(TIMES))
        .prop_map(|(dose, time)| [format!("{}/{}", dose[0], time[0]), format!("{} per {}", dose[1], time[1])])
        .boxed()
}

fn flows() -> BoxedStrategy<[String; 2]> {
    (quantity(VOLUMES), unit(TIMES))
        .prop_map(|(volume, time)| [format!("{}/{}", volume[0], time[0]), format!("{} per {}", volume[1], time[1])])
        .boxed()
}

fn strengths() -> BoxedStrategy<[String; 2]> {
    let in_volume = (quantity(AMOUNTS), quantity(VOLUMES))
        .prop_map(|(amount, volume)| [0, 1].map(|way| format!("{} in {}", amount[way], volume[way])));
    let each = (quantity(AMOUNTS), unit(VOLUMES))
        .prop_map(|(amount, unit)| [format!("{}/{}", amount[0], unit[0]), format!("{} per 1 {}", amount[1], unit[1])]);
    let percent = (1..=10_000_u64).prop_map(|hundredths| {
        let number = plain(Ratio::new(hundredths.into(), 100).expect("small"));
        let mg = plain(Ratio::new(hundredths.into(), 10).expect("small"));
        [format!("{number} %"), format!("{mg} mg/mL")]
    });
    // Less than 1 mL for 1 g is more than 100 %, which is refused.
    let at_least_one = |number: &[String; 2]| !number[0].starts_with('0');
    let one_in = numbers()
        .prop_filter("1:1 and weaker", at_least_one)
        .prop_map(|number| [format!("1:{}", number[0]), format!("1 g in {} mL", number[1])]);
    prop_oneof![in_volume, each, percent, one_in].boxed()
}

type Read<T> = fn(&str) -> Result<T, Refused>;

/// Both spellings are read, are equal, and what is shown is read again as the same and shown the same.
fn holds<T: PartialEq + Debug + Display>(read: Read<T>, texts: &[String; 2]) -> Result<(), TestCaseError> {
    let found = texts.each_ref().map(|text| read(text));
    let [Ok(one), Ok(other)] = found else {
        return Err(TestCaseError::fail(format!("{texts:?}: {found:?}")));
    };
    prop_assert_eq!(&one, &other);
    for value in [one, other] {
        let shown = value.to_string();
        // A percentage and a ratio are echoed in mg/mL, with what was typed in brackets.
        let typed = shown.split_once(" (").map_or(&*shown, |(_, typed)| typed.trim_end_matches(')'));
        let again = read(typed);
        prop_assert_eq!(again.as_ref(), Ok(&value), "shown as {}", shown);
        prop_assert_eq!(again.map(|again| again.to_string()), Ok(shown));
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(1000))]

    #[test]
    fn a_dose_rate_is_read_as_it_is_shown(texts in dose_rates()) {
        holds(DoseRate::parse, &texts)?;
    }

    #[test]
    fn a_unit_is_read_as_it_is_shown(amount in unit(AMOUNTS), per in unit(BODIES), time in unit(TIMES)) {
        let units = [0, 1].map(|way| format!("{}{}", amount[way], per[way]));
        holds(DoseUnit::parse, &units)?;
        holds(DoseRateUnit::parse, &[format!("{}/{}", units[0], time[0]), format!("{} per {}", units[1], time[1])])?;
    }

    #[test]
    fn a_bolus_is_read_as_it_is_shown(texts in doses()) {
        holds(BolusDose::parse, &texts)?;
    }

    #[test]
    fn a_strength_is_read_as_it_is_shown(texts in strengths()) {
        holds(Strength::parse, &texts)?;
        holds(Strength::parse_label, &texts)?;
    }

    #[test]
    fn a_rate_of_volume_is_read_as_it_is_shown(texts in flows()) {
        let read = texts.each_ref().map(|text| FlowRate::parse(text).map(FlowRate::value));
        prop_assert!(read[0].is_ok(), "{:?}", read);
        prop_assert_eq!(&read[0], &read[1]);
        for text in &texts {
            let flow = FlowRate::parse(text).expect("read above");
            prop_assert_eq!(FlowRate::parse(&flow.to_string()), Ok(flow));
            prop_assert_eq!(FlowRate::parse_computed(&flow.to_string()), Ok(flow));
            prop_assert_eq!(Step::parse(text), Ok(Step::Of(flow)));
        }
    }

    #[test]
    fn a_quantity_is_read_as_it_is_shown(
        volume in quantity(VOLUMES),
        weight in quantity(WEIGHTS),
        time in quantity(TIMES),
        length in quantity(LENGTHS),
        surface in quantity(SURFACES),
        amount in quantity(AMOUNTS),
    ) {
        holds(Quantity::<Volume>::parse, &volume)?;
        holds(Quantity::<BodyMass>::parse, &weight)?;
        holds(Quantity::<Time>::parse_or_zero, &time)?;
        holds(Quantity::<Length>::parse, &length)?;
        holds(Quantity::<BodySurface>::parse, &surface)?;
        holds(Quantity::<Amount>::parse_dose, &amount)?;
    }

    #[test]
    fn a_percentage_and_an_age_are_read_as_they_are_shown(
        number in numbers(),
        unit in select(&["years", "months", "weeks", "days"][..]),
    ) {
        holds(Percent::parse, &number.each_ref().map(|number| format!("{number} %")))?;
        holds(Age::parse, &number.each_ref().map(|number| format!("{number} {unit}")))?;
    }

    // A thousand of one unit is one of the next: 0.5 mg is 500 mcg.
    #[test]
    fn the_same_amount_in_two_units_is_equal(digits in 1..=999_999_u64, steps in 0..3_usize) {
        let one = format!("{} {}", digits * 1000, AMOUNTS[steps][0]);
        let other = format!("{digits} {}", AMOUNTS[steps + 1][0]);
        prop_assert_eq!(Quantity::<Amount>::parse(&one), Quantity::<Amount>::parse(&other));
        let unequal = format!("{digits} {}", AMOUNTS[steps][0]);
        prop_assert_ne!(Quantity::<Amount>::parse(&one), Quantity::<Amount>::parse(&unequal));
    }

    // Ten times the weight takes ten times the rate, and ten times the strength a tenth.
    #[test]
    fn a_rate_scales_with_the_weight_and_against_the_strength(
        dose in (1..=99_999_u64, 0..=4_u32),
        weight in 1..=3000_u64,
        k in 1..=1000_u64,
        amount in 1..=9999_u64,
    ) {
        let dose = plain(Ratio::new(dose.0.into(), 10_u128.pow(dose.1)).expect("small"));
        let weight = Ratio::new(weight.into(), 10).expect("small");
        let rate = |per: &str, weight: Ratio, amount: u64| {
            let dose = DoseRate::parse(&format!("{dose} mcg{per}/min")).expect("a dose");
            let body = Body { weight: Some(weight), surface: Some(weight) };
            rate_for(dose, body, Strength::parse(&format!("{amount} mg in 50 mL")).ok()).expect("a rate")
        };
        let times = |value: Ratio| value.times(Ratio::whole(k)).expect("small");
        for per in ["/kg", "/m2"] {
            prop_assert_eq!(rate(per, times(weight), amount), times(rate(per, weight, amount)));
        }
        prop_assert_eq!(rate("", times(weight), amount), rate("", weight, amount));
        prop_assert_eq!(times(rate("/kg", weight, amount * k)), rate("/kg", weight, amount));
        prop_assert_eq!(rate("/kg", weight, amount), rate("", Ratio::ONE, amount).times(weight).expect("small"));
    }

    #[test]
    fn a_dose_is_the_same_after_its_rate(
        texts in (numbers(), unit(MASSES), unit(BODIES), unit(TIMES)),
        strength in (numbers(), unit(MASSES), numbers(), unit(VOLUMES)),
        body in (numbers(), numbers()),
    ) {
        let (number, amount, per, time) = texts;
        let dose = DoseRate::parse(&format!("{} {}{}/{}", number[0], amount[0], per[0], time[0])).expect("a dose");
        let (of, of_unit, volume, volume_unit) = strength;
        let strength = Strength::parse(&format!("{} {} in {} {}", of[0], of_unit[0], volume[0], volume_unit[0]));
        let strength = Some(strength.expect("a strength"));
        let ratio = |number: &[String; 2]| Number::parse(&number[1], NumberForm::Measured).expect("a number").ratio();
        let body = Body { weight: Some(ratio(&body.0)), surface: Some(ratio(&body.1)) };
        // Numbers too far apart are refused in either direction, never rounded.
        let Ok(rate) = rate_for(dose, body, strength) else { return Ok(()) };
        let Ok(back) = dose_at(rate, dose.unit(), body, strength) else { return Ok(()) };
        prop_assert_eq!(back, dose.number().ratio());
        let hour = DoseRate::parse(&format!("{} {}{}/h", number[0], amount[0], per[0])).expect("a dose");
        let bolus = BolusDose::parse(&format!("{} {}{}", number[0], amount[0], per[0])).expect("a bolus");
        if let (Ok(rate), Ok(volume)) = (rate_for(hour, body, strength), volume_of(bolus, body, strength)) {
            prop_assert_eq!(rate, volume, "an hour at a dose per hour is one dose");
        }
    }
}

/// A reader that is tried: its refusal if there is one. What was read is also worked out and shown.
type Tried = (&'static str, fn(&str) -> Option<Refused>);

const READERS: &[Tried] = &[
    ("a dose rate", |text| tried(DoseRate::parse(text), |read| read.to_string())),
    ("a dose rate unit", |text| tried(DoseRateUnit::parse(text), |read| read.to_string())),
    ("a bolus", |text| tried(BolusDose::parse(text), |read| read.to_string())),
    ("a bolus unit", |text| tried(DoseUnit::parse(text), |read| read.to_string())),
    ("a strength", |text| tried(Strength::parse(text), used)),
    ("a label", |text| tried(Strength::parse_label(text), used)),
    ("a volume", |text| tried(Quantity::<Volume>::parse(text), measured)),
    ("a volume or zero", |text| tried(Quantity::<Volume>::parse_or_zero(text), measured)),
    ("a weight", |text| tried(Quantity::<BodyMass>::parse(text), measured)),
    ("a time", |text| tried(Quantity::<Time>::parse(text), measured)),
    ("a length", |text| tried(Quantity::<Length>::parse(text), measured)),
    ("a surface", |text| tried(Quantity::<BodySurface>::parse(text), measured)),
    ("an amount", |text| tried(Quantity::<Amount>::parse_dose(text), measured)),
    ("a rate", |text| tried(FlowRate::parse(text), |read| format!("{read} {}", plain(read.value())))),
    ("a computed rate", |text| tried(FlowRate::parse_computed(text), |read| format!("{read} {}", plain(read.value())))),
    ("a step", |text| tried(Step::parse(text), |read| format!("{read:?}"))),
    ("a percentage", |text| tried(Percent::parse(text), |read| exact_or_about(read.value()))),
    ("an age", |text| tried(Age::parse(text), |read| exact_or_about(read.days()))),
    ("a moment", |text| tried(Moment::parse(text), |read| read.to_string())),
    ("a day", |text| tried(parse_date(text), |read| read.to_string())),
];

fn tried<T>(read: Result<T, Refused>, then: fn(T) -> String) -> Option<Refused> {
    read.map(then).err()
}

fn used(read: Strength) -> String {
    let kind = read.concentration().kind;
    let units = Unit::ALL.iter().filter(|unit| unit.kind() == kind);
    units.map(|unit| read.concentration().shown_in(*unit)).fold(read.to_string(), |all, one| all + &one)
}

fn measured<D: Dimension>(read: Quantity<D>) -> String {
    format!("{read} {}", exact_or_about(read.value()))
}

fn no_reader_falls_over(text: &str) -> Result<(), TestCaseError> {
    for (what, read) in READERS {
        let Some(refused) = read(text) else { continue };
        prop_assert!(text.get(refused.range.clone()).is_some(), "{} as {}: {:?}", text, what, refused);
        prop_assert!(!refused.help.is_empty(), "{} as {} has a mend", text, what);
        prop_assert!(refused.to_string().chars().count() < 400, "{} as {} is short", text, what);
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(2000))]

    #[test]
    fn no_bytes_make_a_reader_fall_over(bytes in prop::collection::vec(any::<u8>(), 0..40)) {
        no_reader_falls_over(&String::from_utf8_lossy(&bytes))?;
    }

    #[test]
    fn no_text_makes_a_reader_fall_over(text in any::<String>()) {
        no_reader_falls_over(&text)?;
    }

    #[test]
    fn nothing_nearly_right_makes_a_reader_fall_over(text in "[0-9]{0,10}[ .,:\u{2009}]{0,2}[0-9]{0,18}[ %]{0,1}(m|mcg|µg|g|kg|mL|microlitre|units|lb|m2|γ|in|per|/){0,3}( in |/| per |:){0,2}[0-9.]{0,20} ?(mL|microlitre|L|kg|m2|min|h|day|m){0,2}(/h)?") {
        no_reader_falls_over(&text)?;
    }
}

// The smallest and the largest numbers of the grammar against each other, in every unit.
#[test]
fn no_strength_falls_over_at_the_ends() {
    const ENDS: [&str; 7] = [
        "0.000000001",
        "0.00000000123456789",
        "0.0000000012345678",
        "0.0000000098765431",
        "123456789",
        "999999999",
        "1000000000",
    ];
    let mut read = 0;
    for (amount, unit) in ENDS.iter().flat_map(|amount| AMOUNTS.iter().map(move |unit| (amount, unit[0]))) {
        for (volume, volume_unit) in ENDS.iter().flat_map(|volume| VOLUMES.iter().map(move |unit| (volume, unit[0]))) {
            let text = format!("{amount} {unit} in {volume} {volume_unit}");
            no_reader_falls_over(&text).expect("no refusal without its place");
            read += usize::from(Strength::parse(&text).is_ok());
        }
    }
    // All but those with the second number, which has more decimals than any fraction could be kept with.
    assert_eq!(read, 6 * 6 * AMOUNTS.len() * VOLUMES.len());
}
