//! An open file between two pieces of work.
//!
//! A long recording is written and read back for minutes; others look at finished recordings
//! meanwhile. So the library is held for one piece at a time.
//!
//! Invariant: what is inside is touched, and let go, only while the library is held.

use super::library;

/// Handles of the library that outlive one holding of it.
pub(super) struct Held<T>(Option<T>);

impl<T> Held<T> {
    /// Opens something while the library is held.
    pub(super) fn open<E>(open: impl FnOnce() -> Result<T, E>) -> Result<Self, E> {
        let _library = library();
        Ok(Self(Some(open()?)))
    }

    /// Does a piece of work with it while the library is held. The work must not hold the library
    /// itself.
    pub(super) fn with<R>(&mut self, work: impl FnOnce(&mut T) -> R) -> R {
        let _library = library();
        work(self.0.as_mut().expect("taken only when it is let go"))
    }

    /// Ends it with a last piece of work.
    pub(super) fn end<R>(mut self, work: impl FnOnce(T) -> R) -> R {
        let _library = library();
        work(self.0.take().expect("taken only when it is let go"))
    }
}

impl<T> Drop for Held<T> {
    fn drop(&mut self) {
        if let Some(inside) = self.0.take() {
            let _library = library();
            drop(inside);
        }
    }
}
