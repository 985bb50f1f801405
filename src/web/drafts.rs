//! What somebody has typed and not sealed: kept through a reload, a lost connection and a restart. Sealed under the
//! person's own unlocked key, opened for that person only, gone once the entry is sealed or after an hour;
//! what is typed for an approval, after two weeks.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::case::CaseCode;
use crate::journal::{DRAFTS, Hash, Signer, drafts_of};

use super::sent::TypedFields;

/// A draft shows its length only in steps of this.
const PAGE: usize = 4096;

const KEPT: Duration = Duration::from_hours(1);
/// The values of a formulary are no patient's, and nobody types a thousand of them within an hour.
const KEPT_LONG: Duration = Duration::from_hours(14 * 24);
/// What a task is called whose drafts are kept long.
pub(super) const LONG: &str = "approval ";

const LONG_ENDING: &str = "typed";

/// The folder of drafts.
#[derive(Debug)]
pub(super) struct Drafts(PathBuf);

impl Drafts {
    /// Beside the journal's database; a backup of the journal leaves them out.
    pub(super) fn beside(journal: &Path) -> Self {
        Self(journal.join(DRAFTS))
    }

    /// Keeps what was typed. A draft that cannot be kept hinders nobody who enters: the form is still in the browser.
    pub(super) fn keep(&self, of: &Signer, task: &str, typed: &TypedFields) -> std::io::Result<()> {
        self.sweep();
        if !self.0.is_dir() {
            let mut builder = fs::DirBuilder::new();
            #[cfg(unix)]
            std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
            builder.create(&self.0)?;
        }
        let mut plain = serde_json::to_vec(typed)?;
        // Blanks after JSON say nothing; the length of the file tells only how many pages there are.
        plain.resize(plain.len().next_multiple_of(PAGE), b' ');
        let sealed = of.seal_note(&["draft", of.id(), task], &plain);
        let path = self.path(of, task);
        let new = path.with_extension("new");
        let mut options = fs::OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        {
            use std::os::unix::fs::OpenOptionsExt as _;
            options.mode(0o600);
        }
        let mut file = options.open(&new)?;
        file.write_all(&sealed)?;
        file.sync_all()?;
        fs::rename(new, path)
    }

    /// What this person typed for this task within the hour.
    pub(super) fn find(&self, of: &Signer, task: &str) -> Option<TypedFields> {
        self.sweep();
        let sealed = fs::read(self.path(of, task)).ok()?;
        serde_json::from_slice(&of.open_note(&["draft", of.id(), task], &sealed)?).ok()
    }

    /// It was sealed, or is not wanted any more.
    pub(super) fn drop_one(&self, of: &Signer, task: &str) {
        let _ = fs::remove_file(self.path(of, task));
    }

    /// The name of a file tells neither whose it is nor for what.
    fn path(&self, of: &Signer, task: &str) -> PathBuf {
        let name = Hash::of(format!("{}\0{task}", of.id()).as_bytes()).to_string();
        let case = task.split_once('/').and_then(|(case, _)| CaseCode::parse(case).ok());
        let name = case.map_or_else(|| name.clone(), |case| format!("{}{name}", drafts_of(&case.scope())));
        self.0.join(name).with_extension(if task.starts_with(LONG) { LONG_ENDING } else { "sealed" })
    }

    /// Removes drafts that are too old.
    pub(super) fn sweep(&self) {
        let Ok(files) = fs::read_dir(&self.0) else { return };
        for file in files.flatten() {
            let age = file.metadata().and_then(|known| known.modified()).ok().and_then(|at| at.elapsed().ok());
            let long = file.path().extension().is_some_and(|ending| ending == LONG_ENDING);
            if age.is_some_and(|age| age > if long { KEPT_LONG } else { KEPT }) {
                let _ = fs::remove_file(file.path());
            }
        }
    }
}
