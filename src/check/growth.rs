//! How a weight compares with those of children and young people of the same age and sex. In: age, sex, weight. Out: a
//! z-score by the LMS method. Statistics, in floats: they judge an entry, and no dose is made of them.
//!
//! The figures are those of the CDC growth charts of 2000 (Kuczmarski 2002, Vital and Health Statistics, NCHS Series 11 No.
//! 246): weight for age from birth to 20 years, L, M and S at listed ages, straight lines between them. z = ((w/M)^L - 1) /
//! (L S); Cole & Green 1992, Stat Med 11:1305 (from memory).
//!
//! Of children born early two more sets count, by postmenstrual age, both from the INTERGROWTH-21st Project and normal in the
//! logarithm of the weight: size at birth from 24 to 33 weeks (Villar 2016, Lancet 387:844) and growth after a preterm birth
//! from 27 to 64 weeks (Villar 2015, Lancet Glob Health 3:e681, appendix 8). The coefficients were read where others cite
//! these papers, the same in each place; the printed examples of appendix 8 are a test below.
#![expect(clippy::float_arithmetic, reason = "statistics of growth; no dose is made of them")]

use std::sync::LazyLock;

use crate::entry::Sex;

/// One age of the figures.
#[derive(Debug, Clone, Copy)]
struct Listed {
    months: f64,
    l: f64,
    m: f64,
    s: f64,
}

/// Female, then male, each in the order of age.
static FIGURES: LazyLock<[Vec<Listed>; 2]> = LazyLock::new(|| {
    let mut figures = [Vec::new(), Vec::new()];
    for line in include_str!("growth/weight_for_age.csv").lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |at: usize| fields.get(at).and_then(|field| field.parse().ok()).unwrap_or(f64::NAN);
        let of_sex = usize::from(fields.first() == Some(&"male"));
        figures[of_sex].push(Listed { months: number(1), l: number(2), m: number(3), s: number(4) });
    }
    figures
});

/// Days in a month of the figures: a twelfth of a mean year.
const DAYS_A_MONTH: f64 = 30.4375;

/// How many standard deviations a weight in kg lies from the median of its age in days; nothing beyond 20 years.
#[must_use]
pub(crate) fn z_score(sex: Sex, days: f64, weight: f64) -> Option<f64> {
    Some(at(sex, days / DAYS_A_MONTH)?.z_score(weight))
}

/// Days of a pregnancy at term, from which a corrected age counts.
const TERM_DAYS: f64 = 280.0;
const DAYS_A_WEEK: f64 = 7.0;

/// The same, where the days of pregnancy at birth are known: one value for each set of figures that holds for the age.
pub(crate) fn z_scores_after(sex: Sex, pregnancy: f64, days: f64, weight: f64) -> Vec<f64> {
    let weeks = (pregnancy + days) / DAYS_A_WEEK;
    let logarithmic = |(middle, spread): (f64, f64)| (weight.ln() - middle) / spread;
    // Before 24 weeks nothing is printed: the first figures count.
    let at_birth = (weeks < 33.0).then(|| logarithmic(preterm_at_birth(sex, weeks.max(24.0))));
    let afterwards = (27.0..=64.0).contains(&weeks).then(|| logarithmic(preterm_afterwards(sex, weeks)));
    // The charts of children begin at a birth at term, which is one from 37 weeks on.
    let corrected = (pregnancy + days - TERM_DAYS).max(0.0);
    let as_at_term = if weeks < 37.0 { None } else { z_score(sex, corrected, weight) };
    [at_birth, afterwards, as_at_term].into_iter().flatten().collect()
}

/// Middle and spread of the logarithm of the weight in kg at a very preterm birth.
fn preterm_at_birth(sex: Sex, weeks: f64) -> (f64, f64) {
    let boy = if sex == Sex::Male { 0.057_193_7 } else { 0.0 };
    (-7.003_03 + 1.325_911 * weeks.sqrt() + boy, 0.037_321_8_f64.sqrt())
}

/// Middle and spread of the logarithm of the weight in kg after a preterm birth.
fn preterm_afterwards(sex: Sex, weeks: f64) -> (f64, f64) {
    let boy = if sex == Sex::Male { 0.091_163_9 } else { 0.0 };
    let squared = weeks * weeks;
    (
        2.591_277 - 0.011_55 * weeks.sqrt() - 2201.705 / squared + boy,
        0.147_025_8 + 505.923_94 / squared - 140.057_6 / squared * weeks.ln(),
    )
}

impl Listed {
    fn z_score(self, weight: f64) -> f64 {
        let Self { l, m, s, .. } = self;
        // What the formula comes near to as L comes near to nought.
        if l.abs() < 1e-9 { (weight / m).ln() / s } else { ((weight / m).powf(l) - 1.0) / (l * s) }
    }
}

/// Whether a weight in kg lies within two standard deviations of the median of one of the sexes; beyond 20 years always.
pub(crate) fn is_usual(days: f64, weight: f64) -> bool {
    [Sex::Female, Sex::Male].into_iter().any(|sex| z_score(sex, days, weight).is_none_or(|z| z.abs() <= 2.0))
}

fn at(sex: Sex, months: f64) -> Option<Listed> {
    let figures = &FIGURES[usize::from(sex == Sex::Male)];
    let above = figures.partition_point(|listed| listed.months < months);
    let (high, low) = (*figures.get(above)?, figures[above.saturating_sub(1)]);
    let width = high.months - low.months;
    let part = if width > 0.0 { (months - low.months) / width } else { 0.0 };
    let between = |of: fn(&Listed) -> f64| of(&low) + part * (of(&high) - of(&low));
    Some(Listed { months, l: between(|one| one.l), m: between(|one| one.m), s: between(|one| one.s) })
}

#[cfg(test)]
mod tests {
    use super::{DAYS_A_MONTH, Listed, is_usual, preterm_afterwards, preterm_at_birth, z_score, z_scores_after};
    use crate::entry::Sex;

    // Every listed age of both sexes: the printed 3rd, 50th and 97th percentile (z -1.881, 0, 1.881), to the two or three
    // digits in which they are printed. CDC growth charts 2000, NCHS Series 11 No. 246.
    #[test]
    fn the_printed_percentiles_are_met() {
        let mut held = 0;
        for line in include_str!("growth/weight_for_age.csv").lines().skip(1) {
            let fields: Vec<&str> = line.split(',').collect();
            let number = |at: usize| fields[at].parse::<f64>().expect("a number");
            let sex = if fields[0] == "male" { Sex::Male } else { Sex::Female };
            for (at, z) in [(5, -1.880_79), (6, 0.0), (7, 1.880_79)] {
                let found = z_score(sex, number(1) * DAYS_A_MONTH, number(at)).expect("a listed age");
                assert!((found - z).abs() < 0.03, "{line}: {found} for {z}");
                held += 1;
            }
        }
        assert_eq!(held, 168, "56 listed ages, three percentiles each");
    }

    #[test]
    fn nothing_is_known_beyond_twenty_years() {
        assert_eq!(z_score(Sex::Male, 21.0 * 365.25, 70.0), None);
        assert!(z_score(Sex::Male, 0.0, 3.53).is_some());
    }

    // By the formula: ln(1.1) / 0.1 for L = 0, and nearly that for a small L.
    #[test]
    fn a_skewness_of_nought_is_no_division_by_nought() {
        let z = |l| Listed { months: 0.0, l, m: 10.0, s: 0.1 }.z_score(11.0);
        assert!((z(0.0) - 0.953_101_8).abs() < 1e-6, "{}", z(0.0));
        assert!((z(0.0) - z(1e-5)).abs() < 1e-5, "{}", z(1e-5));
        assert!((z(1.0) - 1.0).abs() < 1e-9, "{}", z(1.0));
    }

    // Villar 2015, Lancet Glob Health 3:e681, appendix 8: the worked examples at 34 weeks, in kg to two digits.
    #[test]
    fn the_printed_examples_of_preterm_growth_are_met() {
        for (sex, z, kg) in
            [(Sex::Male, 0.0, 2.04), (Sex::Female, 0.0, 1.86), (Sex::Male, -1.88, 1.51), (Sex::Female, -1.88, 1.38)]
        {
            let (middle, spread) = preterm_afterwards(sex, 34.0);
            let found = (middle + z * spread).exp();
            assert!((found - kg).abs() <= 0.005, "{found} for {kg}");
        }
    }

    // Where both sets of figures hold they are of the same children: within an eighth at 32 and 33 weeks. Each grows with age.
    #[test]
    fn both_sets_of_preterm_figures_fit_each_other() {
        for sex in [Sex::Female, Sex::Male] {
            for weeks in [32.0, 33.0] {
                let apart = preterm_at_birth(sex, weeks).0 - preterm_afterwards(sex, weeks).0;
                assert!(apart.abs() < 0.18, "{apart}");
            }
            assert!(preterm_at_birth(sex, 30.0).0 > preterm_at_birth(sex, 24.0).0);
            assert!(preterm_afterwards(sex, 60.0).0 > preterm_afterwards(sex, 30.0).0);
        }
    }

    // By week after the last period: which sets hold. From 37 weeks the charts of children, with the corrected age.
    #[test]
    fn each_age_has_the_figures_that_were_printed_for_it() {
        let sets = |weeks: f64, days: f64| z_scores_after(Sex::Female, weeks * 7.0, days, 2.0).len();
        let found: Vec<usize> = [(22.0, 0.0), (26.0, 0.0), (28.0, 0.0), (28.0, 42.0), (28.0, 70.0), (28.0, 300.0)]
            .into_iter()
            .map(|(weeks, days)| sets(weeks, days))
            .collect();
        assert_eq!(found, [1, 1, 2, 1, 2, 1]);
        // Ten months after a birth at 28 weeks is seven and a quarter months after one at term.
        let corrected = z_scores_after(Sex::Female, 196.0, 304.0, 7.0);
        assert_eq!(corrected, [z_score(Sex::Female, 220.0, 7.0).expect("an age of the charts")]);
    }

    // At five years the median is about 18 kg: CDC growth charts 2000.
    #[test]
    fn what_is_usual_lies_within_two_deviations_of_either_sex() {
        let at_five = |weight| is_usual(5.0 * 365.25, weight);
        assert!(at_five(18.0) && at_five(18.5) && at_five(14.5) && !at_five(10.0) && !at_five(40.0));
        assert!(is_usual(21.0 * 365.25, 10.0), "nothing is known beyond 20 years");
    }

    #[test]
    fn between_two_ages_it_lies_between_them() {
        let z = |days: f64| z_score(Sex::Female, days, 12.0).expect("an age of the figures");
        let (before, between, after) = (z(23.5 * DAYS_A_MONTH), z(29.5 * DAYS_A_MONTH), z(35.5 * DAYS_A_MONTH));
        assert!(before > between && between > after, "{before} {between} {after}");
    }
}
