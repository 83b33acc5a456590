//! Writes the bytes that the practice board sends for a scenario, with setup and shop file:
//! `cargo run --example capture -- SCENARIO FOLDER`. So a new sample run is made.

use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::bench_bytes;
use stillrod::rehearsal::scenario;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(name), Some(folder)) = (arguments.next(), arguments.next()) else {
        return Err("write: capture SCENARIO FOLDER".into());
    };
    let scenario = scenario(&name).ok_or("no such scenario; see stillrod rehearse --list")?;
    let folder = std::path::Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    std::fs::write(folder.join("adapter.bytes"), bench_bytes(&scenario)?)?;
    std::fs::write(folder.join("setup.toml"), scenario.setup_toml())?;
    std::fs::write(folder.join("shop.toml"), SHOP_TOML)?;
    Ok(())
}
