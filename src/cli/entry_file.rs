//! From a file with one entry to a checked entry.

use std::path::Path;

use crate::check::Checked;
use crate::diagnostic::{Fault, Source};
use crate::document::{self, ENTRY_LIMIT, read_file, read_form};
use crate::entry::{Entry, EntryForm};
use crate::formulary::Formulary;
use crate::infusion::Computed;
use crate::quantity::Moment;

use super::Format;
use super::answer::Answer;
use super::input::Refused;

/// Reads an entry from a YAML file, or from a JSON file by its name.
pub(super) fn read(path: &Path) -> Result<Box<Entry>, Refused> {
    let name = path.display().to_string();
    let text = read_file(path, ENTRY_LIMIT).map_err(|fault| Refused::one(&name, fault))?;
    let is_json = path.extension().is_some_and(|extension| extension == "json");
    read_text(name, text, is_json)
}

/// Reads an entry from its text.
pub(super) fn read_text(name: String, text: String, is_json: bool) -> Result<Box<Entry>, Refused> {
    let mut source = Source::new(name, text);
    let mut faults = Vec::new();
    let text = source.text.clone();
    let root = read_form(&text, is_json, &mut faults);
    let Some(root) = root else { return Err(Refused(vec![(source, without_what_was_typed(faults))])) };
    for place in root.places_of("patient") {
        source.withhold(place);
    }
    match EntryForm::at(&root, document::Path::Root).read(&mut faults) {
        Some(entry) if faults.is_empty() => Ok(entry),
        _ => Err(Refused(vec![(source, without_what_was_typed(faults))])),
    }
}

/// Why an entry has no answer.
pub(super) enum CommandError {
    /// The input is refused.
    Refused(Refused),
    /// The program is at fault.
    Fault(String),
    /// The journal cannot be used.
    #[cfg(feature = "journal")]
    Journal(super::journal_arg::JournalCommandError),
}

impl CommandError {
    /// The same refusal, where a source has another name.
    #[cfg(feature = "journal")]
    pub(super) fn renamed(mut self, name: impl Fn(&str) -> Option<String>) -> Self {
        if let Self::Refused(Refused(sources)) = &mut self {
            for (source, faults) in sources {
                let Some(name) = name(&source.name) else { continue };
                faults
                    .iter_mut()
                    .filter(|fault| fault.field == source.name)
                    .for_each(|fault| fault.field.clone_from(&name));
                source.name = name;
            }
        }
        self
    }

    /// As an answer: the refusal, or the fault of the program.
    pub(super) fn said(self, format: Format) -> Answer {
        match self {
            Self::Refused(refused) => Answer::refused(&refused, format),
            Self::Fault(message) => Answer::fault(&message),
            #[cfg(feature = "journal")]
            Self::Journal(trouble) => trouble.answer(format),
        }
    }
}

impl From<Refused> for CommandError {
    fn from(refused: Refused) -> Self {
        Self::Refused(refused)
    }
}

/// Computes and checks an entry.
pub(super) fn check(entry: Box<Entry>, formulary: &Formulary, now: Moment) -> Result<Checked<'_>, CommandError> {
    let computed = Computed::of(entry, formulary, now).map_err(Refused::from)?;
    match computed.sum() {
        Err(no_sum) if no_sum.is_fault_of_the_program() => Err(CommandError::Fault(no_sum.to_string())),
        _ => Ok(Checked::of(computed)),
    }
}

/// Nothing that was typed about a patient is said again: not on a screen, not in a log.
pub(super) fn without_what_was_typed(faults: Vec<Fault>) -> Vec<Fault> {
    faults.into_iter().map(Fault::without_what_was_typed).collect()
}

/// The first fault in one line, for an answer that is one line.
pub(super) fn in_one_line(faults: &[Fault]) -> String {
    let Some(first) = faults.first() else { return String::new() };
    let field = if first.field.is_empty() { String::new() } else { format!("{}: ", first.field) };
    let help = first.help.as_ref().map(|help| format!("; {help}")).unwrap_or_default();
    format!("{field}{}{help}", first.message)
}
