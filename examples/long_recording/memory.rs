//! What Linux says of this process and of a file's pages.

use std::fs::File;
use std::path::Path;
use std::time::Instant;

/// Time and peak of memory from its start on.
pub struct Stopwatch {
    start: Instant,
    before_mb: f64,
}

impl Stopwatch {
    /// Starts; the peak begins anew.
    pub fn start() -> Self {
        // 5 resets the peak (proc(5), clear_refs).
        let _ = std::fs::write("/proc/self/clear_refs", "5");
        Self {
            start: Instant::now(),
            before_mb: status_mb("VmHWM:"),
        }
    }

    /// "12.3 s, peak 40 MB (12 before)".
    pub fn read(&self) -> String {
        format!(
            "{:.3} s, peak {:.0} MB ({:.0} before)",
            self.start.elapsed().as_secs_f64(),
            status_mb("VmHWM:"),
            self.before_mb
        )
    }
}

fn status_mb(field: &str) -> f64 {
    number("/proc/self/status", field) / 1e3
}

/// Bytes this process had to fetch from a disk.
pub fn bytes_from_disk() -> u64 {
    number("/proc/self/io", "read_bytes:") as u64
}

fn number(file: &str, field: &str) -> f64 {
    let text = std::fs::read_to_string(file).unwrap_or_default();
    let line = text.lines().find_map(|line| line.strip_prefix(field));
    let word = line.and_then(|rest| rest.split_whitespace().next());
    word.and_then(|word| word.parse().ok()).unwrap_or(f64::NAN)
}

/// Takes a file's pages out of memory.
pub fn drop_pages(path: &Path) -> std::io::Result<()> {
    let file = File::open(path)?;
    rustix::fs::fadvise(&file, 0, None, rustix::fs::Advice::DontNeed)?;
    Ok(())
}
