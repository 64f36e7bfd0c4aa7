//! Serving: an accept loop of our own, so that slow and silent connections are cut, and a stop that lets work finish.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use anyhow::Context as _;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;

use super::app::App;
use super::router;

/// At most this many connections at once; the next ones wait in the system's queue.
const CONNECTIONS: usize = 512;
/// A request's head must arrive within this.
const HEAD_TIMEOUT: Duration = Duration::from_secs(10);
/// After a signal to stop, work in hand may take this long.
const STOP_TIMEOUT: Duration = Duration::from_secs(8);

/// Listens where the configuration says.
///
/// # Errors
/// The address is taken or not ours.
pub async fn listen(app: &App) -> anyhow::Result<TcpListener> {
    TcpListener::bind(app.config.listen).await.with_context(|| format!("cannot listen on {}", app.config.listen))
}

/// Serves until the signal comes, then finishes what is in hand and closes the database.
///
/// # Errors
/// The database could not be closed in order.
pub async fn run(app: App, listener: TcpListener, stop: impl Future<Output = ()>) -> anyhow::Result<()> {
    let service = TowerToHyperService::new(router::build(&app));
    let graceful = GracefulShutdown::new();
    let places = Arc::new(Semaphore::new(CONNECTIONS));
    tokio::pin!(stop);
    loop {
        let place = Arc::clone(&places).acquire_owned().await?;
        let stream = tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok((stream, _)) => stream,
                Err(error) => {
                    tracing::warn!(%error, "a connection could not be taken");
                    tokio::time::sleep(Duration::from_millis(50)).await;
                    continue;
                }
            },
            () = &mut stop => break,
        };
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(HEAD_TIMEOUT)
            .max_buf_size(64 * 1024)
            .serve_connection(TokioIo::new(stream), service.clone());
        let connection = graceful.watch(connection);
        tokio::spawn(async move {
            if let Err(error) = connection.await {
                tracing::debug!(%error, "a connection ended early");
            }
            drop(place);
        });
    }
    app.draining.store(true, Ordering::SeqCst);
    drop(listener);
    tracing::info!("stopping");
    if tokio::time::timeout(STOP_TIMEOUT, graceful.shutdown()).await.is_err() {
        tracing::warn!("some connections did not finish in time and were cut");
    }
    app.database.close().await;
    Ok(())
}

/// Resolves when the process is asked to stop.
pub async fn stop_signal() {
    let interrupt = tokio::signal::ctrl_c();
    match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
        Ok(mut terminate) => {
            tokio::select! {
                _ = interrupt => {}
                _ = terminate.recv() => {}
            }
        }
        Err(_) => {
            let _ = interrupt.await;
        }
    }
}

/// Whether the house that listens there says it is ready.
pub async fn is_ready(listen: std::net::SocketAddr) -> bool {
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
    let ask = async {
        // A server that listens on every address is asked on this machine's own.
        let ip = if listen.ip().is_unspecified() { std::net::IpAddr::from([127, 0, 0, 1]) } else { listen.ip() };
        let mut stream = tokio::net::TcpStream::connect((ip, listen.port())).await?;
        stream.write_all(b"GET /readyz HTTP/1.1\r\nHost: health\r\nConnection: close\r\n\r\n").await?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer).await?;
        std::io::Result::Ok(answer.starts_with("HTTP/1.1 200"))
    };
    matches!(tokio::time::timeout(Duration::from_secs(5), ask).await, Ok(Ok(true)))
}
