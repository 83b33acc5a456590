//! Screens that look at a test as it goes on: how many, and until when.

use std::sync::Arc;
use tokio::sync::OwnedSemaphorePermit;
use tokio::sync::Semaphore;
use tokio::sync::watch;

/// Most screens that look at once.
const MOST_LOOKING: usize = 24;

/// Places for screens that look, until the page ends.
#[derive(Debug, Clone)]
pub(super) struct Looking {
    places: Arc<Semaphore>,
    is_ending: watch::Receiver<bool>,
}

impl Looking {
    /// All places free, until `is_ending` says so.
    pub fn until(is_ending: watch::Receiver<bool>) -> Self {
        Self {
            places: Arc::new(Semaphore::new(MOST_LOOKING)),
            is_ending,
        }
    }

    /// A place, if one is free; it is free again once this is dropped.
    pub fn place(&self) -> Option<OwnedSemaphorePermit> {
        Arc::clone(&self.places).try_acquire_owned().ok()
    }

    /// Waits until the page ends.
    pub async fn ended(mut self) {
        // Whoever would say so is gone if the page is.
        let _ = self.is_ending.wait_for(|is_ending| *is_ending).await;
    }
}
