//! Connections: how many there are, how long each may take to say what it wants, and which one goes when there is no room.
//! A connection that says nothing costs a place; the one that has said nothing for the longest gives up its place first.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::future::Future;
use std::io;
use std::net::TcpListener;
use std::pin::pin;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use axum::Router;
use axum::extract::Request;
use axum::http::header;
use axum::response::Response;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio::sync::Notify;
use tower_service::Service as _;

use super::peer::Peer;
use super::site::locked;

/// A connection that has not sent the whole head of a request by then is closed, whether it is new or was used before.
const HEAD_TIME: Duration = Duration::from_secs(10);
/// As long may a connection take to agree on its encryption.
#[cfg(feature = "tls")]
const HANDSHAKE_TIME: Duration = Duration::from_secs(10);
/// The longest head of a request.
const LARGEST_HEAD: usize = 32 * 1024;
/// As many connections are held at the same time, where the machine allows as many files.
const MOST: usize = 2_000;
/// Files that are needed for anything else: the journal's, and those of requests that read a formulary.
const OTHER_FILES: usize = 128;
/// After an error of the machine, such as no file being left.
const PAUSE: Duration = Duration::from_millis(50);

/// How a connection is encrypted.
#[derive(Clone)]
pub(super) enum Encryption {
    None,
    #[cfg(feature = "tls")]
    Tls(tokio_rustls::TlsAcceptor),
}

/// The connections that are held.
#[derive(Debug, Default)]
struct Held(Mutex<Inner>);

#[derive(Debug, Default)]
struct Inner {
    next: u64,
    all: BTreeMap<u64, Connection>,
}

#[derive(Debug)]
struct Connection {
    /// Since when nothing is being answered on it; nothing while something is.
    waits_since: Option<Instant>,
    close: Arc<Notify>,
}

/// Answers until the process ends.
pub(super) async fn accept(listener: TcpListener, encryption: Encryption, router: Router) -> io::Result<Infallible> {
    listener.set_nonblocking(true)?;
    let listener = tokio::net::TcpListener::from_std(listener)?;
    let (held, most) = (Arc::new(Held::default()), most_connections());
    loop {
        let Ok((stream, peer)) = listener.accept().await else {
            tokio::time::sleep(PAUSE).await;
            continue;
        };
        let (number, close) = held.hold(most);
        let (held, encryption, router) = (Arc::clone(&held), encryption.clone(), router.clone());
        tokio::spawn(async move {
            let served = pin!(serve((stream, Peer(peer.ip())), encryption, router, Arc::clone(&held), number));
            let closed = pin!(close.notified());
            // A connection that fails is the business of the one who opened it.
            futures_util::future::select(served, closed).await;
            held.gone(number);
        });
    }
}

async fn serve(
    (stream, peer): (TcpStream, Peer),
    encryption: Encryption,
    router: Router,
    held: Arc<Held>,
    number: u64,
) {
    let _ = stream.set_nodelay(true);
    match encryption {
        Encryption::None => answer(stream, peer, router, held, number).await,
        #[cfg(feature = "tls")]
        Encryption::Tls(tls) => {
            if let Ok(Ok(stream)) = tokio::time::timeout(HANDSHAKE_TIME, tls.accept(stream)).await {
                answer(stream, peer, router, held, number).await;
            }
        }
    }
}

async fn answer<S>(stream: S, peer: Peer, router: Router, held: Arc<Held>, number: u64)
where
    S: AsyncRead + AsyncWrite + Send + Unpin + 'static,
{
    let service = hyper::service::service_fn(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(peer);
        let (mut router, held) = (router.clone(), Arc::clone(&held));
        held.answers(number, true);
        async move {
            let response = router.call(request.map(axum::body::Body::new)).await;
            // What is pushed to a page goes on for as long as its session.
            let goes_on = response.as_ref().is_ok_and(is_pushed);
            held.answers(number, goes_on);
            response
        }
    });
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new()).header_read_timeout(HEAD_TIME).max_buf_size(LARGEST_HEAD);
    let _ = http.serve_connection(TokioIo::new(stream), service).await;
}

fn is_pushed(response: &Response) -> bool {
    response.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind == "text/event-stream")
}

impl Held {
    /// A place for a new connection. Where there is none, the connection that has waited longest is closed.
    fn hold(&self, most: usize) -> (u64, Arc<Notify>) {
        let mut inner = locked(&self.0);
        while inner.all.len() >= most {
            let waiting = inner.all.iter().filter_map(|(number, one)| Some((one.waits_since?, *number)));
            let Some(oldest) = waiting.min().or_else(|| inner.all.keys().next().map(|first| (Instant::now(), *first)))
            else {
                break;
            };
            if let Some(gone) = inner.all.remove(&oldest.1) {
                gone.close.notify_one();
            }
        }
        let (number, close) = (inner.next, Arc::new(Notify::new()));
        inner.next += 1;
        inner.all.insert(number, Connection { waits_since: Some(Instant::now()), close: Arc::clone(&close) });
        (number, close)
    }

    fn answers(&self, number: u64, is_answered: bool) {
        if let Some(one) = locked(&self.0).all.get_mut(&number) {
            one.waits_since = (!is_answered).then(Instant::now);
        }
    }

    fn gone(&self, number: u64) {
        locked(&self.0).all.remove(&number);
    }
}

/// Each connection is an open file, and a machine allows a process 1,024 of them unless it asks for more.
#[cfg(unix)]
fn most_connections() -> usize {
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
    let limit = getrlimit(Resource::Nofile);
    let wanted = u64::try_from(MOST + OTHER_FILES).unwrap_or(u64::MAX);
    let raised = limit.maximum.map_or(wanted, |most| most.min(wanted)).max(limit.current.unwrap_or(wanted));
    let _ = setrlimit(Resource::Nofile, Rlimit { current: Some(raised), maximum: limit.maximum });
    let allowed = getrlimit(Resource::Nofile).current.unwrap_or(wanted);
    usize::try_from(allowed).unwrap_or(usize::MAX).saturating_sub(OTHER_FILES).clamp(16, MOST)
}

#[cfg(not(unix))]
const fn most_connections() -> usize {
    MOST
}

/// Resolves when either ends.
pub(super) async fn until<T>(serves: impl Future<Output = T>, asked: impl Future<Output = ()>) -> Option<T> {
    match futures_util::future::select(pin!(serves), pin!(asked)).await {
        futures_util::future::Either::Left((ended, _)) => Some(ended),
        futures_util::future::Either::Right(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_connection_that_has_waited_longest_gives_up_its_place() {
        let held = Held::default();
        let (first, _) = held.hold(3);
        let (second, _) = held.hold(3);
        let (third, _) = held.hold(3);
        held.answers(first, true);
        let (fourth, _) = held.hold(3);
        let left: Vec<u64> = locked(&held.0).all.keys().copied().collect();
        assert_eq!(left, [first, third, fourth], "{second} waited longest: the first is being answered");
        held.answers(third, true);
        held.answers(third, false);
        held.hold(3);
        assert!(locked(&held.0).all.contains_key(&third) && !locked(&held.0).all.contains_key(&fourth));
    }
}
