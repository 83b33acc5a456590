//! Writes the bytes that the practice board sends for a scenario, or for each phase of an
//! inquiry, with setup and shop file: `cargo run --example capture -- SCENARIO FOLDER`. So a
//! new sample run is made.

use std::path::Path;
use stillrod::daemon::inquire::seen_toml;
use stillrod::rehearsal::Inquiry;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::bench_bytes;
use stillrod::rehearsal::inquiry;
use stillrod::rehearsal::scenario;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(name), Some(folder)) = (arguments.next(), arguments.next()) else {
        return Err("write: capture SCENARIO FOLDER".into());
    };
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    std::fs::write(folder.join("shop.toml"), SHOP_TOML)?;
    if let Some(inquiry) = inquiry(&name) {
        return phases(&inquiry, folder);
    }
    let scenario = scenario(&name).ok_or("no such scenario; see stillrod rehearse --list")?;
    std::fs::write(folder.join("adapter.bytes"), bench_bytes(&scenario)?)?;
    std::fs::write(folder.join("setup.toml"), scenario.setup_toml())?;
    Ok(())
}

/// Bytes and setup of each phase, and what eyes saw.
fn phases(inquiry: &Inquiry, folder: &Path) -> Result<(), Box<dyn std::error::Error>> {
    let mut files = Vec::new();
    for phase in &inquiry.phases {
        let (label, scenario) = (phase.label, &phase.scenario);
        let bytes = format!("{label}.bytes");
        std::fs::write(folder.join(&bytes), bench_bytes(scenario)?)?;
        std::fs::write(folder.join(format!("{label}.toml")), scenario.setup_toml())?;
        files.push(bytes);
    }
    std::fs::write(folder.join("seen.toml"), seen_toml(inquiry, &files)?)?;
    Ok(())
}
