//! A paragraph: words with their widths, and where its lines are broken. A number is not broken from its unit, nor a date
//! at its hyphens; a word that is longer than the line is cut.

use super::font;
use crate::card::text::{GLUE, number_with_unit};

/// A paragraph whose words have been measured, in heights of the font.
#[derive(Debug, Clone, Default)]
pub(super) struct Words(Vec<Word>);

#[derive(Debug, Clone)]
struct Word {
    text: String,
    width: f64,
    bold: bool,
}

/// A piece of a line in one weight, with its distance from the line's beginning.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Run {
    /// From the beginning of the line, in heights of the font.
    pub(super) at: f64,
    /// Whether it is bold.
    pub(super) bold: bool,
    /// What.
    pub(super) text: String,
}

impl Words {
    /// One weight throughout.
    pub(super) fn of(text: &str, bold: bool) -> Self {
        Self::default().and(text, bold)
    }

    /// With more words behind.
    pub(super) fn and(mut self, text: &str, bold: bool) -> Self {
        for word in number_with_unit(text).split(' ').filter(|word| !word.is_empty()) {
            let text = word.replace(GLUE, " ");
            self.0.push(Word { width: font::width(&text, bold), text, bold });
        }
        self
    }

    /// How many lines it takes in a width, in heights of the font.
    pub(super) fn count(&self, width: f64) -> usize {
        let mut lines = 0;
        self.each(width, |_, _, is_first| lines += usize::from(is_first));
        lines
    }

    /// Its lines in a width.
    pub(super) fn lines(&self, width: f64) -> Vec<Vec<Run>> {
        let mut lines: Vec<Vec<Run>> = Vec::new();
        self.each(width, |text, (at, bold), is_first| {
            if is_first {
                lines.push(Vec::new());
            }
            let Some(line) = lines.last_mut() else { return };
            match line.last_mut() {
                Some(run) if run.bold == bold => {
                    run.text.push(' ');
                    run.text.push_str(text);
                }
                _ => line.push(Run { at, bold, text: text.to_owned() }),
            }
        });
        lines
    }

    /// Each word with its place in its line, and whether it begins one.
    fn each(&self, width: f64, mut with: impl FnMut(&str, (f64, bool), bool)) {
        let mut end = 0.0;
        let mut begun = false;
        for word in &self.0 {
            let space = font::width(" ", word.bold);
            if begun && end + space + word.width <= width {
                with(&word.text, (end + space, word.bold), false);
                end += space + word.width;
            } else if word.width <= width {
                with(&word.text, (0.0, word.bold), true);
                end = word.width;
            } else {
                for part in cut(&word.text, word.bold, width) {
                    with(part, (0.0, word.bold), true);
                    end = font::width(part, word.bold);
                }
            }
            begun = true;
        }
    }
}

/// A word in parts that fit.
fn cut(text: &str, bold: bool, width: f64) -> Vec<&str> {
    let mut parts = Vec::new();
    let (mut from, mut taken) = (0, 0.0);
    for (at, c) in text.char_indices() {
        let more = font::width(&text[at..at + c.len_utf8()], bold);
        if taken + more > width && at > from {
            parts.push(&text[from..at]);
            (from, taken) = (at, 0.0);
        }
        taken += more;
    }
    parts.push(&text[from..]);
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn broken(text: &str, width: f64) -> Vec<String> {
        let words = Words::of(text, false);
        let lines = words.lines(width);
        assert_eq!(lines.len(), words.count(width));
        lines.into_iter().map(|line| line.into_iter().map(|run| run.text).collect::<Vec<_>>().join("|")).collect()
    }

    #[test]
    fn a_number_stays_with_its_unit_and_a_long_word_is_cut() {
        assert_eq!(broken("give 5 mg now", 100.0), ["give 5 mg now"]);
        assert_eq!(broken("give 5 mg now", 4.2), ["give", "5 mg", "now"]);
        assert_eq!(broken("aaaaaaaa", 2.0).concat(), "aaaaaaaa");
        assert!(broken("aaaaaaaa", 2.0).len() > 1);
        assert_eq!(broken("", 2.0), [""; 0]);
        // One letter a line, where there is no room for two.
        assert_eq!(broken("ab", 0.1), ["a", "b"]);
    }

    #[test]
    fn a_change_of_weight_is_another_run_of_the_same_line() {
        let words = Words::of("note", true).and("the rest", false);
        let line = words.lines(100.0).remove(0);
        assert_eq!((line[0].text.as_str(), line[1].text.as_str()), ("note", "the rest"));
        assert!(line[1].at > font::width("note", true));
    }
}
