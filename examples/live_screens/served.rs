//! The page in a process of its own, with a test on the board's adapter.

use std::io::BufRead as _;
use std::io::BufReader;
use std::net::SocketAddr;
use std::net::TcpListener;
use std::path::Path;
use std::process::Child;
use std::sync::Arc;
use stillrod::daemon::desk::Bench;
use stillrod::daemon::desk::Copies;
use stillrod::daemon::desk::ShopDesk;
use stillrod::daemon::folder::DataFolder;
use stillrod::daemon::session::OnTheBench;
use stillrod::daemon::session::Source;
use stillrod::daemon::session::Wanted;
use stillrod::page::Page;
use stillrod::page::serve as show;
use stillrod::register::Register;
use stillrod::rehearsal::scenario;

/// Shows the page, and begins a test on the adapter of this path.
pub fn serve(folder: &Path, port: &str) {
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let data = DataFolder::open(folder).expect("a folder");
        let register = Register::open(&data.register()).await.expect("a register");
        let place = Arc::new(OnTheBench::default());
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        println!("{}", listener.local_addr().expect("an address"));
        let setup = scenario("no-limit-chosen")
            .expect("a scenario")
            .setup_toml();
        let wanted = Wanted {
            setup: ("setup".into(), setup),
            shop: None,
            source: Source::Adapter(port.into()),
            folder: folder.into(),
            who: String::new(),
        };
        assert!(place.begin(wanted).expect("begun"));
        let bench = Bench {
            place,
            foreseen: Arc::default(),
            made_good: Vec::new(),
        };
        let page = Page {
            desk: ShopDesk::new(data, register, None, Copies::to(None), bench),
            pairing: None,
            secret: [1; 32],
            chance: || Some([2; 32]),
        };
        show(vec![listener], page, std::future::pending())
            .await
            .expect("shown");
    });
}

/// Where it listens.
pub fn address(page: &mut Child) -> SocketAddr {
    let mut line = String::new();
    let out = page.stdout.as_mut().expect("its words");
    BufReader::new(out).read_line(&mut line).expect("a line");
    line.trim().parse().expect("an address")
}

/// What a process has used.
pub struct Used {
    /// Time of all cores, s.
    pub cpu_s: f64,
    /// Memory that is its own now, MB.
    pub resident_mb: f64,
}

/// What the process of this number has used, by `/proc`.
pub fn used(id: u32) -> Used {
    let stat = std::fs::read_to_string(format!("/proc/{id}/stat")).expect("its state");
    let fields: Vec<&str> = stat
        .rsplit(") ")
        .next()
        .expect("fields")
        .split(' ')
        .collect();
    let ticks = |at: usize| fields[at].parse::<f64>().expect("a number");
    Used {
        // Fields 14 and 15 of proc(5), hundredths of a second; the first here is field 3.
        cpu_s: (ticks(11) + ticks(12)) / 100.0,
        resident_mb: ticks(21) * 4096.0 / 1e6,
    }
}
