//! Mends the spelling of units and numbers in the files of a formulary: the files in, the mended ones out, each change
//! with its place. Nothing else is touched, and what would be read otherwise afterwards is refused.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use crate::diagnostic::Place;
use crate::document::{DRUG_LIMIT, Member, Node, Value, read_yaml};
use crate::formulary::{Files, Formulary};

use super::spelling::{Written, each_quantity, is_same_value};

/// One text that was mended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TextFix {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// The field, as keys.
    pub field: String,
    /// As it stood.
    pub from: String,
    /// As it stands now.
    pub to: String,
}

/// A file with its spelling mended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mended {
    /// The file, from the formulary folder on.
    pub path: String,
    /// The text that was read.
    before: String,
    /// The text to be written.
    pub text: String,
    /// What was changed, in the order of the lines.
    pub changes: Vec<TextFix>,
}

/// Why nothing was written.
#[derive(Debug, thiserror::Error)]
#[expect(missing_docs, reason = "each variant's message says what it is")]
pub enum FixError {
    #[error("{path} line {line}: `{from}` and `{to}` are not the same value: nothing was written")]
    ChangesValue { path: String, line: usize, from: String, to: String },
    #[error("{path} would be read otherwise than before: nothing was written")]
    ReadsOtherwise { path: String },
    #[error("{path} was changed by somebody else in the meantime: nothing was written to it")]
    Changed { path: String },
    #[error("{path} could not be written: {error}")]
    NotWritten { path: String, error: io::Error },
}

impl FixError {
    /// The stable code: kebab-case.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::ChangesValue { .. } => "fix-changes-value",
            Self::ReadsOtherwise { .. } => "fix-reads-otherwise",
            Self::Changed { .. } => "fix-file-changed",
            Self::NotWritten { .. } => "file-not-written",
        }
    }
}

/// Mends every file that needs it.
///
/// # Errors
/// [`FixError`] when a mended file would say anything else than before.
pub fn mend(files: &Files) -> Result<Vec<Mended>, FixError> {
    let mut mended = Vec::new();
    for (path, text) in files.iter() {
        mended.extend(mend_one(path, text)?);
    }
    if mended.is_empty() {
        return Ok(mended);
    }
    reads_the_same(files, &mended)?;
    Ok(mended)
}

fn mend_one(path: &str, text: &str) -> Result<Option<Mended>, FixError> {
    let mut ignored = Vec::new();
    let Some(root) = read_yaml(text, DRUG_LIMIT, &mut ignored) else { return Ok(None) };
    let mut changes = Vec::new();
    let mut ranges = Vec::new();
    each_quantity(&root, &mut |written: &Written<'_>| {
        let Some(found) = written.respelled() else { return };
        let Some(range) = written.range() else { return };
        let Place { line, column } = Place::of(text, range.start);
        changes.push(TextFix {
            line,
            column,
            field: written.path.to_string(),
            from: written.text.to_owned(),
            to: found.text,
        });
        ranges.push(range);
    });
    if changes.is_empty() {
        return Ok(None);
    }
    let mut mended = text.to_owned();
    for (range, change) in ranges.into_iter().zip(&changes).rev() {
        checked(path, change)?;
        mended.replace_range(range, &change.to);
    }
    let mut ignored = Vec::new();
    let after = read_yaml(&mended, DRUG_LIMIT, &mut ignored);
    if !after.is_some_and(|after| is_same_tree(&root, &after)) {
        return Err(FixError::ReadsOtherwise { path: path.to_owned() });
    }
    Ok(Some(Mended { path: path.to_owned(), before: text.to_owned(), text: mended, changes }))
}

fn checked(path: &str, change: &TextFix) -> Result<(), FixError> {
    if is_same_value(&change.from, &change.to) {
        return Ok(());
    }
    let (from, to) = (change.from.clone(), change.to.clone());
    Err(FixError::ChangesValue { path: path.to_owned(), line: change.line, from, to })
}

/// The same lists and maps, and in every place the same text or the same value.
fn is_same_tree(one: &Node<'_>, other: &Node<'_>) -> bool {
    match (&one.value, &other.value) {
        (Value::Text(one), Value::Text(other)) => one == other || is_same_value(one, other),
        (Value::List(one), Value::List(other)) => {
            one.len() == other.len() && one.iter().zip(other).all(|(one, other)| is_same_tree(one, other))
        }
        (Value::Map(one), Value::Map(other)) => {
            let same =
                |(one, other): (&Member<'_>, &Member<'_>)| one.key == other.key && is_same_tree(&one.node, &other.node);
            one.len() == other.len() && one.iter().zip(other).all(same)
        }
        (one, other) => one == other,
    }
}

/// What could be used before is read to the same values after. What could not may show faults that stood behind the
/// mended ones.
fn reads_the_same(files: &Files, mended: &[Mended]) -> Result<(), FixError> {
    let with = |new: bool| {
        let texts = files.iter().map(|(path, text)| {
            let changed = mended.iter().find(|one| new && one.path == path);
            (path.to_owned(), changed.map_or(text, |one| one.text.as_str()).to_owned())
        });
        Files::of_texts("", texts.collect())
    };
    let (before, after) = (values(with(false)), values(with(true)));
    for one in mended {
        let find = |values: &Values| values.iter().find(|(path, _)| *path == one.path).map(|(_, value)| value.clone());
        let (was, is) = (find(&before), find(&after));
        if was.is_some() && was != is {
            return Err(FixError::ReadsOtherwise { path: one.path.clone() });
        }
    }
    Ok(())
}

/// Of each file that can be used, everything that was read from it.
type Values = Vec<(String, String)>;

fn values(files: Files) -> Values {
    let Ok(formulary) = Formulary::of_files(files) else { return Values::new() };
    let mut values = vec![
        ("formulary.yaml".to_owned(), format!("{:?}", formulary.policy())),
        ("areas.yaml".to_owned(), format!("{:?}", formulary.areas())),
        ("equipment.yaml".to_owned(), format!("{:?}", formulary.equipment())),
    ];
    formulary.each_drug_file(|file| {
        if let Ok(drug) = file.read {
            values.push((file.path.to_owned(), format!("{drug:?}")));
        }
    });
    values
}

/// Writes the mended files into their folder, each whole or not at all.
///
/// # Errors
/// [`FixError`]; the files before it in the list are written.
pub fn write(folder: &Path, mended: &[Mended]) -> Result<(), FixError> {
    for one in mended {
        let not_written = |error| FixError::NotWritten { path: one.path.clone(), error };
        // Where the name is a link, the file it leads to is written.
        let path = fs::canonicalize(folder.join(&one.path)).map_err(not_written)?;
        if fs::read(&path).map_err(not_written)? != one.before.as_bytes() {
            return Err(FixError::Changed { path: one.path.clone() });
        }
        replace(&path, one.text.as_bytes()).map_err(not_written)?;
    }
    Ok(())
}

/// Writes beside the file first: a reader finds the old text or the new one, never a part.
fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let beside = name_beside(path);
    let mut file: File = OpenOptions::new().write(true).create_new(true).open(&beside)?;
    let written = file
        .write_all(bytes)
        .and_then(|()| file.set_permissions(fs::metadata(path)?.permissions()))
        .and_then(|()| file.sync_all())
        .and_then(|()| fs::rename(&beside, path));
    if written.is_err() {
        let _ = fs::remove_file(&beside);
    }
    written
}

/// A hidden name in the same folder, which no reader of a formulary looks at.
fn name_beside(path: &Path) -> PathBuf {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}.{}.new", std::process::id()))
}

#[cfg(test)]
mod tests {
    use super::{FixError, Mended, TextFix, checked, reads_the_same, replace};
    use crate::formulary::Files;

    fn change(from: &str, to: &str) -> TextFix {
        TextFix { line: 3, column: 1, field: "a".to_owned(), from: from.to_owned(), to: to.to_owned() }
    }

    // hazard: H-LIMITS
    #[test]
    fn a_fix_that_would_change_a_value_is_refused() {
        assert!(checked("a.yaml", &change("5.0 mg", "5 mg")).is_ok());
        for (from, to) in [("5.0 mg", "50 mg"), (".5 mg", "5 mg"), ("5 ug", "5 mg"), ("5 mg/h", "5 mg/min")] {
            let refused = checked("a.yaml", &change(from, to));
            assert!(matches!(refused, Err(FixError::ChangesValue { line: 3, .. })), "{from} {to}");
        }
    }

    // The second guard: whatever the change looks like, the file must read as before.
    // hazard: H-LIMITS
    #[test]
    fn a_file_that_would_read_otherwise_is_refused() {
        let files = Files::demonstration();
        let path = "drugs/insulin.yaml";
        let before = files.text(path).expect("it is in the demonstration").to_owned();
        let mend = |from: &str, to: &str| {
            assert!(before.contains(from));
            let text = before.replacen(from, to, 1);
            [Mended { path: path.to_owned(), before: before.clone(), text, changes: Vec::new() }]
        };
        assert!(reads_the_same(&files, &mend("volume: 50 mL", "volume: 50.0 ml")).is_ok());
        for (from, to) in [("volume: 50 mL", "volume: 500 mL"), ("to: 20 units/h", "to: 2 units/h"), ("life", "live")] {
            let refused = reads_the_same(&files, &mend(from, to));
            assert!(matches!(refused, Err(FixError::ReadsOtherwise { .. })), "{from}");
        }
    }

    #[test]
    fn a_file_is_replaced_whole_or_not_at_all() {
        let folder = std::env::temp_dir().join(format!("countersign-replace-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("the folder for temporary files can be written");
        let path = folder.join("a.yaml");
        std::fs::write(&path, "old").expect("it can be written");
        replace(&path, b"new").expect("it can be replaced");
        assert_eq!(std::fs::read_to_string(&path).expect("it is there"), "new");
        // Somebody's file stands where the new text would be put first: nothing is overwritten.
        std::fs::write(super::name_beside(&path), "theirs").expect("it can be written");
        assert!(replace(&path, b"newer").is_err());
        assert_eq!(std::fs::read_to_string(&path).expect("it is there"), "new");
        std::fs::remove_dir_all(&folder).expect("it was made above");
    }
}
