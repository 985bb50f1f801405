//! What a process left half made that was killed: copies of the database and folders with keys. Each is locked while
//! somebody still makes it; one that nobody holds is taken away.

use std::fs::{self, File};
use std::path::Path;
use std::time::Duration;

use super::files;

/// Younger ones are left alone: between making and locking there is a moment.
const YOUNG: Duration = Duration::from_mins(1);

/// Sweeps the folder of a journal: copies of its database, and keys that were never given to anybody.
pub fn sweep_half_made(folder: &Path) {
    for path in names(folder) {
        if is_hidden_half(&path, ".snapshot.") && path.is_file() && is_left(&path) {
            let _ = fs::remove_file(&path);
        }
    }
    for path in names(&files::case_keys(folder)) {
        if path.extension().is_some_and(|ending| ending == "new") && is_left(&path) {
            let _ = files::erase(&path);
        }
    }
}

/// Sweeps the folder in which something is made whose hidden half has a name like this one's.
pub(super) fn sweep_beside(path: &Path) {
    for found in names(path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))) {
        if !is_hidden_half(&found, ".") || !is_left(&found) {
            continue;
        }
        if found.is_dir() && files::case_keys(&found).is_dir() {
            let _ = fs::remove_dir_all(&found);
        } else if found.is_file() && begins_as_a_backup(&found) {
            let _ = fs::remove_file(&found);
        }
    }
}

fn names(folder: &Path) -> Vec<std::path::PathBuf> {
    fs::read_dir(folder).map(|found| found.flatten().map(|one| one.path()).collect()).unwrap_or_default()
}

/// `.name.` and sixteen digits: as [`files::beside`] names them.
fn is_hidden_half(path: &Path, begins: &str) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let digits = name.strip_prefix(begins).and_then(|rest| rest.rsplit('.').next());
    name.starts_with('.')
        && digits.is_some_and(|digits| {
            digits.len() == 16 && digits.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        })
}

fn is_left(path: &Path) -> bool {
    let age = fs::symlink_metadata(path).and_then(|known| known.modified()).ok().and_then(|at| at.elapsed().ok());
    age.is_some_and(|age| age > YOUNG) && File::open(path).is_ok_and(|file| file.try_lock().is_ok())
}

fn begins_as_a_backup(path: &Path) -> bool {
    use std::io::Read as _;
    let mut first = [0; 22];
    let read = File::open(path).and_then(|mut file| file.read(&mut first)).unwrap_or_default();
    first[..read].starts_with(b"age-encryption.org/v1") || read == 0
}
