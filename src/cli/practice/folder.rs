//! The folder of a practice: nobody else may enter it, and nothing of it stays.

use std::fs::{self, DirBuilder, File, Metadata, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

/// How the folder's name begins; sixteen random digits follow.
const NAME: &str = "countersign-practice-";
/// A file in it, locked as long as its process runs.
const MARKER: &str = "countersign-practice.txt";
const SAYS: &str =
    "A practice of countersign: invented people only. Removed when it ends, or when the next practice begins.\n";

/// A folder that is removed with everything in it.
#[derive(Debug)]
pub(super) struct PracticeFolder {
    path: PathBuf,
    /// Open and locked; the machine unlocks it however the process ends.
    marker: Option<File>,
}

impl PracticeFolder {
    /// A new one in a folder for temporary files, where what practices left behind whose process is gone is removed.
    pub(super) fn create(within: &Path) -> io::Result<Self> {
        let path = within.join(format!("{NAME}{}", random()?));
        let mut builder = DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder.create(&path)?;
        let mut folder = Self { path, marker: None };
        // The name comes last, so that no other practice ever finds a marker that is not locked yet.
        let unnamed = folder.path.join("new");
        let mut marker = OpenOptions::new().write(true).create_new(true).open(&unnamed)?;
        marker.write_all(SAYS.as_bytes())?;
        marker.lock()?;
        fs::rename(unnamed, folder.path.join(MARKER))?;
        folder.marker = Some(marker);
        folder.sweep(within);
        Ok(folder)
    }

    /// Where the journal goes.
    pub(super) fn journal(&self) -> PathBuf {
        self.path.join("journal")
    }

    /// Removes it.
    pub(super) fn remove(mut self) -> io::Result<()> {
        self.remove_all()
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    fn remove_all(&mut self) -> io::Result<()> {
        self.marker = None;
        // A thread that looks for news may still have a file of the journal open.
        for _ in 0..10 {
            match fs::remove_dir_all(&self.path) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => thread::sleep(Duration::from_millis(100)),
                _ => return Ok(()),
            }
        }
        match fs::remove_dir_all(&self.path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        }
    }

    /// Removes other practice folders of the same user whose process is gone. What cannot be looked at stays.
    fn sweep(&self, within: &Path) {
        let (Ok(own), Ok(entries)) = (fs::symlink_metadata(&self.path), fs::read_dir(within)) else { return };
        for path in entries.filter_map(Result::ok).map(|entry| entry.path()).filter(|path| *path != self.path) {
            if let Some(lock) = left_behind(&path, &own) {
                let _ = fs::remove_dir_all(&path);
                drop(lock);
            }
        }
    }
}

impl Drop for PracticeFolder {
    fn drop(&mut self) {
        let _ = self.remove_all();
    }
}

/// The locked marker of a practice folder that nobody uses; nothing where it is used, or is anything else.
fn left_behind(path: &Path, own: &Metadata) -> Option<File> {
    let digits = path.file_name()?.to_str()?.strip_prefix(NAME)?;
    if digits.len() != 16 || !digits.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f')) {
        return None;
    }
    let folder = fs::symlink_metadata(path).ok()?;
    let marker = path.join(MARKER);
    if !folder.is_dir() || !is_same_owners(&folder, own) || !fs::symlink_metadata(&marker).ok()?.is_file() {
        return None;
    }
    if fs::read(&marker).ok()? != SAYS.as_bytes() {
        return None;
    }
    let lock = File::open(&marker).ok()?;
    lock.try_lock().ok()?;
    Some(lock)
}

/// Whether two folders belong to the same user, and nobody else may enter either.
#[cfg(unix)]
fn is_same_owners(folder: &Metadata, own: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    folder.uid() == own.uid() && folder.mode() & 0o077 == 0
}

#[cfg(not(unix))]
const fn is_same_owners(_: &Metadata, _: &Metadata) -> bool {
    true
}

fn random() -> io::Result<String> {
    let mut bytes = [0_u8; 8];
    getrandom::fill(&mut bytes).map_err(|error| io::Error::other(error.to_string()))?;
    Ok(data_encoding::HEXLOWER.encode(&bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder of this test's own, in which practices are held.
    fn within(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("countersign-folders-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir(&folder).expect("room");
        folder
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("it is there");
        entries.map(|entry| entry.expect("a name").file_name().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn nothing_of_a_folder_stays_even_if_nobody_removes_it_by_name() {
        let within = within("stays");
        let folder = PracticeFolder::create(&within).expect("room");
        fs::create_dir(folder.journal()).expect("room");
        fs::write(folder.journal().join("a file"), "words").expect("room");
        folder.remove().expect("it is ours");
        assert_eq!(names(&within), [""; 0]);
        drop(PracticeFolder::create(&within).expect("room"));
        assert_eq!(names(&within), [""; 0]);
        fs::remove_dir(&within).expect("it is empty");
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_may_enter() {
        use std::os::unix::fs::MetadataExt as _;
        let within = within("mode");
        let folder = PracticeFolder::create(&within).expect("room");
        assert_eq!(fs::metadata(folder.path()).expect("it is there").mode() & 0o777, 0o700);
        drop(folder);
        fs::remove_dir(&within).expect("it is empty");
    }

    /// What a process left that is gone: its marker is no longer locked.
    fn leave(within: &Path) -> PathBuf {
        let mut folder = PracticeFolder::create(within).expect("room");
        folder.marker = None;
        let path = folder.path.clone();
        std::mem::forget(folder);
        path
    }

    #[test]
    fn what_a_dead_practice_left_is_swept_and_nothing_else() {
        let within = within("sweeps");
        let runs = PracticeFolder::create(&within).expect("room");
        let left = leave(&within);
        fs::create_dir(left.join("journal")).expect("room");
        // Each is like a practice folder but for one thing.
        let without_marker = within.join(format!("{NAME}0123456789abcdef"));
        let other_name = within.join("countersign-practice-mine");
        let other_words = within.join(format!("{NAME}fedcba9876543210"));
        for folder in [&without_marker, &other_name, &other_words] {
            fs::create_dir(folder).expect("room");
            only_ours(folder);
        }
        fs::write(other_name.join(MARKER), SAYS).expect("room");
        fs::write(other_words.join(MARKER), "other words").expect("room");
        let others = [runs.path.clone(), without_marker, other_name, other_words];
        let next = PracticeFolder::create(&within).expect("room");
        assert!(!left.exists());
        for other in &others {
            assert!(other.is_dir(), "{}", other.display());
        }
        drop((runs, next));
        fs::remove_dir_all(&within).expect("it is ours");
    }

    #[cfg(unix)]
    #[test]
    fn what_others_may_enter_or_what_leads_elsewhere_is_left_alone() {
        let within = within("elsewhere");
        let elsewhere = leave(&within);
        fs::rename(&elsewhere, within.join("kept")).expect("it is ours");
        std::os::unix::fs::symlink(within.join("kept"), within.join(format!("{NAME}0123456789abcdef"))).expect("room");
        let open = within.join(format!("{NAME}fedcba9876543210"));
        fs::create_dir(&open).expect("room");
        fs::set_permissions(&open, std::os::unix::fs::PermissionsExt::from_mode(0o755)).expect("it is ours");
        fs::write(open.join(MARKER), SAYS).expect("room");
        drop(PracticeFolder::create(&within).expect("room"));
        assert!(within.join("kept").join(MARKER).is_file() && open.is_dir());
        fs::remove_dir_all(&within).expect("it is ours");
    }

    fn only_ours(folder: &Path) {
        #[cfg(unix)]
        fs::set_permissions(folder, std::os::unix::fs::PermissionsExt::from_mode(0o700)).expect("it is ours");
        #[cfg(not(unix))]
        let _ = folder;
    }
}
