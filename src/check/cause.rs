//! Where a ratio tells the cause of a wrong number, the message names it.

use crate::quantity::{Ratio, TooLarge, Unit, exact_or_about};

/// A factor that slips make, and the slip.
struct Slip {
    factor: u64,
    says: &'static str,
    /// Units of time between which it lies; empty where it has nothing to do with time.
    times: &'static [Unit],
}

/// Ordered by how often each happens, as far as that is published (Lesar 2002, Ann Pharmacother 36:1833).
const SLIPS: &[Slip] = &[
    Slip { factor: 10, says: "10 times: a point misplaced, or a zero too many or too few?", times: &[] },
    Slip { factor: 1000, says: "1000 times: mg, mcg and nanogram taken for each other?", times: &[] },
    Slip { factor: 60, says: "60 times: per min and per h taken for each other?", times: &[Unit::Minute, Unit::Hour] },
    Slip { factor: 24, says: "24 times: per h and per day taken for each other?", times: &[Unit::Hour, Unit::Day] },
    Slip {
        factor: 1440,
        says: "1440 times: per min and per day taken for each other?",
        times: &[Unit::Minute, Unit::Day],
    },
    Slip { factor: 100, says: "100 times: a point misplaced by two places?", times: &[] },
];

/// The slips that would bring a dose far outside the usual range into it: at most two, in words. Nothing for a dose that
/// is at most twice too high or too low: that is a decision, not a slip.
pub(super) fn of_dose(value: Ratio, from: Ratio, to: Ratio, time: Unit, weight: Option<Ratio>) -> Option<String> {
    let far = Ratio::whole(2);
    // Inside the range both are at most 1, and outside of it the one that is not is how far.
    if [value.over(to), from.over(value)].into_iter().all(|off| off.is_ok_and(|off| off <= far)) {
        return None;
    }
    // By a factor of one or more: away from the range it is further off still.
    let fits = |factor: Ratio| {
        let moved = [value.over(factor), value.times(factor)];
        moved.into_iter().flatten().any(|moved| moved >= from && moved <= to)
    };
    let possible = |slip: &&Slip| slip.times.is_empty() || slip.times.contains(&time);
    let mut says: Vec<String> = SLIPS
        .iter()
        .filter(possible)
        .filter(|slip| fits(Ratio::whole(slip.factor)))
        .take(2)
        .map(|slip| slip.says.to_owned())
        .collect();
    if let Some(weight) = weight.filter(|weight| says.is_empty() && fits(Ratio::ONE.max(*weight))) {
        let shown = exact_or_about(weight);
        says.push(format!("{shown} times, which is the weight: per kg and per patient taken for each other?"));
    }
    (!says.is_empty()).then(|| says.join(" or "))
}

/// The slips that would bring a weight into its limits: tenfold, g for kg, pounds for kg (0.45359237 kg are 1 lb).
pub(super) fn of_weight(weight: Ratio, inside: impl Fn(Ratio) -> bool) -> Option<&'static str> {
    let (ten, thousand) = (Ratio::whole(10), Ratio::whole(1000));
    let fits = |found: Result<Ratio, TooLarge>| found.is_ok_and(&inside);
    if fits(weight.over(thousand)) || fits(weight.times(thousand)) {
        return Some("g and kg taken for each other?");
    }
    if fits(weight.over(ten)) || fits(weight.times(ten)) {
        return Some("10 times: a point misplaced, or a zero too many or too few?");
    }
    fits(Ratio::new(45_359_237, 100_000_000).and_then(|pound| weight.times(pound))).then_some("pounds taken for kg?")
}

/// How many times the smaller of two values is in the larger.
pub(crate) fn ratio(one: Ratio, other: Ratio) -> Option<Ratio> {
    one.max(other).over(one.min(other)).ok()
}

/// Names the ratio of two values, if it is one that a slip makes: but for half a percent, which rounding while typing takes.
pub(crate) fn of_ratio(one: Ratio, other: Ratio) -> Option<&'static str> {
    let ratio = ratio(one, other)?;
    let near = |factor: Ratio| {
        let off = ratio.apart(factor).and_then(|apart| apart.times(Ratio::whole(200)));
        off.is_ok_and(|off| off <= factor)
    };
    if near(Ratio::new(100_000_000, 45_359_237).ok()?) {
        return Some("2.2046 times: pounds taken for kg?");
    }
    SLIPS.iter().find(|slip| near(Ratio::whole(slip.factor))).map(|slip| slip.says)
}

/// The power of ten (1 and more) or the 60 by which two strengths differ exactly.
pub(crate) fn of_strength(one: Ratio, other: Ratio) -> Option<u64> {
    let ratio = ratio(one, other)?;
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
        let says = of_dose(Ratio::whole(80), ratio(2, 100), ratio(3, 10), Unit::Minute, None).expect("a slip");
        assert!(says.contains("1000 times"), "{says}");
        // 5.6 mcg/min typed as per kg at 70 kg
        let says =
            of_dose(ratio(56, 10), ratio(7, 100), ratio(9, 100), Unit::Minute, Some(Ratio::whole(70))).expect("a slip");
        assert!(says.contains("which is the weight"), "{says}");
        // A weight below one kg would make it more, not less: 700 at 0.4 kg is no 280.
        let small = of_dose(Ratio::whole(700), Ratio::whole(100), Ratio::whole(300), Unit::Hour, Some(ratio(4, 10)));
        assert_eq!(small, None);
    }

    #[test]
    fn a_dose_that_is_a_little_high_is_a_decision() {
        let ratio = |n, d| Ratio::new(n, d).expect("small");
        assert_eq!(of_dose(ratio(55, 100), ratio(2, 100), ratio(3, 10), Unit::Minute, None), None);
        // Per day has nothing to do with a dose per min and per h.
        let says = of_dose(Ratio::whole(3), ratio(2, 100), ratio(2, 10), Unit::Minute, None).expect("a slip");
        assert!(!says.contains("day and") && !says.contains("per h and per day"), "{says}");
    }

    #[test]
    fn a_weight_is_ten_times_too_high_before_it_is_in_pounds() {
        let inside = |weight: Ratio| weight >= Ratio::whole(3) && weight <= Ratio::whole(90);
        assert_eq!(of_weight(Ratio::whole(180), inside).map(|says| &says[..8]), Some("10 times"));
        assert_eq!(
            of_weight(Ratio::whole(3500), |kg| inside(kg) && kg < Ratio::whole(10)),
            Some("g and kg taken for each other?")
        );
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
