//! Lines that a person types.

use std::io::BufRead;
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::sync::mpsc::unbounded_channel;

/// The lines of the standard input from now on, each with what `stamp` says as it comes; None where
/// they cannot be read. They end with the input.
pub(super) fn lines<S: Send + 'static>(
    stamp: impl Fn() -> S + Send + 'static,
) -> Option<UnboundedReceiver<(S, String)>> {
    let (sender, lines) = unbounded_channel();
    // It ends with the program, or when nobody hears it any more.
    let reading = std::thread::Builder::new().name("terminal".into());
    let spawned = reading.spawn(move || {
        for line in std::io::stdin().lock().lines() {
            let Ok(line) = line else { return };
            if sender.send((stamp(), line)).is_err() {
                return;
            }
        }
    });
    spawned.ok().map(|_runs_by_itself| lines)
}
