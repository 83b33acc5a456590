//! Connections: how many at once, for how long, and how they end.

use crate::page::desk::Desk;
use crate::page::guard::Connection;
use crate::page::looking::Looking;
use crate::page::routes::Page;
use crate::page::routes::router;
use axum::Extension;
use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::TokioIo;
use hyper_util::rt::TokioTimer;
use hyper_util::service::TowerToHyperService;
use std::future::Future;
use std::io;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::net::TcpStream;
use tokio::sync::Semaphore;
use tokio::sync::watch;
use tokio::task::JoinSet;

/// Most connections at once; others wait until one ends.
const MOST_CONNECTIONS: usize = 128;

/// How long a browser may take to ask, or may say nothing.
const LONGEST_SILENCE: Duration = Duration::from_secs(15);

/// How long a connection may last; a browser opens another.
const LONGEST_CONNECTION: Duration = Duration::from_secs(1_800);

/// How long what runs may take to end when the program is stopped.
const LONGEST_END: Duration = Duration::from_secs(5);

/// Largest head of a request, bytes.
const LARGEST_HEAD: usize = 32 * 1024;

/// Most lines of a head.
const MOST_HEADERS: usize = 64;

/// Shows the page to whoever connects, until `stop` is there.
///
/// # Errors
/// If the listeners cannot be used.
pub async fn serve<D: Desk>(
    listeners: Vec<std::net::TcpListener>,
    page: Page<D>,
    stop: impl Future<Output = ()> + Send,
) -> io::Result<()> {
    let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let (ending, is_ending) = watch::channel(false);
    let looking = Looking::until(is_ending.clone());
    let app = router(Arc::new(page)).layer(Extension(looking));
    let mut doors = JoinSet::new();
    for listener in listeners {
        listener.set_nonblocking(true)?;
        let listener = TcpListener::from_std(listener)?;
        doors.spawn(door(
            listener,
            app.clone(),
            Arc::clone(&places),
            is_ending.clone(),
        ));
    }
    stop.await;
    doors.shutdown().await;
    // Whoever listens is gone if nobody is connected.
    let _ = ending.send(true);
    let all = u32::try_from(MOST_CONNECTIONS).unwrap_or(u32::MAX);
    let _ = tokio::time::timeout(LONGEST_END, places.acquire_many(all)).await;
    Ok(())
}

/// Lets connections in, as many as there are places.
async fn door(
    listener: TcpListener,
    app: Router,
    places: Arc<Semaphore>,
    is_ending: watch::Receiver<bool>,
) {
    loop {
        let Ok(place) = Arc::clone(&places).acquire_owned().await else {
            return;
        };
        let (stream, peer) = match listener.accept().await {
            Ok(accepted) => accepted,
            // A connection that went at once, or too many open files: the next may do better.
            Err(_) => {
                tokio::time::sleep(Duration::from_millis(100)).await;
                continue;
            }
        };
        let Ok(local) = stream.local_addr() else {
            continue;
        };
        let app = app.clone().layer(Extension(Connection { local, peer }));
        let is_ending = is_ending.clone();
        tokio::spawn(async move {
            let talk = talk(stream, app, is_ending);
            let _ = tokio::time::timeout(LONGEST_CONNECTION, talk).await;
            drop(place);
        });
    }
}

/// One connection from its first request to its last.
async fn talk(stream: TcpStream, app: Router, mut is_ending: watch::Receiver<bool>) {
    let mut talk = pin!(
        http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(LONGEST_SILENCE)
            .max_buf_size(LARGEST_HEAD)
            .max_headers(MOST_HEADERS)
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(app))
    );
    tokio::select! {
        _ = talk.as_mut() => return,
        _ = is_ending.changed() => talk.as_mut().graceful_shutdown(),
    }
    // Whether the browser was still there at the end is nobody's trouble.
    let _ = talk.await;
}
