//! Programs of the machine that some tests need. A test whose program is missing says on stderr what to install, and is
//! skipped; where the variable [`REQUIRED`] says `required`, it fails, and long tests go all the way.

use std::fmt;
use std::io::Write as _;
use std::panic::Location;
use std::process::Command;

/// What a machine on which no test may be skipped sets to `required`.
const REQUIRED: &str = "COUNTERSIGN_TEST_TOOLS";

pub(crate) const BASH: Tool = Tool { program: "bash", package: "bash" };
pub(crate) const CHROMEDRIVER: Tool = Tool { program: "chromedriver", package: "chromium-driver" };
pub(crate) const CHROMIUM: Tool = Tool { program: "chromium", package: "chromium" };
pub(crate) const CURL: Tool = Tool { program: "curl", package: "curl" };
pub(crate) const PDFINFO: Tool = Tool { program: "pdfinfo", package: "poppler-utils" };
pub(crate) const PDFTOPPM: Tool = Tool { program: "pdftoppm", package: "poppler-utils" };
pub(crate) const PDFTOTEXT: Tool = Tool { program: "pdftotext", package: "poppler-utils" };
pub(crate) const ZBARIMG: Tool = Tool { program: "zbarimg", package: "zbar-tools" };

/// What shows a page as people see it.
pub(crate) const BROWSER: [Tool; 2] = [CHROMEDRIVER, CHROMIUM];

/// How far a long test goes: all the way on a machine on which no test may be skipped, and part of it elsewhere.
pub(crate) fn thorough<T>(all: T, part: T) -> T {
    if std::env::var_os(REQUIRED).is_some() { all } else { part }
}

/// A program, and the Debian package that has it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tool {
    program: &'static str,
    package: &'static str,
}

/// Whether one of the tools that a test needs is not on this machine, so that the test must be skipped.
#[track_caller]
pub(crate) fn missing(needed: &[Tool]) -> bool {
    let required = std::env::var_os(REQUIRED);
    assert!(required.as_ref().is_none_or(|value| value == "required"), "{REQUIRED} is {required:?}: write `required`");
    let missing = Missing(needed.iter().copied().filter(|tool| !tool.is_installed()).collect());
    if missing.0.is_empty() {
        return false;
    }
    assert!(required.is_none(), "this test needs {missing}");
    // The test harness keeps what a test prints; what is written to the stream itself is always seen.
    let test = Location::caller();
    let line = format!("skipped: {}:{} needs {missing}\n", test.file(), test.line());
    std::io::stderr().write_all(line.as_bytes()).expect("stderr is open");
    true
}

impl Tool {
    /// A run of it, to be given its arguments.
    pub(crate) fn command(self) -> Command {
        Command::new(self.program)
    }

    fn is_installed(self) -> bool {
        let path = std::env::var_os("PATH").unwrap_or_default();
        std::env::split_paths(&path).any(|folder| folder.join(self.program).is_file())
    }
}

struct Missing(Vec<Tool>);

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let join = |words: Vec<&str>, between| words.join(between);
        let mut packages: Vec<&str> = self.0.iter().map(|tool| tool.package).collect();
        packages.dedup();
        let programs = join(self.0.iter().map(|tool| tool.program).collect(), " and ");
        write!(f, "{programs}: apt-get install {}", join(packages, " "))
    }
}
