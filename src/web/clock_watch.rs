//! The machine's clock, held against one that only counts: where it jumps ahead, a person must say that it is right before
//! anything is signed that grows old by it. A clock that goes back is the journal's business.

use std::sync::Mutex;
use std::time::{Duration, Instant, SystemTime};

use super::site::locked;

/// A jump that is not larger is how clocks are set right every day (common practice, no source).
const JUMP: Duration = Duration::from_mins(10);

/// Two clocks, as they were when the time was not in doubt.
#[derive(Debug)]
pub(super) struct ClockWatch(Mutex<(Instant, SystemTime)>);

impl ClockWatch {
    pub(super) fn begun() -> Self {
        Self(Mutex::new((Instant::now(), SystemTime::now())))
    }

    /// Why the time is in doubt, where it is.
    pub(super) fn doubt(&self) -> Option<String> {
        self.doubt_at(Instant::now(), SystemTime::now())
    }

    fn doubt_at(&self, steady: Instant, wall: SystemTime) -> Option<String> {
        let mut since = locked(&self.0);
        let passed = steady.saturating_duration_since(since.0);
        let Ok(by_the_wall) = wall.duration_since(since.1) else {
            *since = (steady, wall);
            return None;
        };
        if by_the_wall < passed {
            // It was set back: from here on it is counted anew, so that the way forward again is noticed.
            *since = (steady, wall);
            return None;
        }
        let ahead = by_the_wall.saturating_sub(passed);
        (ahead > JUMP).then(|| format!("it jumped {} min ahead while the server ran", ahead.as_secs() / 60))
    }

    /// A person has looked at another clock: the time is right.
    pub(super) fn is_right(&self) {
        *locked(&self.0) = (Instant::now(), SystemTime::now());
    }

    /// As if the clock had jumped by so much.
    #[cfg(test)]
    pub(super) fn jump(&self, by: Duration) {
        let mut since = locked(&self.0);
        since.1 -= by;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // hazard: H-RECORD
    #[test]
    fn a_jump_ahead_is_in_doubt_until_it_is_confirmed_or_taken_back() {
        let watch = ClockWatch::begun();
        let (steady, wall) = *locked(&watch.0);
        let (minute, hour) = (Duration::from_mins(1), Duration::from_hours(1));
        assert_eq!(watch.doubt_at(steady + hour, wall + hour + 9 * minute), None);
        let doubt = watch.doubt_at(steady + 2 * hour, wall + 5 * hour).expect("three hours too many");
        assert_eq!(doubt, "it jumped 180 min ahead while the server ran");
        assert_eq!(watch.doubt_at(steady + 2 * hour, wall + 2 * hour + minute), None, "it was set right again");
        // Set back, and then forward again.
        assert_eq!(watch.doubt_at(steady + 3 * hour, wall), None);
        assert!(watch.doubt_at(steady + 3 * hour, wall + 3 * hour).is_some());
        watch.jump(hour);
        watch.is_right();
        assert_eq!(watch.doubt(), None);
        watch.jump(hour);
        assert!(watch.doubt().is_some());
    }
}
