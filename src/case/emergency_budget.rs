//! How many emergency entries are kept while anybody at all can send them.

use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How many emergency entries are kept at once; one more is kept each time the interval has passed, so that no flood fills
/// the disk. A hospital's worst hour stays far below (an estimate, no source). Every entry is shown.
pub(super) const AT_ONCE: u32 = 60;
pub(super) const ONE_IN: Duration = Duration::from_secs(5);

/// How many emergency entries may still be kept.
#[derive(Debug)]
pub(super) struct EmergencyBudget(Mutex<(u32, Instant)>);

impl Default for EmergencyBudget {
    fn default() -> Self {
        Self(Mutex::new((AT_ONCE, Instant::now())))
    }
}

impl EmergencyBudget {
    pub(super) fn take(&self, now: Instant) -> bool {
        let mut left = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let passed = now.saturating_duration_since(left.1).as_secs() / ONE_IN.as_secs();
        if passed > 0 {
            left.0 = left.0.saturating_add(u32::try_from(passed).unwrap_or(u32::MAX)).min(AT_ONCE);
            left.1 = now;
        }
        let may = left.0 > 0;
        left.0 = left.0.saturating_sub(1);
        may
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // hazard: H-EMERGENCY
    #[test]
    fn so_many_are_kept_and_more_with_time() {
        let budget = EmergencyBudget::default();
        let now = Instant::now();
        assert_eq!((0..1_000).filter(|_| budget.take(now)).count(), AT_ONCE as usize);
        assert_eq!((0..10).filter(|_| budget.take(now + 2 * ONE_IN)).count(), 2);
        assert_eq!((0..1_000).filter(|_| budget.take(now + 10_000 * ONE_IN)).count(), AT_ONCE as usize);
    }
}
