//! Runs the real program as a person does, and gives back what it said and how it ended.
#![allow(dead_code, reason = "each test binary uses a part of it")]

pub(crate) mod approving;
pub(crate) mod house;
pub(crate) mod set_up;
pub(crate) mod tools;

use std::ffi::OsStr;
use std::fs;
use std::io::{Read, Write as _};
use std::panic::Location;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// The moment of every check.
pub(crate) const AT: &str = "2026-03-14T07:50:00+00:00";

/// No answer takes longer, on a slow machine and without optimisation.
const DEADLINE: Duration = Duration::from_secs(30);

/// One run of the program.
pub(crate) struct Run {
    command: Command,
    stdin: Vec<u8>,
}

/// What it said, and its exit code.
#[derive(Debug)]
pub(crate) struct Said {
    pub(crate) stdout: String,
    pub(crate) stderr: String,
    pub(crate) code: i32,
}

/// A run in the folder of the crate, where `examples` and `formulary` are.
pub(crate) fn run<I: AsRef<OsStr>>(arguments: impl IntoIterator<Item = I>) -> Run {
    let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
    command.args(arguments).current_dir(env!("CARGO_MANIFEST_DIR"));
    for name in ["COUNTERSIGN_FORMULARY", "COUNTERSIGN_JOURNAL", "COUNTERSIGN_STORE_KEY"] {
        command.env_remove(name);
    }
    Run { command, stdin: Vec::new() }
}

/// As [`run`], for a command with its words apart by spaces, at [`AT`], with the formulary of the folder.
pub(crate) fn at(words: &str) -> Run {
    run(words.split(' ').chain(["--at", AT, "--formulary", "formulary"]))
}

impl Run {
    pub(crate) fn arg(mut self, word: impl AsRef<OsStr>) -> Self {
        self.command.arg(word);
        self
    }

    pub(crate) fn args<I: AsRef<OsStr>>(mut self, words: impl IntoIterator<Item = I>) -> Self {
        self.command.args(words);
        self
    }

    pub(crate) fn within(mut self, folder: &Path) -> Self {
        self.command.current_dir(folder);
        self
    }

    pub(crate) fn env(mut self, name: &str, value: &str) -> Self {
        self.command.env(name, value);
        self
    }

    pub(crate) fn stdin(mut self, bytes: impl Into<Vec<u8>>) -> Self {
        self.stdin = bytes.into();
        self
    }

    /// Runs it to its end, which it must reach by itself and in time.
    pub(crate) fn said(mut self) -> Said {
        let pipes = self.command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = pipes.spawn().expect("the program is built");
        let mut stdin = child.stdin.take().expect("piped");
        let typed = std::mem::take(&mut self.stdin);
        // Whoever is refused early does not read on: that write may fail.
        let writer = thread::spawn(move || drop(stdin.write_all(&typed)));
        let stdout = collect(child.stdout.take().expect("piped"));
        let stderr = collect(child.stderr.take().expect("piped"));
        let begun = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait().expect("it is our child") {
                break status;
            }
            if begun.elapsed() > DEADLINE {
                child.kill().expect("it is our child");
                panic!("no answer after {DEADLINE:?}: {:?}", self.command);
            }
            thread::sleep(Duration::from_millis(2));
        };
        writer.join().expect("it only writes");
        let text = |handle: thread::JoinHandle<Vec<u8>>| {
            String::from_utf8(handle.join().expect("it only reads")).expect("the program writes UTF-8")
        };
        Said { stdout: text(stdout), stderr: text(stderr), code: status.code().expect("it ended by itself") }
    }
}

impl Said {
    /// The one line of data it wrote.
    #[track_caller]
    pub(crate) fn json(&self) -> serde_json::Value {
        assert_eq!(self.stdout.lines().count(), 1, "one line: {self:?}");
        serde_json::from_str(&self.stdout).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    /// Every line of data it wrote.
    #[track_caller]
    pub(crate) fn lines(&self) -> Vec<serde_json::Value> {
        let read = |line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}"));
        assert!(self.stdout.is_empty() || self.stdout.ends_with('\n'), "the last line is whole: {self:?}");
        self.stdout.lines().map(read).collect()
    }

    /// Asserts that it was refused: exit 2, nothing on stdout, a message on stderr, and no fault of the program.
    #[track_caller]
    pub(crate) fn is_refused(&self) -> &str {
        assert_eq!(self.code, 2, "{self:?}");
        assert_eq!(self.stdout, "", "{self:?}");
        assert!(!self.stderr.trim().is_empty(), "{self:?}");
        self.did_not_fall_over();
        &self.stderr
    }

    #[track_caller]
    pub(crate) fn did_not_fall_over(&self) {
        for word in ["panicked", "fault of the program", "RUST_BACKTRACE"] {
            assert!(!self.stderr.contains(word), "{self:?}");
        }
        assert_ne!(self.code, 70, "{self:?}");
    }
}

/// A fresh folder of this test's own: the name is unique within the file that asks for it.
#[track_caller]
pub(crate) fn folder(name: &str) -> PathBuf {
    let file = Location::caller().file().replace(['/', '\\', '.'], "-");
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(file).join(name);
    if folder.exists() {
        fs::remove_dir_all(&folder).expect("it is ours");
    }
    fs::create_dir_all(&folder).expect("the target folder can be written");
    folder
}

/// Copies a folder with all that is in it, and its permissions.
pub(crate) fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("our own folder");
    for item in fs::read_dir(from).expect("it was made") {
        let item = item.expect("it can be listed");
        let to = to.join(item.file_name());
        if item.path().is_dir() {
            copy(&item.path(), &to);
        } else {
            fs::copy(item.path(), &to).expect("our own folder");
        }
    }
    fs::set_permissions(to, fs::metadata(from).expect("it was made").permissions()).expect("our own folder");
}

/// A file of the folder `examples`.
pub(crate) fn example(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{error}: {}", path.display()))
}

fn collect(mut pipe: impl Read + Send + 'static) -> thread::JoinHandle<Vec<u8>> {
    thread::spawn(move || {
        let mut bytes = Vec::new();
        pipe.read_to_end(&mut bytes).expect("a pipe of our child");
        bytes
    })
}
