//! What a command says, and how it ends. Written once, whole.

use std::io::{self, IsTerminal as _, Write as _};

use clap::ValueEnum;
use serde::Serialize;

use crate::check::Verdict;
use crate::diagnostic::{json, terminal};
use crate::formulary::Faulty;

use super::input::Refused;

/// How a command ends: the first that applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// 0: may proceed.
    Proceed,
    /// 2: the input is refused.
    Refused,
    /// 3: a written reason is missing.
    Justify,
    /// 4: stopped.
    Stopped,
    /// 5: the entries disagree.
    Disagree,
    /// 70: a fault of the program.
    Fault,
}

/// How an answer is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people.
    Text,
    /// For programs.
    Json,
}

/// What goes out.
#[derive(Debug)]
#[must_use]
pub struct Answer {
    stdout: Vec<u8>,
    stderr: String,
    exit: Exit,
}

impl Exit {
    /// The number that the shell sees.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Proceed => 0,
            Self::Refused => 2,
            Self::Justify => 3,
            Self::Stopped => 4,
            Self::Disagree => 5,
            Self::Fault => 70,
        }
    }

    /// What follows from a verdict.
    pub(super) const fn of(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Proceed => Self::Proceed,
            Verdict::Justify => Self::Justify,
            Verdict::Stop => Self::Stopped,
        }
    }
}

/// A refusal as data.
#[derive(Debug, Serialize)]
pub(super) struct RefusedJson<'m> {
    version: u8,
    verdict: &'static str,
    error: &'m str,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    faults: Vec<serde_json::Value>,
}

impl<'m> RefusedJson<'m> {
    pub(super) const fn new(error: &'m str, faults: Vec<serde_json::Value>) -> Self {
        Self { version: 1, verdict: "refused", error, faults }
    }
}

impl Answer {
    /// A result.
    pub(super) fn text(stdout: String, exit: Exit) -> Self {
        Self::bytes(stdout.into_bytes(), exit)
    }

    /// A result that is a file.
    pub(super) const fn bytes(stdout: Vec<u8>, exit: Exit) -> Self {
        Self { stdout, stderr: String::new(), exit }
    }

    /// A result as data, on one line.
    pub(super) fn json(value: &impl Serialize, exit: Exit) -> Self {
        let mut stdout = serde_json::to_string(value).expect("every key is a string");
        stdout.push('\n');
        Self::text(stdout, exit)
    }

    /// The input is refused.
    pub(super) fn refused(refused: &Refused, format: Format) -> Self {
        let stderr = match format {
            Format::Text => {
                let palette = palette();
                refused.0.iter().map(|(source, faults)| terminal::render(source, faults, palette)).collect()
            }
            Format::Json => {
                let faults =
                    refused.0.iter().flat_map(|(source, faults)| faults.iter().map(|fault| with_file(source, fault)));
                let error = refused.first_message();
                let mut line =
                    serde_json::to_string(&RefusedJson::new(&error, faults.collect())).expect("every key is a string");
                line.push('\n');
                line
            }
        };
        Self { stdout: Vec::new(), stderr, exit: Exit::Refused }
    }

    /// The same answer with what there is to say about the input.
    pub(super) fn with_diagnostics(self, stderr: String) -> Self {
        Self { stderr, ..self }
    }

    /// The same answer with a text before it.
    pub(super) fn beginning_with(self, text: &str) -> Self {
        Self { stdout: [text.as_bytes(), &self.stdout].concat(), ..self }
    }

    /// The same answer where the shell expects what is refused.
    pub(super) fn moved_to_stderr(self, is_refused: bool) -> Self {
        let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        if is_refused { Self { stdout: Vec::new(), stderr: said(&self.stdout), ..self } } else { self }
    }

    /// A fault of the program: no number of it may be used.
    pub(super) fn fault(message: &str) -> Self {
        let stderr = format!(
            "{message}\nThis is a fault of the program. No rate is shown. Do the sum by hand and report this.\n"
        );
        Self { stdout: Vec::new(), stderr, exit: Exit::Fault }
    }

    /// A command line that is not understood, or a question for help.
    pub(super) fn of_command_line(error: &clap::Error) -> Self {
        let text = error.render().to_string();
        if error.use_stderr() {
            Self { stdout: Vec::new(), stderr: text, exit: Exit::Refused }
        } else {
            Self::text(text, Exit::Proceed)
        }
    }

    /// What goes to standard output.
    pub(super) fn stdout(&self) -> &[u8] {
        &self.stdout
    }

    /// Writes it, and gives the exit code. A pipe that was closed early ends quietly.
    #[must_use]
    pub fn write(&self) -> u8 {
        let _ = io::stderr().write_all(self.stderr.as_bytes());
        match io::stdout().write_all(&self.stdout).and_then(|()| io::stdout().flush()) {
            Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
                let _ = writeln!(io::stderr(), "the answer could not be written: {error}");
                Exit::Refused.code()
            }
            _ => self.exit.code(),
        }
    }
}

/// Colours on a terminal, unless they are not wanted.
pub(super) fn palette() -> terminal::Palette {
    if io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|set| set.is_empty()) {
        terminal::Palette::Colour
    } else {
        terminal::Palette::Plain
    }
}

impl From<Faulty> for Refused {
    fn from(faulty: Faulty) -> Self {
        Self(faulty.0)
    }
}

fn with_file(source: &crate::diagnostic::Source, fault: &crate::diagnostic::Fault) -> serde_json::Value {
    let mut value = json::fault(source, fault);
    if let Some(map) = value.as_object_mut() {
        map.insert("file".to_owned(), source.name.clone().into());
    }
    value
}
