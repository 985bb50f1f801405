//! Where a dose lies between its limits, on a logarithmic line. The picture is drawn in `f64`; every number beside it is
//! exact.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "a drawing"
)]

use super::block::{Scale, ScaleMark};

/// The line of `columns` characters: `#` usual, `=` within the soft limits, `-` a reason is needed, `.` stopped, `O` the
/// dose.
pub(super) fn line(scale: &Scale, columns: usize) -> String {
    let marks = [scale.hard_from, scale.soft_from, scale.usual_from, scale.usual_to, scale.soft_to, scale.hard_to];
    let values: Vec<f64> = marks.iter().flatten().chain([&scale.dose]).map(value).collect();
    let least = values.iter().copied().fold(f64::INFINITY, f64::min).log10() - MARGIN;
    let most = values.iter().copied().fold(0.0, f64::max).log10() + MARGIN;
    let at = |column: usize| 10_f64.powf(least + (most - least) * column as f64 / (columns - 1) as f64);
    let dose = ((value(&scale.dose).log10() - least) / (most - least) * (columns - 1) as f64).round() as usize;
    (0..columns).map(|column| if column == dose { 'O' } else { zone(scale, at(column)) }).collect()
}

/// Room on either side, in powers of ten.
const MARGIN: f64 = 0.15;

fn value(mark: &ScaleMark) -> f64 {
    mark.0.approximate()
}

fn zone(scale: &Scale, dose: f64) -> char {
    let outside = |from: Option<ScaleMark>, to: Option<ScaleMark>| {
        from.is_some_and(|from| dose < value(&from)) || to.is_some_and(|to| dose > value(&to))
    };
    if outside(scale.hard_from, scale.hard_to) {
        '.'
    } else if outside(scale.soft_from, scale.soft_to) {
        '-'
    } else if outside(scale.usual_from, scale.usual_to) {
        '='
    } else {
        '#'
    }
}
