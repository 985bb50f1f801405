//! Units of an order: a code of the Unified Code for Units of Measure, of the closed table alone, and the unit beside it.

use crate::document::Refusal;
use crate::quantity::{Unit, clip};

/// The address of the code system.
pub(super) const SYSTEM: &str = "http://unitsofmeasure.org";

/// A unit as a code says it: an amount, and what it is divided by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Coded {
    amount: Unit,
    /// In the order of the table, so that `/kg/min` is `/min/kg`.
    divisors: Vec<Unit>,
    /// As this program writes it: `mcg/kg/min`.
    pub(super) shown: String,
}

/// Reads a UCUM code.
pub(super) fn read_code(text: &str) -> Result<Coded, Refusal> {
    coded(text, atom)
}

/// Whether the unit for people means what the code means.
pub(super) fn read_unit(text: &str, code: &Coded) -> Result<(), Refusal> {
    let spelled = |part: &str| {
        Unit::spelled(part.trim()).ok_or_else(|| {
            let message = format!("the unit `{}` is none that is known here", clip(text));
            let help = format!("write it as `{}`, or leave it out: the code counts", code.shown);
            Refusal::new("order-unit-unknown", message).help(help)
        })
    };
    let unit = coded(text, spelled)?;
    if (unit.amount, &unit.divisors) == (code.amount, &code.divisors) {
        return Ok(());
    }
    let message = format!("the unit says {}, and the code beside it {}", unit.shown, code.shown);
    Err(Refusal::new("order-unit-contradicts", message)
        .help("correct the order where it was written: it says two doses"))
}

fn coded(text: &str, read: impl Fn(&str) -> Result<Unit, Refusal>) -> Result<Coded, Refusal> {
    let mut parts = text.split('/');
    let amount = read(parts.next().unwrap_or_default())?;
    let mut divisors = parts.map(read).collect::<Result<Vec<_>, _>>()?;
    let shown = divisors.iter().fold(amount.shown().to_owned(), |shown, one| format!("{shown}/{}", one.shown()));
    divisors.sort_unstable();
    Ok(Coded { amount, divisors, shown })
}

/// Other valid codes of units of the table: the large L of the litre, and the small i of the international unit.
const ALSO: [(&str, Unit); 5] = [
    ("L", Unit::Litre),
    ("mL", Unit::Millilitre),
    ("uL", Unit::Microlitre),
    ("[iU]", Unit::Unit),
    ("m[iU]", Unit::Milliunit),
];

fn atom(text: &str) -> Result<Unit, Refusal> {
    let known = Unit::ALL.iter().copied().find(|unit| unit.ucum() == text);
    let also = || ALSO.iter().find(|(code, _)| *code == text).map(|(_, unit)| *unit);
    known.or_else(also).ok_or_else(|| {
        let refused = |message: String| Refusal::new("order-unit-code-unknown", message);
        if text == "U" {
            return refused("`U` is the enzyme unit in UCUM".to_owned()).help("write `[IU]` for international units");
        }
        if text.contains(['{', '.', '*', '^']) {
            let message = format!("`{}` is more than one unit, or holds a comment", clip(text));
            return refused(message).help("divide by each unit with a `/`: ug/kg/min");
        }
        let message = format!("`{}` is no UCUM code of a unit that is known here", clip(text));
        match Unit::spelled(text) {
            Some(unit) => refused(message).help(format!("its code is `{}`", unit.ucum())),
            None => refused(message).help("write codes as in ug/kg/min, mg/h, [IU]/h"),
        }
    })
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::{read_code, read_unit};

    #[rstest]
    #[case("ug/kg/min", "mcg/kg/min")]
    #[case("mg/h", "mg/h")]
    #[case("m[IU]/min", "milliunits/min")]
    #[case("[iU]/h", "units/h")]
    #[case("mL", "mL")]
    #[case("umol/kg/h", "micromol/kg/h")]
    fn a_code_of_the_table_is_read(#[case] code: &str, #[case] shown: &str) {
        assert_eq!(read_code(code).map(|coded| coded.shown), Ok(shown.to_owned()));
    }

    // UCUM has grammatical codes that mean something else than people read in them.
    #[rstest]
    #[case("U/h", "write `[IU]`")]
    #[case("mcg/kg/min", "its code is `ug`")]
    #[case("µg/kg/min", "its code is `ug`")]
    #[case("mg/kg.h", "divide by each unit")]
    #[case("ug{base}/min", "divide by each unit")]
    #[case("units/h", "its code is `[IU]`")]
    #[case("gtt/min", "write codes")]
    #[case("/kg/min", "write codes")]
    #[case("ug/kg/", "write codes")]
    #[case("UG/KG/MIN", "write codes")]
    fn any_other_is_refused(#[case] code: &str, #[case] help: &str) {
        let refusal = read_code(code).expect_err("not of the table");
        assert_eq!(refusal.code, "order-unit-code-unknown");
        assert!(refusal.help.as_deref().is_some_and(|found| found.starts_with(help)), "{refusal:?}");
    }

    #[rstest]
    #[case("mcg/kg/min", Ok(()))]
    #[case("µg/kg/min", Ok(()))]
    #[case("microgram/min/kg", Ok(()))]
    #[case("mg/kg/min", Err("order-unit-contradicts"))]
    #[case("mcg/kg/h", Err("order-unit-contradicts"))]
    #[case("mcg/min", Err("order-unit-contradicts"))]
    #[case("drops", Err("order-unit-unknown"))]
    fn the_unit_means_what_the_code_means(#[case] unit: &str, #[case] expected: Result<(), &str>) {
        let code = read_code("ug/kg/min").expect("of the table");
        assert_eq!(read_unit(unit, &code).map_err(|refusal| refusal.code), expected);
    }
}
