//! What is in a backup. In: an age file under a passphrase. Out: its files in a folder, the store key, and which events it
//! holds.

use std::fs::{self, File};
use std::io::{self, BufReader, Read, Write as _};
use std::iter;
use std::path::Path;

use age::secrecy::SecretString;
use age::{DecryptError, Decryptor, scrypt};

use super::increment::{BackupContents, NEW};
use super::keys::StoreKey;
use super::{JournalError, access, files};
use crate::quantity::Moment;

/// What a file may ask for at most, as 2^20 x 1 KiB of memory.
const MOST_WORK: u8 = 20;
/// Which events a backup holds: its first file, so that it is known without the rest.
pub(super) const CONTENTS: &str = "contents.json";
/// What says when a backup was made.
pub(super) const MADE: &str = "made.txt";
/// Longer contents are none.
const LONGEST_CONTENTS: u64 = 4096;

/// What is in a backup beside what was written into the folder.
pub(super) struct Unpacked {
    pub(super) store: Option<StoreKey>,
    /// None was written before there were backups of what is new.
    pub(super) contents: Option<BackupContents>,
    pub(super) database: bool,
    pub(super) made: Option<Moment>,
}

/// Which events a backup holds.
///
/// # Errors
/// [`JournalError`] when it is no backup, the passphrase is another, or an earlier program wrote it, which did not say.
pub(super) fn backup_contents(path: &Path, passphrase: &str) -> Result<BackupContents, JournalError> {
    let mut archive = opened(path, passphrase)?;
    let first = archive.entries().map_err(unreadable(path))?.next().transpose().map_err(unreadable(path))?;
    let contents = first.map(|mut first| read_contents(path, &mut first)).transpose()?.flatten();
    let why = "an earlier program wrote it, and it does not say which event is its last: make a whole backup first";
    contents.ok_or_else(|| no_backup(path, why))
}

/// Writes the files into `aside`; those of an earlier backup may be there.
pub(super) fn unpack(path: &Path, aside: &Path, passphrase: &str) -> Result<Unpacked, JournalError> {
    let read = unreadable(path);
    let mut archive = opened(path, passphrase)?;
    let mut unpacked = Unpacked { store: None, contents: None, database: false, made: None };
    for entry in archive.entries().map_err(read)? {
        let mut entry = entry.map_err(read)?;
        let name = entry.path().map_err(read)?.into_owned();
        let is = |known: &str| name == Path::new(known);
        if is(files::STORE_KEY) {
            let mut text = zeroize::Zeroizing::new(String::new());
            entry.read_to_string(&mut text).map_err(read)?;
            unpacked.store = StoreKey::of_hex(&text);
        } else if is(CONTENTS) {
            unpacked.contents = read_contents(path, &mut entry)?;
        } else if is(MADE) {
            let mut text = String::new();
            entry.read_to_string(&mut text).map_err(read)?;
            let made = Moment::parse(&text).map_err(|_| no_backup(path, "it does not say when it was made"))?;
            unpacked.made = Some(made);
        } else if [files::DATABASE, access::DATABASE, NEW].into_iter().any(is) || is_case_key(&name) {
            let to = aside.join(&name);
            let is_part = unpacked.contents.as_ref().is_some_and(|contents| contents.after.is_some());
            if to.exists() && is_case_key(&name) && is_part {
                // A key never changes: the same came with an earlier backup.
                continue;
            }
            if to.exists() && is(access::DATABASE) && is_part {
                // Of the chain of accesses each backup holds the whole.
                fs::remove_file(&to).map_err(JournalError::file(&to))?;
            }
            if to.exists() && is(files::DATABASE) && !unpacked.database {
                return Err(no_backup(path, "it holds every event: name it alone, before those that go on after it"));
            }
            unpacked.database |= is(files::DATABASE);
            let mut out = files::create_new(&to).map_err(JournalError::file(&to))?;
            // What cannot be read is the backup's fault, what cannot be written the folder's.
            copy(&mut entry, &mut out, read, JournalError::file(&to))?;
        } else {
            return Err(no_backup(path, &format!("there is `{}` in it", name.display())));
        }
    }
    // Only the last block says that the file is whole.
    io::copy(&mut archive.into_inner(), &mut io::sink()).map_err(read)?;
    Ok(unpacked)
}

pub(super) fn no_backup(path: &Path, why: &str) -> JournalError {
    JournalError::NotABackup { path: path.to_owned(), why: why.to_owned() }
}

/// What cannot be read of a backup.
fn unreadable(path: &Path) -> impl Fn(io::Error) -> JournalError + Copy + '_ {
    move |error| match error.kind() {
        io::ErrorKind::InvalidData
        | io::ErrorKind::UnexpectedEof
        | io::ErrorKind::InvalidInput
        | io::ErrorKind::Other => no_backup(path, &format!("it was cut off or changed ({error})")),
        _ => JournalError::file(path)(error),
    }
}

/// The archive in a backup.
fn opened(path: &Path, passphrase: &str) -> Result<tar::Archive<impl Read>, JournalError> {
    let refuse = |error: DecryptError| match error {
        DecryptError::DecryptionFailed | DecryptError::KeyDecryptionFailed | DecryptError::NoMatchingKeys => {
            JournalError::WrongPassphrase { path: path.to_owned() }
        }
        DecryptError::Io(error) => unreadable(path)(error),
        error => no_backup(path, &error.to_string()),
    };
    let file = BufReader::new(File::open(path).map_err(JournalError::file(path))?);
    let decryptor = Decryptor::new_buffered(file).map_err(refuse)?;
    if !decryptor.is_scrypt() {
        return Err(no_backup(path, "it is not under a passphrase"));
    }
    let mut identity = scrypt::Identity::new(SecretString::from(passphrase));
    identity.set_max_work_factor(MOST_WORK);
    Ok(tar::Archive::new(decryptor.decrypt(iter::once(&identity as _)).map_err(refuse)?))
}

/// The contents, if this file of the archive says them.
fn read_contents(path: &Path, file: &mut tar::Entry<'_, impl Read>) -> Result<Option<BackupContents>, JournalError> {
    if file.path().map_err(unreadable(path))? != Path::new(CONTENTS) {
        return Ok(None);
    }
    let mut text = String::new();
    file.take(LONGEST_CONTENTS).read_to_string(&mut text).map_err(unreadable(path))?;
    let contents: BackupContents = serde_json::from_str(&text)
        .map_err(|error| no_backup(path, &format!("its contents cannot be read: {error}")))?;
    if contents.v == 1 { Ok(Some(contents)) } else { Err(no_backup(path, "a later program wrote it")) }
}

fn is_case_key(name: &Path) -> bool {
    let file = name.strip_prefix(files::CASE_KEYS).ok().and_then(Path::to_str);
    let stem = file.and_then(|file| file.strip_suffix(".key"));
    stem.is_some_and(|stem| stem.len() == 32 && stem.bytes().all(|byte| byte.is_ascii_hexdigit()))
}

fn copy<E>(
    from: &mut dyn Read,
    to: &mut File,
    unreadable: impl Fn(io::Error) -> E,
    unwritable: impl Fn(io::Error) -> E,
) -> Result<(), E> {
    let mut part = vec![0; 64 * 1024];
    loop {
        let read = from.read(&mut part).map_err(&unreadable)?;
        if read == 0 {
            return to.sync_all().map_err(&unwritable);
        }
        to.write_all(&part[..read]).map_err(&unwritable)?;
    }
}
