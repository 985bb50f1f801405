//! Formularies in memory and in folders, with text replaced.

use std::fs;
use std::path::{Path, PathBuf};

use countersign::formulary::{Files, Formulary};

/// Path and text of each file, without an approval.
#[derive(Clone)]
pub(crate) struct House(Vec<(String, String)>);

impl House {
    /// The demonstration inside the program.
    pub(crate) fn demonstration() -> Self {
        let files = Files::demonstration().without_approval();
        Self(files.iter().map(|(path, text)| (path.to_owned(), text.to_owned())).collect())
    }

    /// Three drugs and two areas.
    pub(crate) fn small() -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/lint/house");
        let names = ["formulary", "areas", "equipment", "drugs/noradrenaline", "drugs/adrenaline", "drugs/ketamine"];
        let read = |name: &str| {
            let path = format!("{name}.yaml");
            let text = fs::read_to_string(folder.join(&path)).expect("it is in the crate");
            (path, text)
        };
        Self(names.map(read).to_vec())
    }

    /// The files that every set-up needs, and this drug alone.
    pub(crate) fn only(&self, drug: &str) -> Self {
        let kept = |path: &str| path == drug || !path.starts_with("drugs/");
        Self(self.0.iter().filter(|(path, _)| kept(path)).cloned().collect())
    }

    pub(crate) fn files(&self) -> &[(String, String)] {
        &self.0
    }

    pub(crate) fn text(&self, path: &str) -> &str {
        &self.0.iter().find(|(known, _)| known == path).expect("it has this file").1
    }

    /// The same with another text of a file.
    pub(crate) fn with(mut self, path: &str, text: String) -> Self {
        self.0.iter_mut().find(|(known, _)| known == path).expect("it has this file").1 = text;
        self
    }

    /// The same with text that stands in the file exactly once replaced.
    pub(crate) fn change(self, path: &str, from: &str, to: &str) -> Self {
        let text = self.text(path);
        assert_eq!(text.matches(from).count(), 1, "{from:?} stands once in {path}");
        let text = text.replace(from, to);
        self.with(path, text)
    }

    /// The same with one file more.
    pub(crate) fn and(mut self, path: &str, text: String) -> Self {
        self.0.push((path.to_owned(), text));
        self
    }

    /// The same without a file.
    pub(crate) fn without(mut self, path: &str) -> Self {
        self.0.retain(|(known, _)| known != path);
        self
    }

    /// The formulary, if it has no fault.
    pub(crate) fn read(&self) -> Option<Formulary> {
        let formulary = Formulary::kept("house", self.0.clone()).ok()?;
        formulary.load_all().ok()?;
        Some(formulary)
    }

    #[track_caller]
    pub(crate) fn formulary(&self) -> Formulary {
        self.read().expect("a formulary without a fault")
    }

    /// Writes it into a folder.
    pub(crate) fn into_folder(self, folder: PathBuf) -> PathBuf {
        fs::create_dir_all(folder.join("drugs")).expect("our own folder");
        for (path, text) in self.0 {
            fs::write(folder.join(path), text).expect("our own folder");
        }
        folder
    }
}
