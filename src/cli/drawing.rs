//! How a card is written: in which format, and whether into a file.

use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::card::{NoPage, Rendering};
use crate::diagnostic::Fault;

use super::answer::Answer;
use super::entry_file::CommandError;
use super::input::Refused;
use super::{Exit, Format};

/// How a card is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum CardFormat {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// One page for a browser or a printer.
    Html,
    /// One sheet of A5 as a picture.
    Svg,
    /// One sheet of A5 for a printer.
    #[cfg(feature = "pdf")]
    Pdf,
}

/// How a syringe's label is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum LabelFormat {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// For a browser or a printer.
    Html,
}

impl LabelFormat {
    /// For what is no label.
    pub(super) const fn plain(self) -> Format {
        if matches!(self, Self::Json) { Format::Json } else { Format::Text }
    }
}

#[derive(Debug, Args)]
pub(super) struct Drawing {
    /// How the card is written
    #[arg(long, value_enum, default_value = "text")]
    format: CardFormat,
    /// The file into which the card is written [default: standard output]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

impl CardFormat {
    /// For people; nothing where it is data.
    const fn form(self) -> Option<Rendering> {
        match self {
            Self::Text => Some(Rendering::Text),
            Self::Json => None,
            Self::Html => Some(Rendering::Html),
            Self::Svg => Some(Rendering::Svg),
            #[cfg(feature = "pdf")]
            Self::Pdf => Some(Rendering::Pdf),
        }
    }
}

impl Drawing {
    /// For what is no card.
    pub(super) const fn plain(&self) -> Format {
        if matches!(self.format, CardFormat::Json) { Format::Json } else { Format::Text }
    }

    /// Whether the answer is text on standard output, where more text may stand before it.
    pub(super) const fn is_text_to_read(&self) -> bool {
        matches!(self.format, CardFormat::Text) && self.output.is_none()
    }

    /// The card as it is asked for: drawn for people, or as data.
    pub(super) fn answer(
        &self,
        drawn: impl FnOnce(Rendering) -> Result<Vec<u8>, NoPage>,
        data: impl FnOnce() -> Answer,
    ) -> Result<Answer, CommandError> {
        let answer = match self.format.form() {
            None => data(),
            Some(form) => Answer::bytes(drawn(form).map_err(no_page)?, Exit::Proceed),
        };
        match &self.output {
            Some(path) => Ok(answer.into_file(path)?),
            None if self.is_file() && io::stdout().is_terminal() => {
                let fault = Fault::new("not-for-a-terminal", "a PDF cannot be read on a terminal");
                Err(Refused::one("--format", fault.help("write it into a file: `-o card.pdf`")).into())
            }
            None => Ok(answer),
        }
    }

    const fn is_file(&self) -> bool {
        match self.format {
            #[cfg(feature = "pdf")]
            CardFormat::Pdf => true,
            _ => false,
        }
    }
}

fn no_page(why: NoPage) -> CommandError {
    let (code, help) = match &why {
        NoPage::TooFull => ("page-too-full", "print it as text or as HTML, which may take another page"),
        NoPage::NoGlyph(_) => {
            ("page-without-sign", "print it as HTML, which uses the fonts of this machine, or as text")
        }
        NoPage::Unwritten(_) => return CommandError::Fault(why.to_string()),
    };
    Refused::one("--format", Fault::new(code, why.to_string()).help(help)).into()
}

impl Answer {
    /// What it says goes into a file, and where to is said instead.
    fn into_file(self, path: &Path) -> Result<Self, Refused> {
        std::fs::write(path, self.stdout()).map_err(|error| {
            let fault = Fault::new("file-not-written", error.to_string());
            Refused::one(&path.display().to_string(), fault.help("look at the permissions of the folder"))
        })?;
        Ok(Self::text(format!("{}\n", path.display()), Exit::Proceed))
    }
}
