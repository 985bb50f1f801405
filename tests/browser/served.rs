//! The program, serving a ward's journal in a process of its own, which can be killed and started again.

use std::ffi::OsStr;
use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::ward::Ward;

pub(crate) struct Served {
    process: Child,
    pub(crate) address: SocketAddr,
}

/// The demonstration, at the moment of the ward; asked at any port, as by what listens in between.
const STOOD: [&str; 6] = ["--formulary", "formulary", "--at", "2026-03-14T07:50:00+00:00", "--host", "127.0.0.1"];

impl Served {
    /// Starts it at a free port.
    pub(crate) fn new(ward: &Ward) -> Self {
        Self::at(ward, "127.0.0.1:0".parse().expect("an address"))
    }

    /// Starts it at a port that it had before.
    pub(crate) fn at(ward: &Ward, address: SocketAddr) -> Self {
        Self::with(ward, address, &STOOD)
    }

    /// Starts it for other machines, at a free port.
    #[cfg(feature = "tls")]
    pub(crate) fn over_tls(ward: &Ward, certificate: &Path, key: &Path) -> Self {
        let named: [&OsStr; 2] = ["--host".as_ref(), "ward.example".as_ref()];
        let files = ["--certificate".as_ref(), certificate.as_os_str(), "--key".as_ref(), key.as_os_str()];
        let files = [&files[..], &named[..]].concat();
        let all = [&STOOD.map(OsStr::new)[..], &files[..]].concat();
        Self::with(ward, "0.0.0.0:0".parse().expect("an address"), &all)
    }

    /// Starts it with a formulary and a proposed one, at the moment that the clock says.
    pub(crate) fn with_proposal(ward: &Ward, formulary: &Path, proposed: &Path) -> Self {
        let all = ["--formulary".as_ref(), formulary.as_os_str(), "--proposed".as_ref(), proposed.as_os_str()];
        Self::with(ward, "127.0.0.1:0".parse().expect("an address"), &all)
    }

    fn with<A: AsRef<OsStr>>(ward: &Ward, address: SocketAddr, more: &[A]) -> Self {
        let mut process = Command::new(env!("CARGO_BIN_EXE_countersign"))
            .args(["serve", "--address"])
            .arg(address.to_string())
            .arg("--journal")
            .arg(&ward.journal)
            .args(more)
            .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")))
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program");
        let mut line = String::new();
        BufReader::new(process.stdout.take().expect("its output")).read_line(&mut line).expect("a line");
        let says = line.strip_prefix("Serving at ").and_then(|rest| rest.split_once("://")).map(|(_, rest)| rest);
        let says = says.and_then(|rest| rest.strip_suffix("/\n"));
        let address = says.unwrap_or_else(|| panic!("it said {line:?}")).parse().expect("an address");
        Self { process, address }
    }

    /// As a loss of power does: no time for anything.
    pub(crate) fn kill(&mut self) {
        self.process.kill().expect("it can be killed");
        self.process.wait().expect("it ends");
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
