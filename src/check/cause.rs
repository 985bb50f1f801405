//! Where a ratio tells the cause of a wrong number, the message names it.

use crate::quantity::{Ratio, exact_or_about};

/// A factor that slips make, and the slip.
struct Slip {
    above: u64,
    below: u64,
    says: &'static str,
}

/// Ordered by how much each explains. 2.2046 lb are 1 kg (0.45359237 kg are 1 lb, exactly).
const SLIPS: &[Slip] = &[
    Slip { above: 1000, below: 1, says: "1000 times: mg, mcg and nanogram taken for each other?" },
    Slip { above: 60, below: 1, says: "60 times: per min and per h taken for each other?" },
    Slip { above: 10, below: 1, says: "10 times: a point misplaced, or a zero too many or too few?" },
    Slip { above: 24, below: 1, says: "24 times: per h and per day taken for each other?" },
    Slip { above: 1440, below: 1, says: "1440 times: per min and per day taken for each other?" },
    Slip { above: 100, below: 1, says: "100 times: a point misplaced by two places?" },
];

/// The slips that would bring a value outside a range into it: at most two, in words.
pub(super) fn of_dose(value: Ratio, from: Ratio, to: Ratio, weight: Option<Ratio>) -> Option<String> {
    let fits = |factor: Ratio| {
        let moved = if value > to { value.over(factor) } else { value.times(factor) };
        moved.is_ok_and(|moved| moved >= from && moved <= to)
    };
    let mut says: Vec<String> = SLIPS
        .iter()
        .filter(|slip| Ratio::new(slip.above.into(), slip.below.into()).is_ok_and(fits))
        .take(2)
        .map(|slip| slip.says.to_owned())
        .collect();
    if let Some(weight) = weight.filter(|weight| says.is_empty() && fits(*weight)) {
        says.push(format!(
            "{} times, which is the weight: per kg and per patient taken for each other?",
            exact_or_about(weight)
        ));
    }
    (!says.is_empty()).then(|| says.join(" or "))
}

/// Names the exact ratio of two values, if it is one that a slip makes.
pub(crate) fn exact(one: Ratio, other: Ratio) -> Option<&'static str> {
    let ratio = if one > other { one.over(other) } else { other.over(one) }.ok()?;
    let pound = Ratio::new(100_000_000, 45_359_237).ok()?;
    if ratio == pound {
        return Some("2.2046 times: pounds taken for kg?");
    }
    SLIPS.iter().find(|slip| ratio == Ratio::whole(slip.above)).map(|slip| slip.says)
}

/// The power of ten (1 and more) or the 60 by which two strengths differ exactly.
pub(crate) fn of_strength(one: Ratio, other: Ratio) -> Option<u64> {
    let ratio = if one > other { one.over(other) } else { other.over(one) }.ok()?;
    let whole = u64::try_from(ratio.numerator()).ok().filter(|_| ratio.denominator() == 1)?;
    let power_of_ten = whole > 1 && 10_u64.pow(whole.ilog10()) == whole;
    (power_of_ten || whole == 60).then_some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thousandfold_slip_is_named() {
        let ratio = |n, d| Ratio::new(n, d).expect("small");
        // 80 for 0.08, usual 0.02 to 0.3
        let says = of_dose(Ratio::whole(80), ratio(2, 100), ratio(3, 10), None).expect("a slip");
        assert!(says.starts_with("1000 times"), "{says}");
        // 5.6 mcg/min typed as per kg at 70 kg
        let says = of_dose(ratio(56, 10), ratio(7, 100), ratio(9, 100), Some(Ratio::whole(70))).expect("a slip");
        assert!(says.contains("which is the weight"), "{says}");
    }

    #[test]
    fn only_exact_powers_of_ten_and_sixty_count_for_strengths() {
        let whole = Ratio::whole;
        assert_eq!(of_strength(whole(10), whole(10_000)), Some(1000));
        assert_eq!(of_strength(whole(60), whole(1)), Some(60));
        assert_eq!(of_strength(whole(1), whole(1)), None);
        assert_eq!(of_strength(whole(2), whole(25)), None);
    }
}
