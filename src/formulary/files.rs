//! The files of a formulary, from a folder or from the program itself, and their fingerprint.

use std::fmt;
use std::path::Path;

use include_dir::{Dir, include_dir};
use sha2::{Digest, Sha256};

use crate::diagnostic::{Fault, Source};
use crate::document::{DRUG_LIMIT, read_file};

static DEMONSTRATION: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/formulary");

/// The approval, which stands outside the fingerprint.
pub(super) const APPROVAL: &str = "approval.yaml";

/// The files without which nothing else can be read.
const NEEDED: [&str; 3] = ["formulary.yaml", "areas.yaml", "equipment.yaml"];

/// Every YAML file of a formulary, by its path from the folder on, sorted.
#[derive(Debug, Clone)]
pub struct Files {
    /// The folder as a person named it.
    pub(super) folder: String,
    pub(super) files: Vec<(String, String)>,
    /// Files that nothing reads and that look as if they were meant to be.
    pub(super) stray: Vec<String>,
    unreadable: Vec<Unreadable>,
}

/// A file that could not be read: while there is one that was not taken out, nothing can be used.
#[derive(Debug, Clone)]
struct Unreadable {
    path: String,
    why: Fault,
    taken_out: bool,
}

/// The SHA-256 of a manifest: one line `sha256  path` for each file, sorted by path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fingerprint {
    /// In hexadecimal.
    whole: String,
    /// Path and SHA-256 of each file.
    manifest: Vec<(String, String)>,
}

impl Files {
    /// The demonstration formulary inside the program.
    #[must_use]
    pub fn demonstration() -> Self {
        let mut files = Vec::new();
        collect_embedded(&DEMONSTRATION, &mut files);
        files.sort();
        Self { files, ..Self::named("demonstration") }
    }

    /// Texts that stand in no folder, each with its path from the formulary folder on.
    #[must_use]
    pub fn of_texts(folder: &str, mut files: Vec<(String, String)>) -> Self {
        files.sort();
        files.dedup_by(|later, first| later.0 == first.0);
        Self { files, ..Self::named(folder) }
    }

    /// The files of a folder.
    ///
    /// # Errors
    /// Every file that cannot be read, with why.
    pub fn of_folder(folder: &Path) -> Result<Self, Vec<(Source, Vec<Fault>)>> {
        Self::of_folder_in_part(folder)?.whole()
    }

    /// The files of a folder that can be read, and why the others cannot: to be looked at, not used.
    ///
    /// # Errors
    /// A folder that cannot be read, with why.
    pub fn of_folder_in_part(folder: &Path) -> Result<Self, Vec<(Source, Vec<Fault>)>> {
        let mut read = Self::named(&folder.display().to_string());
        let mut found = Vec::new();
        for sub in ["", "drugs"] {
            let place = folder.join(sub);
            if let Err(problem) = list(&place, sub, &mut found, &mut read.stray) {
                let message = format!("the folder `{}` cannot be read: {problem}", place.display());
                let help = "name the folder that holds formulary.yaml, areas.yaml, equipment.yaml and drugs/";
                let fault = Fault::new("formulary-folder", message).help(help);
                return Err(vec![(Source::new(read.folder, ""), vec![fault])]);
            }
        }
        found.sort();
        read.stray.sort();
        for path in found {
            match read_file(&folder.join(&path), DRUG_LIMIT) {
                Ok(text) => read.files.push((path, text)),
                Err(why) => read.unreadable.push(Unreadable { path, why, taken_out: false }),
            }
        }
        Ok(read)
    }

    /// The same, where every file could be read.
    ///
    /// # Errors
    /// Every file that could not, with why.
    pub fn whole(self) -> Result<Self, Vec<(Source, Vec<Fault>)>> {
        let unreadable = self.unreadable();
        if unreadable.is_empty() { Ok(self) } else { Err(unreadable) }
    }

    /// Every file that could not be read and was not taken out, with why.
    pub(super) fn unreadable(&self) -> Vec<(Source, Vec<Fault>)> {
        self.unreadable_where(|file| !file.taken_out)
    }

    /// Takes out the files that could not be read, but for those without which nothing else can be read; with why.
    pub(crate) fn take_out_unreadable(&mut self) -> Vec<(Source, Vec<Fault>)> {
        for file in &mut self.unreadable {
            file.taken_out = !NEEDED.contains(&file.path.as_str());
        }
        self.unreadable_where(|file| file.taken_out)
    }

    fn unreadable_where(&self, holds: impl Fn(&Unreadable) -> bool) -> Vec<(Source, Vec<Fault>)> {
        let files = self.unreadable.iter().filter(|file| holds(file));
        files.map(|file| (self.source(&file.path), vec![file.why.clone()])).collect()
    }

    /// Whether there is such a file, even one that could not be read.
    pub(crate) fn has(&self, path: &str) -> bool {
        self.text(path).is_some() || self.unreadable.iter().any(|file| file.path == path)
    }

    /// The same files without their approval.
    #[must_use]
    pub fn without_approval(mut self) -> Self {
        self.files.retain(|(path, _)| path != APPROVAL);
        self
    }

    /// The same files with another text of one of them, or with one more.
    pub(super) fn with_text(mut self, path: &str, text: String) -> Self {
        match self.files.binary_search_by(|(known, _)| known.as_str().cmp(path)) {
            Ok(at) => self.files[at].1 = text,
            Err(at) => self.files.insert(at, (path.to_owned(), text)),
        }
        self
    }

    fn named(folder: &str) -> Self {
        Self { folder: folder.to_owned(), files: Vec::new(), stray: Vec::new(), unreadable: Vec::new() }
    }

    /// Path and text of each file, in the order of the paths.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.files.iter().map(|(path, text)| (path.as_str(), text.as_str()))
    }

    /// The text of a file.
    #[must_use]
    pub fn text(&self, path: &str) -> Option<&str> {
        let at = self.files.binary_search_by(|(known, _)| known.as_str().cmp(path)).ok()?;
        self.files.get(at).map(|(_, text)| text.as_str())
    }

    /// A file, with the name by which a person knows it.
    #[must_use]
    pub fn source(&self, path: &str) -> Source {
        Source::new(format!("{}/{path}", self.folder), self.text(path).unwrap_or_default())
    }

    pub(super) fn fingerprint(&self) -> Fingerprint {
        let counted = self.files.iter().filter(|(path, _)| path != APPROVAL);
        let manifest: Vec<(String, String)> =
            counted.map(|(path, text)| (path.clone(), hex(text.as_bytes()))).collect();
        Fingerprint::of(manifest)
    }
}

impl Fingerprint {
    /// Of the SHA-256 of each file, sorted by path.
    pub(super) fn of(manifest: Vec<(String, String)>) -> Self {
        let lines: String = manifest.iter().map(|(path, sum)| format!("{sum}  {path}\n")).collect();
        Self { whole: hex(lines.as_bytes()), manifest }
    }

    /// Path and SHA-256 of each file, in hexadecimal.
    #[must_use]
    pub fn manifest(&self) -> &[(String, String)] {
        &self.manifest
    }
}

/// The whole of it, in hexadecimal.
impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.whole)
    }
}

/// The SHA-256 of some bytes, in hexadecimal.
pub(super) fn hex(bytes: &[u8]) -> String {
    use fmt::Write as _;
    Sha256::digest(bytes).iter().fold(String::with_capacity(64), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

fn is_yaml(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|extension| extension == "yaml")
}

fn collect_embedded(dir: &Dir<'_>, files: &mut Vec<(String, String)>) {
    for file in dir.files() {
        let path = file.path().display().to_string();
        if let Some(text) = file.contents_utf8().filter(|_| is_yaml(&path)) {
            files.push((path, text.to_owned()));
        }
    }
    dir.dirs().for_each(|dir| collect_embedded(dir, files));
}

/// Adds what is read to `found`, and what somebody might believe to be read to `stray`.
fn list(place: &Path, sub: &str, found: &mut Vec<String>, stray: &mut Vec<String>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(place)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with('.') {
            continue;
        }
        let is_folder = entry.path().is_dir();
        let path = if sub.is_empty() { name.clone() } else { format!("{sub}/{name}") };
        if is_yaml(&name) && !is_folder {
            found.push(path);
        } else if !sub.is_empty() || Path::new(&name).extension().is_some_and(|ending| ending == "yml") {
            stray.push(path);
        }
    }
    Ok(())
}
