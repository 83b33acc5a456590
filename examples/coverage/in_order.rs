//! Work of several threads, taken in the order of its numbers.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::sync::mpsc::channel;

/// Makes each number's piece on one of `n_threads`; `take` gets them in order.
///
/// # Errors
/// The first of `take`; then the work stops.
pub fn in_order<T: Send>(
    numbers: Range<u64>,
    n_threads: usize,
    make: impl Fn(u64) -> T + Sync,
    mut take: impl FnMut(u64, T) -> anyhow::Result<()>,
) -> anyhow::Result<()> {
    let next = AtomicU64::new(numbers.start);
    let (sender, made) = channel();
    std::thread::scope(|scope| {
        for _ in 0..n_threads.max(1) {
            let (sender, next, make) = (sender.clone(), &next, &make);
            let end = numbers.end;
            scope.spawn(move || {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    // Nobody listens any more once taking has failed.
                    if index >= end || sender.send((index, make(index))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(sender);
        let mut waiting = BTreeMap::new();
        let mut due = numbers.start;
        for (index, piece) in made {
            waiting.insert(index, piece);
            while let Some(piece) = waiting.remove(&due) {
                take(due, piece)?;
                due += 1;
            }
        }
        Ok(())
    })
}
