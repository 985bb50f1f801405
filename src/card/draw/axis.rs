//! Times along a picture, and what is written at them.

use crate::quantity::{Ratio, grouped};

/// A step in minutes that goes into a time no more than `most` times, of those that people count in.
pub(super) fn step(hours: Ratio, most: u64) -> Ratio {
    const MINUTES: [u64; 14] = [1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440, 2880];
    let fits = |minutes: &&u64| hours < of_minutes(**minutes * most + 1);
    MINUTES.iter().find(fits).map_or_else(|| of_minutes(14_400), |minutes| of_minutes(*minutes))
}

/// Every multiple of a step up to an end, nothing among them.
pub(super) fn multiples(step: Ratio, end: Ratio) -> Vec<Ratio> {
    (0..64)
        .map_while(|count| step.times(Ratio::whole(count)).ok())
        .take_while(|time| *time == Ratio::ZERO || *time < end || *time == end)
        .collect()
}

/// Whole minutes as people write them: `90 min`, `2 h`.
pub(super) fn shown(hours: Ratio) -> String {
    let minutes = hours.numerator().saturating_mul(60) / hours.denominator();
    if minutes >= 60 && minutes.is_multiple_of(60) {
        format!("{} h", grouped(&(minutes / 60).to_string()))
    } else {
        format!("{minutes} min")
    }
}

fn of_minutes(minutes: u64) -> Ratio {
    Ratio::new(minutes.into(), 60).unwrap_or(Ratio::ZERO)
}
