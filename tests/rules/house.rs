//! Another house's formulary: the demonstration with text replaced, in a folder of its own for as long as it is needed.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use countersign::formulary::{Formulary, approval_text};
use countersign::quantity::parse_date;

/// A copy of the demonstration, removed when it is dropped.
pub(crate) struct House(PathBuf);

impl House {
    /// The demonstration as it is.
    pub(crate) fn new() -> Self {
        static COUNT: AtomicUsize = AtomicUsize::new(0);
        let name = format!("house-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        fs::create_dir_all(folder.join("drugs")).expect("the folder for temporary files can be written");
        let house = Self(folder);
        let demonstration = Path::new(env!("CARGO_MANIFEST_DIR")).join("formulary");
        for sub in ["", "drugs"] {
            for file in fs::read_dir(demonstration.join(sub)).expect("the demonstration is there") {
                let path = file.expect("it can be listed").path();
                if path.is_file() {
                    let name = path.file_name().expect("a file has a name");
                    fs::copy(&path, house.0.join(sub).join(name)).expect("the file can be copied");
                }
            }
        }
        house
    }

    pub(crate) fn folder(&self) -> &Path {
        &self.0
    }

    /// Replaces text that stands in the file exactly once.
    pub(crate) fn change(self, file: &str, from: &str, to: &str) -> Self {
        let text = self.read(file);
        assert_eq!(text.matches(from).count(), 1, "{from:?} stands once in {file}");
        self.write(file, &text.replace(from, to))
    }

    /// Replaces text wherever it stands in the file.
    pub(crate) fn everywhere(self, file: &str, from: &str, to: &str) -> Self {
        let text = self.read(file);
        assert!(text.contains(from), "{from:?} stands in {file}");
        self.write(file, &text.replace(from, to))
    }

    pub(crate) fn write(self, file: &str, text: &str) -> Self {
        let path = self.0.join(file);
        fs::create_dir_all(path.parent().expect("it is in a folder")).expect("a folder can be made");
        fs::write(path, text).expect("the file can be written");
        self
    }

    pub(crate) fn remove(self, file: &str) -> Self {
        fs::remove_file(self.0.join(file)).expect("the file is there");
        self
    }

    /// Approved by two people, as it is now.
    pub(crate) fn approve(self) -> Self {
        let people = ["R. Achterberg".to_owned(), "S. Naidoo".to_owned()];
        let on = parse_date("2026-01-16").expect("a day");
        let text = approval_text(&people, on, self.opened().fingerprint());
        self.write("approval.yaml", &text)
    }

    /// Read to the end, so that the folder may go.
    pub(crate) fn opened(&self) -> Formulary {
        Formulary::open(&self.0).unwrap_or_else(|faulty| panic!("{faulty:#?}"))
    }

    /// For the rest of the tests: a set-up borrows its formulary.
    pub(crate) fn leak(self) -> &'static Formulary {
        let formulary = Box::leak(Box::new(self.opened()));
        formulary.load_all().unwrap_or_else(|faulty| panic!("{faulty:#?}"));
        formulary
    }

    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.0.join(file)).expect("the file is there")
    }
}

impl Drop for House {
    fn drop(&mut self) {
        // What is left behind lies in the build's own folder for temporary files.
        let _ = fs::remove_dir_all(&self.0);
    }
}
