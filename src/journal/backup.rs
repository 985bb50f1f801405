//! The whole journal in one file under a passphrase. Out: an age file (passphrase recipient) around a tar archive of the
//! database, the chain of accesses, the store key and the case keys, so that it can be opened by hand where this program is
//! lost; or around what is new since an earlier one. In: the same, one and those that go on after it, into a new folder, which
//! gets its name only once the whole chain was verified; that it was restored is its next event.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufRead, BufWriter, Read, Write as _};
use std::iter;
use std::path::{Path, PathBuf};

use age::secrecy::SecretString;
use age::{Encryptor, scrypt};
use rusqlite::Connection;

use super::access;
use super::created::HalfMade;
use super::event::{KIND_FORGOTTEN, KIND_RESTORED};
use super::increment::{self, BackupContents, NEW};
use super::keys::{self, Keys};
use super::restored::RestoredBody;
use super::unpack::{CONTENTS, MADE, backup_contents, no_backup, unpack};
use super::{Head, Journal, JournalError, NewEvent, Of, Verified, VerifyError, files, read, schema};
use crate::quantity::Moment;

/// One try of a passphrase costs 2^17 x 1 KiB of memory (OWASP Password Storage Cheat Sheet: scrypt).
const WORK: u8 = 17;

/// What went into a backup.
#[derive(Debug)]
pub struct BackedUp {
    /// The last event in it.
    pub head: Head,
    /// Why the chain of accesses is not in it. No backup of the record waits for it to be mended.
    pub accesses_left_out: Option<JournalError>,
}

/// What came out of a backup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// The chain, which was verified.
    pub verified: Verified,
    /// How many keys of scopes came with it, and stayed.
    pub case_keys: u64,
    /// How many scopes are forgotten in it.
    pub forgotten: u64,
    /// When the backup was made, where it says so.
    pub made: Option<Moment>,
    /// The last access that came with it, which was verified.
    pub accesses: Option<Head>,
    /// Why its chain of accesses was left out. The record does not wait for it; the backup still holds it.
    pub accesses_left_out: Option<String>,
}

impl Journal {
    /// Writes a consistent copy of the database, the store key and the case keys into one new file, encrypted under the
    /// passphrase, and the chain of accesses with them. Others may write meanwhile. The file is there whole, or not.
    ///
    /// # Errors
    /// [`JournalError`]; the file must not exist yet.
    pub fn backup(&self, file: &Path, passphrase: &str, now: Moment) -> Result<BackedUp, JournalError> {
        if file.exists() {
            return Err(JournalError::AlreadyThere { path: file.to_owned() });
        }
        super::sweep::sweep_half_made(&self.folder);
        super::sweep::sweep_beside(file);
        // The database first: a key is written before the first event of its scope, so none is missing.
        let (snapshot, head) = self.snapshot()?;
        let folder = self.keys.folder();
        let keys: io::Result<Vec<PathBuf>> =
            fs::read_dir(folder).and_then(|all| all.map(|entry| Ok(entry?.path())).collect());
        let mut keys = keys.map_err(JournalError::file(folder))?;
        keys.sort();
        let packed = Packed { contents: BackupContents::new(self, None, head), database: &snapshot.0, keys };
        let accesses_left_out = self.write_aside(file, &packed, passphrase, now)?;
        Ok(BackedUp { head, accesses_left_out })
    }

    /// Writes what is new since an earlier backup of this journal into one new file: the events after its last one, the keys
    /// of their scopes, and the chain of accesses. It comes back with that backup, and the store key is in the first of them
    /// alone. Gives the last event of the earlier one too.
    ///
    /// # Errors
    /// [`JournalError`]; the earlier one must be of this journal, and its last event in it.
    pub fn backup_since(
        &self,
        earlier: &Path,
        file: &Path,
        passphrase: &str,
        now: Moment,
    ) -> Result<(Head, BackedUp), JournalError> {
        if file.exists() {
            return Err(JournalError::AlreadyThere { path: file.to_owned() });
        }
        let contents = backup_contents(earlier, passphrase)?;
        if contents.journal != self.id {
            return Err(no_backup(earlier, &format!("it is of the journal {}", contents.journal)));
        }
        let since = contents.last().ok_or_else(|| no_backup(earlier, "it does not say its last event"))?;
        if !self.still_has(since)? {
            let why = format!("its last event, {since}, is not in this journal: run `countersign journal verify`");
            return Err(no_backup(earlier, &why));
        }
        super::sweep::sweep_half_made(&self.folder);
        super::sweep::sweep_beside(file);
        let new = self.empty_snapshot()?;
        let (head, keys) = self.new_since(since, &new.0)?;
        let packed = Packed { contents: BackupContents::new(self, Some(since), head), database: &new.0, keys };
        let accesses_left_out = self.write_aside(file, &packed, passphrase, now)?;
        Ok((since, BackedUp { head, accesses_left_out }))
    }

    /// Writes the file whole, or not; why the chain of accesses is not in it, if so.
    fn write_aside(
        &self,
        file: &Path,
        packed: &Packed<'_>,
        passphrase: &str,
        now: Moment,
    ) -> Result<Option<JournalError>, JournalError> {
        let aside = Aside::new(files::beside(file, &keys::random::<8>()?))?;
        let out = aside.1.try_clone().map_err(JournalError::file(file))?;
        let (accesses, accesses_left_out) = match self.snapshot_of_accesses() {
            Ok(accesses) => (Some(accesses), None),
            Err(error) => (None, Some(error)),
        };
        let accesses = accesses.as_ref().map(|aside| &*aside.0);
        self.write_backup(out, packed, accesses, passphrase, now).map_err(JournalError::file(file))?;
        fs::rename(&aside.0, file).and_then(|()| files::sync_folder_of(file)).map_err(JournalError::file(file))?;
        Ok(accesses_left_out)
    }

    /// A file that nobody else may read; SQLite fills an empty one.
    fn empty_snapshot(&self) -> Result<Aside, JournalError> {
        let name = format!(".snapshot.{}", data_encoding::HEXLOWER.encode(&keys::random::<8>()?));
        Aside::new(self.folder.join(name))
    }

    fn snapshot_of_accesses(&self) -> Result<Aside, JournalError> {
        let snapshot = self.empty_snapshot()?;
        self.accesses()?.copy_into(&snapshot.0)?;
        Ok(snapshot)
    }

    fn snapshot(&self) -> Result<(Aside, Head), JournalError> {
        let snapshot = self.empty_snapshot()?;
        let name = snapshot.0.to_str().ok_or_else(|| JournalError::NotWritable { path: snapshot.0.clone() })?;
        self.connection.execute("VACUUM INTO ?1", [name])?;
        let head = read::last(&Connection::open(&snapshot.0)?, &self.id, &self.keys)?.head();
        Ok((snapshot, head))
    }

    fn write_backup(
        &self,
        out: File,
        packed: &Packed<'_>,
        accesses: Option<&Path>,
        passphrase: &str,
        now: Moment,
    ) -> io::Result<()> {
        let mut recipient = scrypt::Recipient::new(SecretString::from(passphrase));
        recipient.set_work_factor(WORK);
        let encryptor = Encryptor::with_recipients(iter::once(&recipient as _)).map_err(io::Error::other)?;
        let mut archive = tar::Builder::new(encryptor.wrap_output(BufWriter::new(out))?);
        let text = serde_json::to_string(&packed.contents).map_err(io::Error::other)?;
        append(&mut archive, CONTENTS.into(), length(text.as_bytes()), &mut text.as_bytes())?;
        let is_whole = packed.contents.after.is_none();
        let mut database = File::open(packed.database)?;
        let name = if is_whole { files::DATABASE } else { NEW };
        append(&mut archive, name.into(), database.metadata()?.len(), &mut database)?;
        if let Some(accesses) = accesses {
            let mut accesses = File::open(accesses)?;
            append(&mut archive, access::DATABASE.into(), accesses.metadata()?.len(), &mut accesses)?;
        }
        let made = now.to_utc();
        append(&mut archive, MADE.into(), length(made.as_bytes()), &mut made.as_bytes())?;
        if is_whole {
            let store = self.keys.store().to_hex();
            append(&mut archive, files::STORE_KEY.into(), length(store.as_bytes()), &mut store.as_bytes())?;
        }
        for path in packed.keys.iter().filter(|path| path.extension().is_some_and(|end| end == "key")) {
            let bytes = match fs::read(path) {
                // Forgotten since the folder was listed.
                Err(error) if error.kind() == io::ErrorKind::NotFound => continue,
                bytes => bytes?,
            };
            let name = Path::new(files::CASE_KEYS).join(path.file_name().unwrap_or_default());
            append(&mut archive, name, length(&bytes), &mut &*bytes)?;
        }
        let mut out = archive.into_inner()?.finish()?;
        out.flush()?;
        out.get_ref().sync_all()
    }
}

/// Opens a backup into a new folder. The whole chain is verified before the folder gets its name, and every scope with an
/// event of kind `forgotten` loses its key; `later`, an export of the journal after the backup, tells what was forgotten
/// since. The journal continues where the backup ends: what was written after it is not in it, and its next event says so.
///
/// # Errors
/// [`VerifyError`] when it is no backup, the passphrase is another, the chain in it is not whole, or `later` is no whole
/// export of it; then no folder is left.
pub fn restore(
    file: &Path,
    folder: &Path,
    passphrase: &str,
    later: Option<&mut dyn BufRead>,
    now: Moment,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<Restored, VerifyError> {
    restore_all(&[file.to_owned()], folder, passphrase, later, now, progress)
}

/// The same of a backup, named first, and of those that go on after it, in the order in which they were made.
///
/// # Errors
/// As for [`restore`]; and where one does not go on after the one before it.
pub fn restore_all(
    backups: &[PathBuf],
    folder: &Path,
    passphrase: &str,
    later: Option<&mut dyn BufRead>,
    now: Moment,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<Restored, VerifyError> {
    let mut half_made = HalfMade::beside(folder)?;
    let aside = half_made.folder().to_owned();
    let case_keys = files::case_keys(&aside);
    files::create_folder(&case_keys).map_err(JournalError::file(&case_keys))?;
    let (file, increments) =
        backups.split_first().ok_or_else(|| VerifyError::File("no backup was named".to_owned()))?;
    let unpacked = unpack(file, &aside, passphrase)?;
    let is_part = unpacked.contents.as_ref().is_some_and(|contents| contents.after.is_some());
    if is_part || aside.join(NEW).exists() {
        return Err(no_backup(file, "it holds only what is new since an earlier one: name that one first").into());
    }
    if !unpacked.database {
        return Err(no_backup(file, "there is no database in it").into());
    }
    let store = unpacked.store.ok_or_else(|| no_backup(file, "there is no store key in it"))?;
    half_made.keep_store_key(&store)?;
    let database = files::database(&aside);
    let mut journal = Journal::opened(aside.clone(), schema::open(&database)?, Keys::of(store, &case_keys))?;
    let mut made = unpacked.made;
    for path in increments {
        let unpacked = unpack(path, &aside, passphrase)?;
        let contents = unpacked.contents.ok_or_else(|| no_backup(path, "it does not say which events it holds"))?;
        let new = aside.join(NEW);
        increment::take_in(&mut journal.connection, (&journal.id, &journal.keys), (path, &contents), &new)?;
        fs::remove_file(&new).map_err(JournalError::file(&new))?;
        made = unpacked.made;
    }
    let verified = journal.verify(&[], progress)?;
    let mut forgotten: BTreeSet<String> =
        journal.events(Of::Kind(KIND_FORGOTTEN))?.iter().filter_map(|event| event.scope().map(str::to_owned)).collect();
    if let Some(later) = later {
        forgotten.extend(journal.exported_forgotten(later)?);
    }
    for scope in &forgotten {
        journal.keys.forget(scope)?;
    }
    let entries = fs::read_dir(&case_keys).map_err(JournalError::file(&case_keys))?;
    let (accesses, accesses_left_out) = match journal.restored_accesses() {
        Ok(last) => (last, None),
        Err(error) => (None, Some(error.to_string())),
    };
    let said = RestoredBody {
        made: made.map(Moment::to_utc),
        last: verified.head.to_string(),
        accesses: accesses.map(|last| last.to_string()),
    };
    let body = serde_json::to_value(said).expect("every key is a string");
    let draft = NewEvent { kind: KIND_RESTORED, scope: None, by: None, body, introduces: None };
    journal.write(now, |_| Ok::<_, JournalError>((vec![draft], ())))?;
    let (case_keys, forgotten) = (count(entries.count()), count(forgotten.len()));
    let restored = Restored { verified, case_keys, forgotten, made, accesses, accesses_left_out };
    journal.connection.close().map_err(|(_, error)| JournalError::from(error))?;
    half_made.give_name()?;
    Ok(restored)
}

impl Journal {
    /// The last access of a chain that was unpacked, once it was verified. One that is not as it was written goes: the
    /// record does not wait for it, and the next access begins another.
    fn restored_accesses(&self) -> Result<Option<Head>, JournalError> {
        let path = self.folder.join(access::DATABASE);
        if !path.exists() {
            return Ok(None);
        }
        let verified = self.accesses().and_then(|log| log.verify(&[]));
        if verified.is_err() {
            let beside = |end: &str| path.with_file_name(format!("{}{end}", access::DATABASE));
            for file in [path.clone(), beside("-wal"), beside("-shm")].iter().filter(|file| file.exists()) {
                fs::remove_file(file).map_err(JournalError::file(file))?;
            }
        }
        verified
    }
}

/// What is packed into a backup.
struct Packed<'p> {
    contents: BackupContents,
    database: &'p Path,
    keys: Vec<PathBuf>,
}

/// A file that goes when it is not needed any more, or when something fails. It is locked meanwhile, so that nobody sweeps it.
struct Aside(PathBuf, File);

impl Aside {
    fn new(path: PathBuf) -> Result<Self, JournalError> {
        let file = files::create_new(&path).map_err(JournalError::file(&path))?;
        // A file that cannot be locked is swept after a minute at the soonest.
        let _ = file.try_lock();
        Ok(Self(path, file))
    }
}

impl Drop for Aside {
    fn drop(&mut self) {
        // After a rename there is nothing of this name.
        let _ = fs::remove_file(&self.0);
    }
}

fn append<W: io::Write>(
    archive: &mut tar::Builder<W>,
    name: PathBuf,
    length: u64,
    bytes: &mut dyn Read,
) -> io::Result<()> {
    let mut header = tar::Header::new_gnu();
    header.set_size(length);
    header.set_mode(0o600);
    archive.append_data(&mut header, name, bytes)
}

fn length(bytes: &[u8]) -> u64 {
    count(bytes.len())
}

fn count(number: usize) -> u64 {
    number.try_into().expect("a count is at most 64 bits long")
}
