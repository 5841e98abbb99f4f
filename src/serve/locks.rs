//! Locks.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// A lock that stays usable after a panic.
pub(super) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
