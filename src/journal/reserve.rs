//! The reserve: a file beside the database whose room is set aside beforehand. What must not be lost is kept in it, sealed,
//! while the journal cannot be written, and goes into the journal when that is possible again.
//!
//! A record is its length (4 bytes), a mark whether it was written down since, and what was sealed. A length of zero ends
//! the file. The length is written last, so that a record is there whole or not at all.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::keys::Keys;
use super::{Journal, JournalError, files};

const RESERVE: &str = "reserve";

/// Some hundred entries.
const ROOM: usize = 256 * 1024;

const HEAD: usize = 5;
const WAITS: u8 = 0;
const WRITTEN: u8 = 1;

/// Another process that uses the file is waited for so long.
const PATIENCE: Duration = Duration::from_secs(2);

fn path(folder: &Path) -> PathBuf {
    folder.join(RESERVE)
}

/// Keeps bytes in the reserve of a journal that cannot be written, or not even be opened. Only its keys are needed.
///
/// # Errors
/// [`JournalError`] when its key cannot be read, or the reserve has no room or cannot be written either.
pub fn keep_in_reserve(folder: &Path, bytes: &[u8]) -> Result<(), JournalError> {
    let keys = Keys::open(&files::store_key(folder), &files::case_keys(folder))?;
    keep(folder, &keys.seal_reserve(bytes))
}

impl Journal {
    /// Sets the room aside, where that was not done before. It is filled, so that a full disk takes none of it away.
    ///
    /// # Errors
    /// [`JournalError`] when there is no room.
    pub fn set_reserve_aside(&self) -> Result<(), JournalError> {
        set_aside(&self.folder)
    }

    /// Hands on everything in the reserve that was not written down yet; `write_down` says whether it was now.
    ///
    /// # Errors
    /// [`JournalError`] when the reserve cannot be read or marked.
    pub fn empty_reserve(&mut self, write_down: &mut dyn FnMut(&mut Self, &[u8]) -> bool) -> Result<(), JournalError> {
        let path = path(&self.folder);
        if !is_in_use(&path) {
            return Ok(());
        }
        let failed = JournalError::file(&path);
        let mut file = lock(&path).map_err(&failed)?;
        let records = read(&mut file).map_err(&failed)?;
        let mut all = true;
        for (at, sealed) in records.iter().filter_map(|record| Some((record.at, record.waits.as_ref()?))) {
            let plain = self.keys.open_reserve(sealed);
            let done = plain.is_some_and(|plain| write_down(self, &plain));
            all &= done;
            if done {
                mark(&mut file, at).map_err(&failed)?;
            }
        }
        if all { clear(&mut file).map_err(&failed) } else { Ok(()) }
    }
}

/// Whether anything is in it, by its first bytes alone.
fn is_in_use(path: &Path) -> bool {
    let mut first = [0; 4];
    File::open(path).and_then(|mut file| file.read_exact(&mut first)).is_ok() && first != [0; 4]
}

struct Record {
    at: u64,
    waits: Option<Vec<u8>>,
}

pub(super) fn set_aside(folder: &Path) -> Result<(), JournalError> {
    let path = path(folder);
    let failed = JournalError::file(&path);
    if fs::metadata(&path).is_ok_and(|known| known.len() >= ROOM as u64) {
        return Ok(());
    }
    match files::create_new(&path) {
        Ok(mut file) => {
            let filled = file.write_all(&vec![0; ROOM]).and_then(|()| file.sync_all());
            if filled.is_err() {
                // Half a reserve would look like a whole one.
                let _ = fs::remove_file(&path);
            }
            filled.and_then(|()| files::sync_folder_of(&path)).map_err(&failed)
        }
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        Err(error) => Err(failed(error)),
    }
}

fn keep(folder: &Path, sealed: &[u8]) -> Result<(), JournalError> {
    let path = path(folder);
    if !path.exists() {
        set_aside(folder)?;
    }
    let failed = JournalError::file(&path);
    let mut file = lock(&path).map_err(&failed)?;
    let end = read(&mut file).map_err(&failed)?.last().map_or(0, |last| last.at);
    let length = u32::try_from(sealed.len()).unwrap_or(u32::MAX);
    let needs = usize::try_from(end).unwrap_or(ROOM) + HEAD + sealed.len() + HEAD;
    if sealed.is_empty() || needs > ROOM {
        return Err(JournalError::Full);
    }
    let mut append = || {
        file.seek(SeekFrom::Start(end + 4))?;
        file.write_all(&[WAITS])?;
        file.write_all(sealed)?;
        file.sync_all()?;
        file.seek(SeekFrom::Start(end))?;
        file.write_all(&length.to_le_bytes())?;
        file.sync_all()
    };
    append().map_err(&failed)
}

/// Every record, and one of length zero at the end.
fn read(file: &mut File) -> io::Result<Vec<Record>> {
    let mut bytes = Vec::new();
    file.seek(SeekFrom::Start(0))?;
    file.take(ROOM as u64).read_to_end(&mut bytes)?;
    let (mut records, mut rest) = (Vec::new(), &*bytes);
    loop {
        let at = u64::try_from(bytes.len() - rest.len()).unwrap_or_default();
        let Some((head, after)) = rest.split_first_chunk::<HEAD>() else { break };
        let length = u32::from_le_bytes([head[0], head[1], head[2], head[3]]) as usize;
        let Some((sealed, after)) = after.split_at_checked(length).filter(|_| length > 0) else {
            records.push(Record { at, waits: None });
            break;
        };
        records.push(Record { at, waits: (head[4] == WAITS).then(|| sealed.to_vec()) });
        rest = after;
    }
    Ok(records)
}

fn mark(file: &mut File, at: u64) -> io::Result<()> {
    file.seek(SeekFrom::Start(at + 4))?;
    file.write_all(&[WRITTEN])?;
    file.sync_all()
}

/// Takes every record away; the room stays.
fn clear(file: &mut File) -> io::Result<()> {
    file.seek(SeekFrom::Start(0))?;
    file.write_all(&vec![0; ROOM])?;
    file.sync_all()
}

fn lock(path: &Path) -> io::Result<File> {
    let file = OpenOptions::new().read(true).write(true).open(path)?;
    let began = Instant::now();
    while let Err(error) = file.try_lock() {
        match error {
            fs::TryLockError::WouldBlock if began.elapsed() < PATIENCE => {
                std::thread::sleep(Duration::from_millis(20));
            }
            fs::TryLockError::WouldBlock => return Err(io::ErrorKind::WouldBlock.into()),
            fs::TryLockError::Error(error) => return Err(error),
        }
    }
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Moment;

    // hazard: H-EMERGENCY
    #[test]
    fn what_is_kept_is_handed_on_once_and_the_room_stays() {
        let folder = std::env::temp_dir().join(format!("countersign-reserve-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let mut journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        journal.set_reserve_aside().expect("room");
        for text in ["first", "second", "third"] {
            keep_in_reserve(&folder, text.as_bytes()).expect("room");
        }
        let file = fs::read(path(&folder)).expect("it is there");
        assert!(file.len() == ROOM && !file.windows(5).any(|part| part == b"first"), "it is sealed");
        let mut seen = Vec::new();
        let mut all_but_the_second = |_: &mut Journal, bytes: &[u8]| {
            seen.push(String::from_utf8_lossy(bytes).into_owned());
            bytes != b"second"
        };
        for _ in 0..2 {
            journal.empty_reserve(&mut all_but_the_second).expect("it can be read");
        }
        assert_eq!(seen, ["first", "second", "third", "second"]);
        journal.empty_reserve(&mut |_, _| true).expect("it can be read");
        assert!(!is_in_use(&path(&folder)) && fs::metadata(path(&folder)).expect("there").len() == ROOM as u64);
        let kept = (0..1_000).take_while(|_| keep_in_reserve(&folder, &[b'x'; 2_000]).is_ok()).count();
        assert!((100..130).contains(&kept), "{kept}");
        fs::remove_dir_all(&folder).expect("it is ours");
    }
}
