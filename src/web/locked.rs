//! The one way in which what requests share is locked.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// A poisoned lock is safe to reuse: events are written atomically, and the journal holds no half of one.
pub(super) fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
