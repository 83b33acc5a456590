//! `stillrod serve`: the page for the browser.

use super::runtime;
use anyhow::Context;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::serve::Reach;
use stillrod::daemon::serve::Serving;
use stillrod::daemon::serve::Told;
use stillrod::daemon::serve::serve;

/// What comes behind the options of `serve` in the help.
pub const HELP: &str = "Examples:\n  \
stillrod serve --shop shop.toml          for a browser on this computer\n  \
stillrod serve --shop shop.toml --lan    for tablets in the workshop's network as well\n\n\
With --lan every browser is asked once for the code that stands here. The page is not encrypted on its way: use it in\n\
a network whose users you know. Ctrl-C ends it; what is being done then is finished first.";

/// What `serve` is asked for.
#[derive(Args)]
pub struct Serve {
    /// Folder with recordings, papers and the register.
    #[arg(long, default_value = "stillrod-data", value_name = "FOLDER")]
    data: PathBuf,
    /// The shop file: its name, limits, time zone.
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
    /// Port of the page; 0 lets the system choose one.
    #[arg(long, default_value_t = 8377, value_name = "PORT")]
    port: u16,
    /// Show the page to others in the network, who must type a code.
    #[arg(long)]
    lan: bool,
    /// Folder on another disk for copies of everything, which are begun from the page.
    #[arg(long, value_name = "FOLDER")]
    backup: Option<PathBuf>,
    /// An adapter that the system does not list, such as that of a practice board; may be given again.
    #[arg(long, value_name = "PATH")]
    adapter: Vec<PathBuf>,
}

/// Shows the page until Ctrl-C.
///
/// # Errors
/// If the shop cannot be opened, or the port is taken.
pub fn run(asked: Serve) -> anyhow::Result<u8> {
    let serving = Serving {
        data: asked.data,
        shop: asked.shop,
        port: asked.port,
        reach: match asked.lan {
            true => Reach::Network,
            false => Reach::ThisComputer,
        },
        copies: asked.backup,
        adapters: asked.adapter,
    };
    runtime()?.block_on(async {
        let mut end = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate())
            .context("the end of this program cannot be waited for")?;
        let stop = async move {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = end.recv() => {}
            }
        };
        serve(&serving, tell, stop).await?;
        println!("Ended");
        Ok(0)
    })
}

fn tell(told: &Told) {
    for sentence in &told.made_good {
        println!("Made good  {sentence}");
    }
    for address in &told.addresses {
        println!("Page       {address}");
    }
    if let Some(code) = &told.code {
        println!("Code       {code}   (asked for once in each browser)");
    }
    println!("Ctrl-C ends it.");
}
