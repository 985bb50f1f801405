//! Listening: on this machine alone, or elsewhere with a certificate.

use std::io;
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use std::task::Poll;
use std::time::Duration;

use futures_util::future::{self, Either};
use tokio::runtime::{Builder, Runtime};

use super::router;
use super::site::Site;

/// Where the server listens.
#[derive(Debug, Clone)]
pub struct Listen {
    /// The address.
    pub address: SocketAddr,
    /// The files with the certificate and its key, PEM.
    pub certificate: Option<(PathBuf, PathBuf)>,
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
            Self::Failed(_) => "look at the address, and at the files of the certificate",
        }
    }
}

/// Serves until the process ends. `ready` is told the address that was taken.
///
/// # Errors
/// [`NotServed`] before anything is served.
pub fn serve(site: Arc<Site>, listen: &Listen, ready: impl FnOnce(SocketAddr)) -> Result<(), NotServed> {
    if listen.certificate.is_none() && !listen.address.ip().is_loopback() {
        return Err(NotServed::WithoutCertificate(listen.address));
    }
    let runtime = Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(async {
        let listener = TcpListener::bind(listen.address)?;
        listener.set_nonblocking(true)?;
        let address = listener.local_addr()?;
        match &listen.certificate {
            #[cfg(not(feature = "tls"))]
            Some(_) => return Err(NotServed::WithoutTls),
            #[cfg(feature = "tls")]
            Some((certificate, key)) => {
                let _ = rustls::crypto::ring::default_provider().install_default();
                let tls = axum_server::tls_rustls::RustlsConfig::from_pem_file(certificate, key).await?;
                ready(address);
                axum_server::from_tcp_rustls(listener, tls)?.serve(router(site).into_make_service()).await?;
            }
            None => {
                ready(address);
                axum::serve(tokio::net::TcpListener::from_std(listener)?, router(site)).await?;
            }
        }
        Ok(())
    })
}

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
        let runtime = Builder::new_multi_thread().enable_all().build()?;
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
        listener.set_nonblocking(true)?;
        let served = runtime.block_on(async {
            let serves = axum::serve(tokio::net::TcpListener::from_std(listener)?, router(site)).into_future();
            ready(address);
            let asked = future::poll_fn(|context| {
                let any = signals.iter_mut().any(|signal| signal.poll_recv(context).is_ready());
                if any { Poll::Ready(()) } else { Poll::Pending }
            });
            match future::select(Box::pin(serves), asked).await {
                Either::Left((ended, _)) => ended,
                Either::Right(_) => Ok(()),
            }
        });
        runtime.shutdown_timeout(LAST_ANSWERS);
        Ok(served?)
    }
}
