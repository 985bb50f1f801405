//! A small house about which nothing is remarked, with text replaced; in memory, or in a folder of its own.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};

use countersign::formulary::Files;
use countersign::pharmacy::lint::{Report, lint};
use countersign::quantity::Moment;

/// The moment of every lint.
pub(crate) const AT: &str = "2026-03-14T07:50:00+00:00";

/// Path and text of each file.
pub(crate) struct Small(Vec<(String, String)>);

/// What the program said, and how it ended. The name of the folder is `HOUSE`.
#[derive(Debug)]
pub(crate) struct Said {
    pub(crate) stdout: String,
    pub(crate) stderr: String,
    pub(crate) code: Option<i32>,
}

/// A small house in a folder, removed when it is dropped.
pub(crate) struct Folder(PathBuf);

impl Small {
    pub(crate) fn new() -> Self {
        let file = |path: &str, text: &str| (path.to_owned(), text.to_owned());
        Self(vec![
            file("formulary.yaml", include_str!("house/formulary.yaml")),
            file("areas.yaml", include_str!("house/areas.yaml")),
            file("equipment.yaml", include_str!("house/equipment.yaml")),
            file("drugs/noradrenaline.yaml", include_str!("house/drugs/noradrenaline.yaml")),
            file("drugs/adrenaline.yaml", include_str!("house/drugs/adrenaline.yaml")),
            file("drugs/ketamine.yaml", include_str!("house/drugs/ketamine.yaml")),
        ])
    }

    /// Replaces text that stands in the file exactly once.
    pub(crate) fn change(mut self, path: &str, from: &str, to: &str) -> Self {
        let text = self.text(path);
        assert_eq!(text.matches(from).count(), 1, "{from:?} stands once in {path}");
        *text = text.replace(from, to);
        self
    }

    pub(crate) fn write(mut self, path: &str, text: &str) -> Self {
        match self.0.iter().position(|(known, _)| known == path) {
            Some(at) => text.clone_into(&mut self.0[at].1),
            None => self.0.push((path.to_owned(), text.to_owned())),
        }
        self
    }

    pub(crate) fn files(&self) -> Files {
        Files::of_texts("HOUSE", self.0.clone())
    }

    pub(crate) fn lint(&self) -> Report {
        lint(self.files(), Moment::parse(AT).expect("a moment"))
    }

    pub(crate) fn folder(&self) -> Folder {
        static COUNT: AtomicUsize = AtomicUsize::new(0);
        let name = format!("small-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        fs::create_dir_all(folder.join("drugs")).expect("the folder for temporary files can be written");
        for (path, text) in &self.0 {
            fs::write(folder.join(path), text).expect("the file can be written");
        }
        Folder(folder)
    }

    fn text(&mut self, path: &str) -> &mut String {
        let file = self.0.iter_mut().find(|(known, _)| known == path);
        &mut file.unwrap_or_else(|| panic!("there is no {path}")).1
    }
}

impl Folder {
    /// Lints it with the real program.
    pub(crate) fn lint(&self, words: &[&str]) -> Said {
        let folder = self.0.display().to_string();
        let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
        command.args(["formulary", "lint", &folder, "--at", AT]).args(words).env_remove("COUNTERSIGN_FORMULARY");
        let output = command.output().expect("the program can be run");
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text").replace(&folder, "HOUSE");
        Said { stdout: text(output.stdout), stderr: text(output.stderr), code: output.status.code() }
    }

    pub(crate) fn read(&self, path: &str) -> String {
        fs::read_to_string(self.0.join(path)).expect("the file is there")
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is left behind lies in the build's own folder for temporary files.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Code and file of every remark.
pub(crate) fn remarks(report: &Report) -> Vec<(&'static str, String)> {
    let of = |file: &countersign::pharmacy::lint::File| {
        file.remarks.iter().map(|remark| (remark.code.id, remark.file.clone())).collect::<Vec<_>>()
    };
    report.files.iter().flat_map(of).collect()
}
