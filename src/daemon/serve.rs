//! `stillrod serve`: opens the shop, makes good what an earlier run left undone, and shows the page.

use super::desk::Bench;
use super::desk::Copies;
use super::desk::ShopDesk;
use super::folder::DataFolder;
use super::pairing::page_secret;
use super::paper::make_good;
use super::session::OnTheBench;
use super::shop_file::shop_text;
use crate::page::Page;
use crate::page::Pairing;
use crate::page::serve as show;
use crate::register::Register;
use crate::settings::Shop;
use anyhow::Context;
use std::future::Future;
use std::net::IpAddr;
use std::net::Ipv4Addr;
use std::net::Ipv6Addr;
use std::net::SocketAddr;
use std::net::TcpListener;
use std::net::UdpSocket;
use std::path::PathBuf;
use std::sync::Arc;

/// Who may ask for the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// This computer alone.
    ThisComputer,
    /// Whoever is in the network and typed the pairing code.
    Network,
}

/// What is served.
#[derive(Debug, Clone)]
pub struct Serving {
    /// The data folder.
    pub data: PathBuf,
    /// The shop file.
    pub shop: Option<PathBuf>,
    /// The port; 0 lets the system choose.
    pub port: u16,
    /// Who may ask.
    pub reach: Reach,
    /// Where copies of everything go, a folder on another disk.
    pub copies: Option<PathBuf>,
    /// Adapters that the system does not list, such as a practice board.
    pub adapters: Vec<PathBuf>,
}

/// What is told once the page can be asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// What was made good, in sentences.
    pub made_good: Vec<String>,
    /// Addresses of the page.
    pub addresses: Vec<String>,
    /// The pairing code; None where none is asked for.
    pub code: Option<String>,
}

/// Shows the page until `stop`; `tell` is called once it can be asked for.
///
/// # Errors
/// If the data folder, the register or the shop file cannot be used, or the port is taken.
pub async fn serve(
    serving: &Serving,
    tell: impl FnOnce(&Told),
    stop: impl Future<Output = ()> + Send,
) -> anyhow::Result<()> {
    let shop_text = serving.shop.as_deref().map(shop_text).transpose()?;
    let shop = shop_text
        .as_ref()
        .map(|(file, text)| Shop::parse(file, text));
    let shop = shop.transpose().context("the shop file")?;
    let listeners = listeners(serving)?;
    let folder = DataFolder::open(&serving.data)?;
    let register = Register::open(&folder.register()).await?;
    let made_good = make_good(&folder, &register).await?;
    let (code, pairing) = match serving.reach {
        Reach::ThisComputer => (None, None),
        Reach::Network => {
            let code = new_code()?;
            let fresh = chance().context("the system gives no random numbers for pairing")?;
            let pairing = Pairing::new(&code, page_secret(&folder.keys(), &fresh)?);
            (Some(code), Some(pairing))
        }
    };
    let bench = Bench {
        place: Arc::new(OnTheBench::default()),
        foreseen: Arc::default(),
        made_good: made_good.clone(),
    };
    let place = Arc::clone(&bench.place);
    let told = Told {
        made_good,
        addresses: addresses(&listeners, serving.reach),
        code,
    };
    let page = Page {
        desk: ShopDesk::new(
            folder,
            register.clone(),
            shop,
            Copies::to(serving.copies.clone()),
            bench,
        )
        .judging_by(shop_text)
        .with_adapters(serving.adapters.clone()),
        pairing,
        secret: chance().context("the system gives no random numbers for forms")?,
        chance,
    };
    tokio::spawn(page.desk.watching());
    tell(&told);
    let shown = show(listeners, page, stop).await;
    // What is being recorded ends as interrupted and is kept before the program goes.
    tokio::task::spawn_blocking(move || place.end())
        .await
        .context("the test on the bench was not ended")?;
    // The log goes back into the file.
    register.close().await;
    shown.context("the page cannot be shown")
}

fn listeners(serving: &Serving) -> anyhow::Result<Vec<TcpListener>> {
    let port = serving.port;
    let bind = |ip: IpAddr| TcpListener::bind(SocketAddr::new(ip, port));
    let taken = || {
        format!("port {port} cannot be used; is the page shown already? Choose another with --port")
    };
    let first = match serving.reach {
        Reach::ThisComputer => bind(Ipv4Addr::LOCALHOST.into()),
        // Both kinds of address, where the system has both.
        Reach::Network => {
            bind(Ipv6Addr::UNSPECIFIED.into()).or_else(|_| bind(Ipv4Addr::UNSPECIFIED.into()))
        }
    };
    let mut listeners = vec![first.with_context(taken)?];
    if serving.reach == Reach::ThisComputer {
        // A browser may try the other kind of address first.
        let port = listeners[0].local_addr().map_or(port, |at| at.port());
        listeners.extend(TcpListener::bind((Ipv6Addr::LOCALHOST, port)).ok());
    }
    Ok(listeners)
}

fn addresses(listeners: &[TcpListener], reach: Reach) -> Vec<String> {
    let port = listeners.first().and_then(|first| first.local_addr().ok());
    let port = port.map_or(0, |at| at.port());
    let mut addresses = vec![format!("http://127.0.0.1:{port}/")];
    if let (Reach::Network, Some(ip)) = (reach, own_address()) {
        addresses.push(format!("http://{ip}:{port}/"));
    }
    addresses
}

/// The address by which this computer reaches others. Nothing is sent: the system is only asked
/// which way it would take.
fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // An address of documentation (RFC 5737), which nobody has.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_loopback() && !ip.is_unspecified()).then_some(ip)
}

/// Eight digits in two groups.
fn new_code() -> anyhow::Result<String> {
    let bytes = chance().context("the system gives no random numbers for a pairing code")?;
    let mut first = [0; 16];
    first.copy_from_slice(&bytes[..16]);
    // So many values that eight digits are as even as can be told.
    let digits = format!("{:08}", u128::from_le_bytes(first) % 100_000_000);
    Ok(format!("{} {}", &digits[..4], &digits[4..]))
}

fn chance() -> Option<[u8; 32]> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).ok()?;
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_eight_digits_and_is_another_each_time() {
        let codes: Vec<String> = (0..20).map(|_| new_code().expect("a code")).collect();
        for code in &codes {
            let n_digits = code.chars().filter(char::is_ascii_digit).count();
            assert_eq!((n_digits, code.len()), (8, 9), "{code}");
        }
        assert!(codes.iter().any(|code| *code != codes[0]));
    }
}
