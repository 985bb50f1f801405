//! Questions to a person: on a terminal, where a refused answer is asked again, or line by line from standard input
//! for scripts and tests. A PIN is never echoed, and never stands on a command line.

use std::io::{self, BufRead as _, IsTerminal as _, Write as _};

use inquire::{InquireError, Password, PasswordDisplayMode, Text};

use crate::diagnostic::Fault;

use super::input::Refused;

/// One question and how its answer is judged.
pub(super) struct Prompt<'q> {
    /// In words.
    pub(super) says: &'q str,
    /// A line of help beneath it.
    pub(super) help: String,
    /// Words that may be answered; they stand below the line while it is typed, and are never chosen for the person.
    pub(super) offered: Vec<String>,
    /// What is wrong with an answer, if anything.
    pub(super) judge: &'q dyn Fn(&str) -> Option<Fault>,
}

/// Somebody who answers.
pub(super) trait Ask {
    /// A PIN or a passphrase.
    fn secret(&mut self, says: &str) -> Result<String, Refused>;
    /// One line.
    fn line(&mut self, asked: &Prompt<'_>) -> Result<String, Refused>;
    /// Says something between two questions.
    fn say(&mut self, text: &str);
}

/// Asks at the terminal; where standard input is none, takes a line of it for each answer.
pub(super) fn terminal_or_lines() -> Box<dyn Ask> {
    if io::stdin().is_terminal() { Box::new(AtTerminal) } else { Box::new(FromLines) }
}

struct AtTerminal;

struct FromLines;

impl Ask for AtTerminal {
    fn secret(&mut self, says: &str) -> Result<String, Refused> {
        let prompt = Password::new(says).without_confirmation().with_display_mode(PasswordDisplayMode::Hidden);
        prompt.prompt().map_err(|error| left(&error))
    }

    fn line(&mut self, asked: &Prompt<'_>) -> Result<String, Refused> {
        loop {
            // A refused answer stays on the screen above, and never in the field: what is typed next would be added to it.
            let mut prompt = Text::new(asked.says);
            if !asked.help.is_empty() {
                prompt = prompt.with_help_message(&asked.help);
            }
            if !asked.offered.is_empty() {
                let offered = asked.offered.clone();
                prompt = prompt.with_autocomplete(move |so_far: &str| {
                    let folded = so_far.to_lowercase();
                    Ok(offered.iter().filter(|word| word.to_lowercase().starts_with(&folded)).cloned().collect())
                });
            }
            let typed = prompt.prompt().map_err(|error| left(&error))?;
            match (asked.judge)(typed.trim()) {
                None => return Ok(typed.trim().to_owned()),
                Some(fault) => self.say(&in_words(&fault)),
            }
        }
    }

    fn say(&mut self, text: &str) {
        let _ = writeln!(io::stderr(), "{text}");
    }
}

impl Ask for FromLines {
    fn secret(&mut self, says: &str) -> Result<String, Refused> {
        next_line(says)
    }

    fn line(&mut self, asked: &Prompt<'_>) -> Result<String, Refused> {
        let typed = next_line(asked.says)?;
        let typed = typed.trim();
        match (asked.judge)(typed) {
            None => Ok(typed.to_owned()),
            // The lines after it answer other questions: nothing is taken from them.
            Some(fault) => Err(Refused::one(asked.says, fault)),
        }
    }

    fn say(&mut self, text: &str) {
        let _ = writeln!(io::stderr(), "{text}");
    }
}

fn next_line(says: &str) -> Result<String, Refused> {
    let mut line = String::new();
    match io::stdin().lock().read_line(&mut line) {
        Ok(0) => {
            let fault = Fault::new("answer-missing", "no answer came")
                .help("run this at a terminal, or give one line for each question on standard input");
            Err(Refused::one(says, fault))
        }
        Ok(_) => Ok(line.trim_end_matches(['\r', '\n']).to_owned()),
        Err(error) => Err(Refused::one(says, Fault::new("answer-missing", format!("no answer came: {error}")))),
    }
}

fn left(error: &InquireError) -> Refused {
    let fault = match error {
        InquireError::OperationCanceled | InquireError::OperationInterrupted => {
            Fault::new("left", "left before the end: nothing was written").help("begin again when there is time for it")
        }
        other => Fault::new("answer-missing", format!("no answer came: {other}")),
    };
    Refused::one("the questions", fault)
}

fn in_words(fault: &Fault) -> String {
    let help = fault.help.as_deref().map(|help| format!("\n  {help}")).unwrap_or_default();
    format!("! {}{help}", fault.message)
}
