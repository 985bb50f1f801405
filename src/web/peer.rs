//! From where a request comes: known to everything that is done for it, and never trusted.

use std::net::IpAddr;

tokio::task_local! {
    static PEER: Option<IpAddr>;
}

/// The address at the other end of a connection.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peer(pub(super) IpAddr);

/// Does what is done for a request.
pub(super) async fn answering<T>(peer: Option<Peer>, what: impl Future<Output = T>) -> T {
    PEER.scope(peer.map(|Peer(address)| address), what).await
}

/// The address from which the request comes that is answered here.
pub(super) fn address() -> String {
    let known = PEER.try_with(|peer| *peer).ok().flatten();
    known.map_or_else(|| "an unknown address".to_owned(), |address| address.to_string())
}
