//! What the commands of a journal share: files that are named, events that are counted, and how far a long read is.

use std::fs;
use std::io::{self, IsTerminal as _};
use std::path::Path;

use indicatif::{ProgressBar, ProgressStyle};

use crate::diagnostic::Fault;

use super::input::Refused;

pub(super) fn counted(events: u64) -> String {
    format!("{events} event{}", if events == 1 { "" } else { "s" })
}

/// A path that leads to a file: nothing is waited for, as a pipe or a device would have it.
pub(super) fn only_a_file(path: &Path) -> Result<&Path, Refused> {
    let known = fs::metadata(path).map_err(unreadable(path))?;
    if known.is_file() {
        return Ok(path);
    }
    let fault = Fault::new("not-a-file", "it is a folder, a pipe or a device").help("name a file");
    Err(Refused::one(&path.display().to_string(), fault))
}

pub(super) fn unreadable(path: &Path) -> impl Fn(io::Error) -> Refused + '_ {
    move |error| {
        let fault = Fault::new("file-unreadable", error.to_string()).help("look at the path and its rights");
        Refused::one(&path.display().to_string(), fault)
    }
}

/// How far it is, on a terminal only; gone at the end.
pub(super) struct Bar(ProgressBar);

impl Bar {
    pub(super) fn new() -> Self {
        let bar = if io::stderr().is_terminal() { ProgressBar::new(0) } else { ProgressBar::hidden() };
        let style = ProgressStyle::with_template("{bar:40} event {pos} of {len}, {eta} left");
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        Self(bar)
    }

    pub(super) fn show(&self, done: u64, of: u64) {
        self.0.set_length(of);
        self.0.set_position(done);
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
