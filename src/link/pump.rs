//! The two tasks of an open adapter: one only reads, one only writes.
//!
//! Bytes go into a ring of fixed size. While it is full nothing more is read for a while, so
//! that a sender that can wait does; if nobody empties it in time the newest bytes are dropped
//! and counted, and the frame they belonged to then fails its checksum.
//!
//! Invariants: a task that met an end or an error never touches the adapter again; when
//! the pump is dropped both tasks end and the adapter is closed.

use ringbuf::HeapCons;
use ringbuf::HeapProd;
use ringbuf::HeapRb;
use ringbuf::traits::Consumer;
use ringbuf::traits::Observer;
use ringbuf::traits::Producer;
use ringbuf::traits::Split;
use std::io;
use std::sync::Arc;
use std::sync::OnceLock;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::time::Duration;
use tokio::io::AsyncRead;
use tokio::io::AsyncReadExt;
use tokio::io::AsyncWrite;
use tokio::io::AsyncWriteExt;
use tokio::sync::Notify;
use tokio::sync::mpsc;
use tokio::task::JoinHandle;

/// Bytes that wait to be decoded: 20 s of a 115 200 baud line, a quarter second of a fast USB board.
pub(super) const RING_BYTES: usize = 256 * 1024;

/// How long a full ring is waited for before bytes are dropped, and the pause between two looks.
const FULL_LIMIT: Duration = Duration::from_secs(2);
const FULL_PAUSE: Duration = Duration::from_millis(1);

/// Requests that wait to be written. More are dropped; a request is asked again.
const MAX_REQUESTS: usize = 8;

/// Longest time a request of a few bytes may take.
const WRITE_LIMIT: Duration = Duration::from_secs(1);

/// An open adapter with its two tasks.
pub(super) struct Pump {
    received: HeapCons<u8>,
    shared: Arc<Shared>,
    requests: mpsc::Sender<Vec<u8>>,
    tasks: [JoinHandle<()>; 2],
    n_overrun_told: u64,
}

#[derive(Debug, Default)]
struct Shared {
    news: Notify,
    n_overrun: AtomicU64,
    end: OnceLock<String>,
}

impl Pump {
    /// Begins to read and write. Needs a tokio runtime.
    pub(super) fn begin(stream: impl AsyncRead + AsyncWrite + Send + 'static) -> Self {
        let (reading, writing) = tokio::io::split(stream);
        let (into_ring, received) = HeapRb::new(RING_BYTES).split();
        let (requests, waiting) = mpsc::channel(MAX_REQUESTS);
        let shared = Arc::new(Shared::default());
        let tasks = [
            tokio::spawn(read_all(reading, into_ring, Arc::clone(&shared))),
            tokio::spawn(write_all(writing, waiting, Arc::clone(&shared))),
        ];
        Self {
            received,
            shared,
            requests,
            tasks,
            n_overrun_told: 0,
        }
    }

    /// Moves bytes that arrived into `buffer`; returns how many.
    pub(super) fn take(&mut self, buffer: &mut [u8]) -> usize {
        self.received.pop_slice(buffer)
    }

    /// Bytes dropped since the last call.
    pub(super) fn take_overrun(&mut self) -> u64 {
        let n_overrun = self.shared.n_overrun.load(Ordering::Relaxed);
        n_overrun - std::mem::replace(&mut self.n_overrun_told, n_overrun)
    }

    /// Why nothing will come any more, in words; None while the adapter works or bytes are left.
    pub(super) fn end(&self) -> Option<&str> {
        // First whether it ended, then whether something is left: the other way round
        // the last bytes could be overlooked.
        let end = self.shared.end.get()?;
        self.received.is_empty().then_some(end)
    }

    /// Waits until there may be something new.
    pub(super) async fn news(&self) {
        self.shared.news.notified().await;
    }

    /// Puts a frame on its way to the board.
    pub(super) fn send(&self, frame: &[u8]) {
        // A full queue means that nothing can be written; the writing task will say so.
        let _ = self.requests.try_send(frame.to_vec());
    }

    /// Closes the adapter and waits until it is closed.
    pub(super) async fn close(mut self) {
        for task in &mut self.tasks {
            task.abort();
            // It was told to end; an error is that it did.
            let _ = task.await;
        }
    }
}

impl std::fmt::Debug for Pump {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Pump")
            .field("shared", &self.shared)
            .finish_non_exhaustive()
    }
}

impl Drop for Pump {
    fn drop(&mut self) {
        self.tasks.iter().for_each(JoinHandle::abort);
    }
}

impl Shared {
    fn end(&self, why: String) {
        // The first end is the cause, the second its consequence.
        let _ = self.end.set(why);
        self.news.notify_one();
    }
}

async fn read_all(mut stream: impl AsyncRead + Unpin, mut ring: HeapProd<u8>, shared: Arc<Shared>) {
    let mut buffer = [0; 4_096];
    loop {
        match stream.read(&mut buffer).await {
            Ok(0) => return shared.end("the adapter was unplugged".into()),
            Ok(n_read) => {
                let n_kept = push_in_time(&mut ring, &buffer[..n_read], &shared).await;
                let n_overrun = (n_read - n_kept) as u64;
                shared.n_overrun.fetch_add(n_overrun, Ordering::Relaxed);
                shared.news.notify_one();
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
            Err(error) => return shared.end(in_words(&error)),
        }
    }
}

/// Puts bytes into the ring as it is emptied; returns how many found room in time.
async fn push_in_time(ring: &mut HeapProd<u8>, bytes: &[u8], shared: &Shared) -> usize {
    let mut n_kept = ring.push_slice(bytes);
    // By the clock: on a machine with much to do a pause is longer than it was asked to be.
    let full_since = tokio::time::Instant::now();
    while n_kept < bytes.len() && full_since.elapsed() < FULL_LIMIT {
        shared.news.notify_one();
        tokio::time::sleep(FULL_PAUSE).await;
        n_kept += ring.push_slice(&bytes[n_kept..]);
    }
    n_kept
}

async fn write_all(
    mut stream: impl AsyncWrite + Unpin,
    mut requests: mpsc::Receiver<Vec<u8>>,
    shared: Arc<Shared>,
) {
    while let Some(frame) = requests.recv().await {
        let written = tokio::time::timeout(WRITE_LIMIT, stream.write_all(&frame)).await;
        match written {
            Ok(Ok(())) => {}
            Ok(Err(error)) => return shared.end(in_words(&error)),
            // A line that takes no bytes may still bring some; silence is noticed elsewhere.
            Err(_elapsed) => {}
        }
    }
}

/// After a good opening every error is a lost adapter; which one is for the reader of the log.
fn in_words(error: &io::Error) -> String {
    const EIO: i32 = 5;
    const ENXIO: i32 = 6;
    let is_unplugged = error.kind() == io::ErrorKind::BrokenPipe
        || (cfg!(unix) && matches!(error.raw_os_error(), Some(EIO | ENXIO)));
    if is_unplugged {
        "the adapter was unplugged".into()
    } else {
        format!("the adapter failed: {error}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    async fn settled(pump: &Pump, is_so: impl Fn(&Pump) -> bool) {
        let waiting = async {
            while !is_so(pump) {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        };
        tokio::time::timeout(Duration::from_secs(5), waiting)
            .await
            .expect("the task does its work");
    }

    #[tokio::test]
    async fn what_does_not_fit_in_the_ring_is_counted_and_the_oldest_is_kept() {
        const SURPLUS: usize = 1_000;
        let (mut board, host) = tokio::io::duplex(4_096);
        let mut pump = Pump::begin(host);
        let mut sent = vec![7; RING_BYTES];
        sent.extend([8; SURPLUS]);
        board
            .write_all(&sent)
            .await
            .expect("a reader that never stops");
        settled(&pump, |pump| {
            pump.shared.n_overrun.load(Ordering::Relaxed) == SURPLUS as u64
        })
        .await;
        assert_eq!(pump.take_overrun(), SURPLUS as u64);
        assert_eq!(pump.take_overrun(), 0);
        let mut received = vec![0; RING_BYTES + 1];
        assert_eq!(pump.take(&mut received), RING_BYTES);
        assert!(received[..RING_BYTES].iter().all(|byte| *byte == 7));
    }

    #[tokio::test]
    async fn the_last_bytes_before_the_end_are_not_lost() {
        let (mut board, host) = tokio::io::duplex(4_096);
        let mut pump = Pump::begin(host);
        board.write_all(b"last words").await.expect("a reader");
        drop(board);
        settled(&pump, |pump| pump.shared.end.get().is_some()).await;
        assert_eq!(pump.end(), None);
        let mut received = [0; 64];
        assert_eq!(pump.take(&mut received), 10);
        assert_eq!(pump.end(), Some("the adapter was unplugged"));
    }

    #[tokio::test]
    async fn a_request_arrives_whole() {
        let (mut board, host) = tokio::io::duplex(4_096);
        let pump = Pump::begin(host);
        pump.send(b"request");
        let mut received = [0; 7];
        board.read_exact(&mut received).await.expect("a writer");
        assert_eq!(&received, b"request");
        pump.close().await;
        assert_eq!(board.read(&mut received).await.expect("an end"), 0);
    }
}
