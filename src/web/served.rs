//! Listening: on this machine alone, or elsewhere with a certificate.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;

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
    Failed(#[from] std::io::Error),
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
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(async {
        let listener = std::net::TcpListener::bind(listen.address)?;
        listener.set_nonblocking(true)?;
        let address = listener.local_addr()?;
        let service = router(site).into_make_service();
        match &listen.certificate {
            #[cfg(not(feature = "tls"))]
            Some(_) => return Err(NotServed::WithoutTls),
            #[cfg(feature = "tls")]
            Some((certificate, key)) => {
                let _ = rustls::crypto::ring::default_provider().install_default();
                let tls = axum_server::tls_rustls::RustlsConfig::from_pem_file(certificate, key).await?;
                ready(address);
                axum_server::from_tcp_rustls(listener, tls)?.serve(service).await?;
            }
            None => {
                ready(address);
                axum_server::from_tcp(listener)?.serve(service).await?;
            }
        }
        Ok(())
    })
}
