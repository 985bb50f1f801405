//! Any text as every kind of quantity: what is read is shown as something that reads the same again.
#![no_main]

use countersign::quantity::{
    Age, Amount, BodyMass, BolusDose, DoseRate, FlowRate, Form, Length, Moment, Number, Percent, Quantity, Step, Strength, Time,
    Volume, parse_date,
};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for form in [Form::Dose, Form::Measured, Form::MeasuredOrZero, Form::Computed] {
        if let Ok(number) = Number::parse(text, form) {
            let shown = number.to_string();
            let again = Number::parse(&shown, form).unwrap_or_else(|refused| panic!("{text:?} is shown as {shown:?}: {refused}"));
            assert_eq!(again.ratio(), number.ratio(), "{text:?} is shown as {shown:?}");
        }
    }
    macro_rules! again {
        ($parse:expr, $same:expr) => {
            if let Ok(found) = $parse(text) {
                let shown = found.to_string();
                // A percentage and a ratio are echoed behind what they mean, which need not end.
                let shown = shown.split(" (").next().unwrap_or_default().to_owned();
                if shown.starts_with('\u{2248}') {
                    return;
                }
                let again = $parse(&shown).unwrap_or_else(|refused| panic!("{text:?} is shown as {shown:?}: {refused}"));
                assert!($same(found, again), "{text:?} is shown as {shown:?}");
            }
        };
    }
    again!(Quantity::<Amount>::parse, |a: Quantity<Amount>, b: Quantity<Amount>| a == b);
    again!(Quantity::<Volume>::parse, |a: Quantity<Volume>, b: Quantity<Volume>| a == b);
    again!(Quantity::<Time>::parse, |a: Quantity<Time>, b: Quantity<Time>| a == b);
    again!(Quantity::<Length>::parse, |a: Quantity<Length>, b: Quantity<Length>| a == b);
    again!(Quantity::<BodyMass>::parse, |a: Quantity<BodyMass>, b: Quantity<BodyMass>| a == b);
    again!(DoseRate::parse, DoseRate::same_as);
    again!(BolusDose::parse, BolusDose::same_as);
    again!(FlowRate::parse, |a: FlowRate, b: FlowRate| a.value() == b.value());
    again!(Strength::parse, |a: Strength, b: Strength| a == b);
    again!(Strength::parse_label, |a: Strength, b: Strength| a == b);
    again!(Percent::parse, |a: Percent, b: Percent| a.value() == b.value());
    let _ = (Age::parse(text), Step::parse(text), Moment::parse(text), parse_date(text));
});
