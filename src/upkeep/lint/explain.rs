//! What a code means, why it matters and what to do about it: a code in, a page of text out.

mod errors;

use std::fmt::Write as _;

use super::rule::Code;

/// What there is to say about a code of the lint, or about one of the errors of the readers.
#[must_use]
pub fn explained(id: &str) -> Option<&'static Code> {
    every().find(|code| code.id == id)
}

/// The codes that were perhaps meant, nearest first.
#[must_use]
pub fn nearest(id: &str) -> Vec<&'static str> {
    let mut near: Vec<(usize, &str)> = every().map(|code| (strsim::osa_distance(code.id, id), code.id)).collect();
    near.sort_unstable();
    near.into_iter().take(3).map(|(_, id)| id).collect()
}

/// Every kind of remark, and every error.
fn every() -> impl Iterator<Item = &'static Code> {
    super::codes().chain(errors::every())
}

impl Code {
    /// As it is read at a terminal.
    #[must_use]
    pub fn page(&self) -> String {
        let mut page = format!("{} ({})\n", self.id, self.level.word());
        for (title, text) in
            [("What it means", self.means), ("Why it matters", self.matters), ("What to do", self.to_do)]
        {
            let _ = write!(page, "\n{title}\n");
            for line in textwrap::wrap(&sentence(text), WIDTH) {
                let _ = writeln!(page, "  {line}");
            }
        }
        let _ = write!(page, "\nExample\n");
        for line in self.example.lines() {
            let _ = writeln!(page, "  {line}");
        }
        page
    }
}

const WIDTH: usize = 96;

/// With a capital and a full stop, as what is no sentence yet is told.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{stop}", letters.as_str())
}
