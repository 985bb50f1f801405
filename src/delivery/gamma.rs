//! The gamma distribution of mean 1. In: its number of tanks N and a share or a time; out: the other.
//!
//! The regularised lower incomplete gamma function P(a, x) by its series below a + 1 and its continued fraction above
//! (Abramowitz & Stegun 6.5.29 and 6.5.31, from memory), its logarithm of gamma by Lanczos (g = 7, nine terms, from
//! memory); both are held against printed quantiles of chi-squared in the tests.

use std::f64::consts::PI;

/// More terms than any sum here takes; each sum stops by itself.
const TERMS: u32 = 100_000;

/// P(a, x): the share of a gamma distribution of shape `a` and scale 1 below `x`. `a` above 0; 0 for `x` up to 0.
#[must_use]
pub fn regularised(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let front = (a * x.ln() - x - ln_gamma(a)).exp();
    if x < a + 1.0 { front * series(a, x) } else { 1.0 - front * fraction(a, x) }
}

/// The time, as a share of the mean, by which this share has come through `tanks` equal tanks in series, which need be
/// no whole number. `share` between 0 and 1.
#[must_use]
pub fn quantile(tanks: f64, share: f64) -> f64 {
    let (mut low, mut high) = (0.0, 2.0);
    while regularised(tanks, tanks * high) < share {
        high *= 2.0;
    }
    // Halved until neighbouring floats are reached.
    for _ in 0..80 {
        let middle = low + (high - low) / 2.0;
        if regularised(tanks, tanks * middle) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

fn series(a: f64, x: f64) -> f64 {
    let mut term = 1.0 / a;
    let mut sum = term;
    for step in 1..=TERMS {
        term *= x / (a + f64::from(step));
        sum += term;
        if term < sum * f64::EPSILON {
            break;
        }
    }
    sum
}

/// Lentz's way of summing a continued fraction from its beginning.
fn fraction(a: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / b;
    let mut product = d;
    for step in 1..=TERMS {
        let step = f64::from(step);
        let numerator = -step * (step - a);
        b += 2.0;
        d = away_from_nothing(numerator * d + b, TINY).recip();
        c = away_from_nothing(b + numerator / c, TINY);
        let change = d * c;
        product *= change;
        if (change - 1.0).abs() < 4.0 * f64::EPSILON {
            break;
        }
    }
    product
}

fn away_from_nothing(value: f64, tiny: f64) -> f64 {
    if value.abs() < tiny { tiny } else { value }
}

fn ln_gamma(a: f64) -> f64 {
    const TERMS: [f64; 8] = [
        676.520_368_121_885_1,
        -1_259.139_216_722_402_8,
        771.323_428_777_653_1,
        -176.615_029_162_140_6,
        12.507_343_278_686_905,
        -0.138_571_095_265_720_12,
        9.984_369_578_019_572e-6,
        1.505_632_735_149_311_6e-7,
    ];
    if a < 0.5 {
        // By reflection: the sum below is good from a half on.
        return (PI / (PI * a).sin()).ln() - ln_gamma(1.0 - a);
    }
    let a = a - 1.0;
    let mut sum = 0.999_999_999_999_809_9;
    let mut at = a;
    for term in TERMS {
        at += 1.0;
        sum += term / at;
    }
    let shifted = a + 7.5;
    0.5 * (2.0 * PI).ln() + (a + 0.5) * shifted.ln() - shifted + sum.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Printed quantiles of chi-squared, upper points at 95 % and 5 %: P(df / 2, x / 2).
    #[test]
    fn chi_squared_has_its_printed_quantiles() {
        let printed = [
            (1.0, 3.841, 0.95),
            (2.0, 5.991, 0.95),
            (3.0, 7.815, 0.95),
            (10.0, 18.307, 0.95),
            (10.0, 3.940, 0.05),
            (30.0, 43.773, 0.95),
            (30.0, 18.493, 0.05),
            (100.0, 124.342, 0.95),
            (100.0, 77.929, 0.05),
        ];
        for (degrees, x, share) in printed {
            let found = regularised(degrees / 2.0, x / 2.0);
            assert!((found - share).abs() < 2e-4, "{degrees} degrees of freedom: {found} at {x}");
            let back = quantile(degrees / 2.0, share) * degrees;
            assert!((back - x).abs() < 1e-3, "{degrees} degrees of freedom: {back} at {share}");
        }
    }

    // For a = 1 it is 1 - e^-x; for a whole number, a sum of Poisson terms.
    #[test]
    fn closed_forms_are_met() {
        for x in [0.01, 0.5, 1.0, 1.99, 2.01, 5.0, 30.0] {
            assert!((regularised(1.0, x) - (1.0 - f64::exp(-x))).abs() < 1e-13, "at {x}");
            let three = 1.0 - (-x).exp() * (1.0 + x + x * x / 2.0);
            assert!((regularised(3.0, x) - three).abs() < 1e-13, "at {x}");
        }
        assert!((regularised(0.5, 0.5) - 0.682_689_492_137).abs() < 1e-11, "one standard deviation");
    }

    #[test]
    fn many_tanks_end_and_rise() {
        for tanks in [24.0, 200.0, 4_000.0, 100_000.0] {
            let points = [0.01, 0.05, 0.5, 0.95, 0.99].map(|share| quantile(tanks, share));
            assert!(points.is_sorted() && points[0] > 0.2 && points[4] < 2.0, "{points:?}");
            // The median of a gamma distribution lies close to a third of a tank below its mean.
            assert!((points[2] - (1.0 - 1.0 / (3.0 * tanks))).abs() < 1e-3 / tanks.sqrt(), "{points:?}");
        }
    }
}
