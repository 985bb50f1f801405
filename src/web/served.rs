//! Listening: on this machine alone, or elsewhere with a certificate.

use std::io;
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use std::task::Poll;
use std::time::Duration;

use futures_util::future;
use tokio::runtime::{Builder, Runtime};

use super::connections::{Encryption, accept, until};
use super::hosts::Hosts;
use super::router;
use super::site::Site;

/// Where the server listens.
#[derive(Debug, Clone)]
pub struct Listen {
    /// The address.
    pub address: SocketAddr,
    /// The files with the certificate and its key, PEM.
    pub certificate: Option<(PathBuf, PathBuf)>,
    /// The names that people type for it, besides its address.
    pub hosts: Vec<String>,
}

/// Why nothing is served.
#[derive(Debug, thiserror::Error)]
pub enum NotServed {
    /// Another machine could listen.
    #[error("{0} can be reached from other machines, and no certificate is given")]
    WithoutCertificate(SocketAddr),
    /// A certificate is given, and the program cannot use it.
    #[cfg(not(feature = "tls"))]
    #[error("this program was built without TLS: it serves this machine alone")]
    WithoutTls,
    /// Others could read the key of the certificate.
    #[error("{path} can be read by others (mode {mode:o})", path = .0.display(), mode = .1)]
    KeyOpenToOthers(PathBuf, u32),
    /// The address or a file cannot be used.
    #[error("{0}")]
    Failed(#[from] io::Error),
}

impl NotServed {
    /// What to do.
    #[must_use]
    pub const fn help(&self) -> &'static str {
        match self {
            Self::WithoutCertificate(_) => "add --certificate FILE and --key FILE, or leave --address out",
            #[cfg(not(feature = "tls"))]
            Self::WithoutTls => "build it with `cargo build --profile dist --features full`",
            Self::KeyOpenToOthers(..) => {
                "take the rights of others away: chmod 600 and the file; make a new key if one of them may have read it"
            }
            Self::Failed(_) => "look at the address, and at the files of the certificate",
        }
    }
}

/// Serves until the process ends. `ready` receives the address.
///
/// # Errors
/// [`NotServed`] before anything is served.
pub fn serve(site: Arc<Site>, listen: &Listen, ready: impl FnOnce(SocketAddr)) -> Result<(), NotServed> {
    if listen.certificate.is_none() && !listen.address.ip().is_loopback() {
        return Err(NotServed::WithoutCertificate(listen.address));
    }
    let encryption = encryption(listen)?;
    let runtime = Builder::new_multi_thread().max_blocking_threads(BLOCKING).enable_all().build()?;
    runtime.block_on(async {
        let listener = TcpListener::bind(listen.address)?;
        let address = listener.local_addr()?;
        site.answer_only(Hosts::new(address, &listen.hosts));
        site.keep_watch();
        let router = router(site);
        ready(address);
        match accept(listener, encryption, router).await? {}
    })
}

#[cfg(not(feature = "tls"))]
fn encryption(listen: &Listen) -> Result<Encryption, NotServed> {
    if listen.certificate.is_some() { Err(NotServed::WithoutTls) } else { Ok(Encryption::None) }
}

#[cfg(feature = "tls")]
fn encryption(listen: &Listen) -> Result<Encryption, NotServed> {
    use rustls::pki_types::pem::PemObject as _;
    use rustls::pki_types::{CertificateDer, PrivateKeyDer};
    let Some((certificate, key)) = &listen.certificate else { return Ok(Encryption::None) };
    only_ours(key)?;
    let unusable = |path: &std::path::Path, error: &dyn std::fmt::Display| {
        NotServed::Failed(io::Error::other(format!("{}: {error}", path.display())))
    };
    let chain: Result<Vec<_>, _> = CertificateDer::pem_file_iter(certificate)
        .and_then(Iterator::collect)
        .map_err(|error| unusable(certificate, &error));
    let secret = PrivateKeyDer::from_pem_file(key).map_err(|error| unusable(key, &error))?;
    let _ = rustls::crypto::ring::default_provider().install_default();
    let mut tls = rustls::ServerConfig::builder()
        .with_no_client_auth()
        .with_single_cert(chain?, secret)
        .map_err(|error| unusable(certificate, &error))?;
    tls.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(Encryption::Tls(Arc::new(tls).into()))
}

/// Refuses a key that others can read, and one that is no file: nothing is waited for.
#[cfg(feature = "tls")]
fn only_ours(key: &std::path::Path) -> Result<(), NotServed> {
    let known = std::fs::metadata(key)?;
    if !known.is_file() {
        return Err(NotServed::Failed(io::Error::other(format!("{} is no file", key.display()))));
    }
    if let Some(mode) = crate::journal::open_to_others(key)? {
        return Err(NotServed::KeyOpenToOthers(key.to_owned(), mode));
    }
    Ok(())
}

/// Number of blocking threads: four for the journal, four for keys, and some that wait for a disk.
const BLOCKING: usize = 32;

/// What is still answered when a server ends has this long.
const LAST_ANSWERS: Duration = Duration::from_secs(2);

/// A server on this machine alone that ends when the process is asked to end, so that its owner can clean up.
#[derive(Debug)]
pub struct UntilAsked {
    runtime: Runtime,
    signals: Vec<Signal>,
}

#[cfg(unix)]
type Signal = tokio::signal::unix::Signal;
#[cfg(windows)]
type Signal = tokio::signal::windows::CtrlC;

#[cfg(unix)]
fn signals() -> io::Result<Vec<Signal>> {
    use tokio::signal::unix::{SignalKind, signal};
    [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()].into_iter().map(signal).collect()
}

#[cfg(windows)]
fn signals() -> io::Result<Vec<Signal>> {
    Ok(vec![tokio::signal::windows::ctrl_c()?])
}

impl UntilAsked {
    /// From here on Ctrl-C, a request to terminate and a terminal that is closed no longer kill the process: each ends
    /// [`UntilAsked::serve`], also when it came before.
    ///
    /// # Errors
    /// When the machine refuses.
    pub fn watch() -> io::Result<Self> {
        let runtime = Builder::new_multi_thread().max_blocking_threads(BLOCKING).enable_all().build()?;
        let within = runtime.enter();
        let signals = signals()?;
        drop(within);
        Ok(Self { runtime, signals })
    }

    /// Serves until the process is asked to end. `ready` is called with the address once requests are answered.
    ///
    /// # Errors
    /// [`NotServed`] where others could reach the address, or it cannot be used.
    pub fn serve(
        self,
        site: Arc<Site>,
        listener: TcpListener,
        ready: impl FnOnce(SocketAddr),
    ) -> Result<(), NotServed> {
        let Self { runtime, mut signals } = self;
        let address = listener.local_addr()?;
        if !address.ip().is_loopback() {
            return Err(NotServed::WithoutCertificate(address));
        }
        site.answer_only(Hosts::new(address, &[]));
        let served = runtime.block_on(async {
            let serves = accept(listener, Encryption::None, router(site));
            ready(address);
            let asked = future::poll_fn(|context| {
                let any = signals.iter_mut().any(|signal| signal.poll_recv(context).is_ready());
                if any { Poll::Ready(()) } else { Poll::Pending }
            });
            until(serves, asked).await
        });
        runtime.shutdown_timeout(LAST_ANSWERS);
        match served {
            Some(Ok(never)) => match never {},
            Some(Err(failed)) => Err(failed.into()),
            None => Ok(()),
        }
    }
}
