//! The whole journal in one file under a passphrase. Out: an age file (passphrase recipient) around a tar archive of the
//! database, the store key and the case keys, so that it can be opened by hand where this program is lost; or around what
//! is new since an earlier one. In: the same, one and those that go on after it, into a new folder, which gets its name only
//! once the whole chain was verified.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write as _};
use std::iter;
use std::path::{Path, PathBuf};

use age::secrecy::SecretString;
use age::{DecryptError, Decryptor, Encryptor, scrypt};
use rusqlite::Connection;

use super::created::HalfMade;
use super::event::KIND_FORGOTTEN;
use super::increment::{self, BackupContents};
use super::keys::{self, Keys, StoreKey};
use super::{Head, Journal, JournalError, Of, Verified, VerifyError, files, read, schema};

/// One try of a passphrase costs 2^17 x 1 KiB of memory (OWASP Password Storage Cheat Sheet: scrypt).
const WORK: u8 = 17;
/// Longer contents are none.
const LONGEST_CONTENTS: u64 = 4096;
/// What a file may ask for at most.
const MOST_WORK: u8 = 20;

/// Which events a backup holds: its first file, so that it is known without the rest.
const CONTENTS: &str = "contents.json";
/// What is new since the backup before.
const NEW: &str = "new.db";

/// What came out of a backup.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Restored {
    /// The chain, which was verified.
    pub verified: Verified,
    /// How many keys of scopes came with it, and stayed.
    pub case_keys: u64,
    /// How many scopes are forgotten in it.
    pub forgotten: u64,
}

impl Journal {
    /// Writes a consistent copy of the database, the store key and the case keys into one new file, encrypted under the
    /// passphrase. Others may write meanwhile; the head that it holds is given back. The file is there whole, or not.
    ///
    /// # Errors
    /// [`JournalError`]; the file must not exist yet.
    pub fn backup(&self, file: &Path, passphrase: &str) -> Result<Head, JournalError> {
        if file.exists() {
            return Err(JournalError::AlreadyThere { path: file.to_owned() });
        }
        // The database first: a key is written before the first event of its scope, so none is missing.
        let snapshot = self.beside("snapshot")?;
        let name = snapshot.0.to_str().ok_or_else(|| JournalError::NotWritable { path: snapshot.0.clone() })?;
        self.connection.execute("VACUUM INTO ?1", [name])?;
        let head = read::last(&Connection::open(&snapshot.0)?, &self.id, &self.keys)?.head();
        let contents = BackupContents::new(self, None, head);
        let folder = self.keys.folder();
        let keys: io::Result<Vec<PathBuf>> =
            fs::read_dir(folder).and_then(|all| all.map(|entry| Ok(entry?.path())).collect());
        let mut keys = keys.map_err(JournalError::file(folder))?;
        keys.sort();
        self.write_aside(file, (&contents, &snapshot.0, &keys), passphrase)?;
        Ok(head)
    }

    /// Writes what is new since an earlier backup of this journal into one new file: the events after its last one, and the
    /// keys of their scopes. It comes back with that backup, and the store key is in the first of them alone. Gives the last
    /// event of the earlier one, and the last of this.
    ///
    /// # Errors
    /// [`JournalError`]; the earlier one must be of this journal, and its last event in it.
    pub fn backup_since(&self, earlier: &Path, file: &Path, passphrase: &str) -> Result<(Head, Head), JournalError> {
        if file.exists() {
            return Err(JournalError::AlreadyThere { path: file.to_owned() });
        }
        let contents = backup_contents(earlier, passphrase)?;
        let refuse = |why: String| JournalError::NotABackup { path: earlier.to_owned(), why };
        if contents.journal != self.id {
            return Err(refuse(format!("it is of the journal {}", contents.journal)));
        }
        let since = contents.last().ok_or_else(|| refuse("it does not say its last event".to_owned()))?;
        if !self.still_has(since)? {
            return Err(refuse(format!(
                "its last event, {since}, is not in this journal: run `countersign journal verify`"
            )));
        }
        let new = self.beside("new")?;
        let (head, keys) = self.new_since(since, &new.0)?;
        let contents = BackupContents::new(self, Some(since), head);
        self.write_aside(file, (&contents, &new.0, &keys), passphrase)?;
        Ok((since, head))
    }

    /// A file in the journal's folder, made beforehand, so that nobody else may read it; SQLite fills an empty file.
    fn beside(&self, what: &str) -> Result<Aside, JournalError> {
        super::sweep::sweep_half_made(&self.folder);
        let lot = data_encoding::HEXLOWER.encode(&keys::random::<8>()?);
        Aside::new(self.folder.join(format!(".snapshot.{what}.{lot}")))
    }

    fn write_aside(
        &self,
        file: &Path,
        what: (&BackupContents, &Path, &[PathBuf]),
        passphrase: &str,
    ) -> Result<(), JournalError> {
        super::sweep::sweep_beside(file);
        let aside = Aside::new(files::beside(file, &keys::random::<8>()?))?;
        let out = aside.1.try_clone().map_err(JournalError::file(file))?;
        self.write_backup(out, what, passphrase).map_err(JournalError::file(file))?;
        fs::rename(&aside.0, file).and_then(|()| files::sync_folder_of(file)).map_err(JournalError::file(file))
    }

    fn write_backup(
        &self,
        out: File,
        (contents, snapshot, keys): (&BackupContents, &Path, &[PathBuf]),
        passphrase: &str,
    ) -> io::Result<()> {
        let mut recipient = scrypt::Recipient::new(SecretString::from(passphrase));
        recipient.set_work_factor(WORK);
        let encryptor = Encryptor::with_recipients(iter::once(&recipient as _)).map_err(io::Error::other)?;
        let mut archive = tar::Builder::new(encryptor.wrap_output(BufWriter::new(out))?);
        let text = serde_json::to_string(contents).map_err(io::Error::other)?;
        append(&mut archive, CONTENTS.into(), length(text.as_bytes()), &mut text.as_bytes())?;
        let mut database = File::open(snapshot)?;
        let is_whole = contents.after.is_none();
        let name = if is_whole { files::DATABASE } else { NEW };
        append(&mut archive, name.into(), database.metadata()?.len(), &mut database)?;
        if is_whole {
            let store = self.keys.store().to_hex();
            append(&mut archive, files::STORE_KEY.into(), length(store.as_bytes()), &mut store.as_bytes())?;
        }
        for path in keys.iter().filter(|path| path.extension().is_some_and(|end| end == "key")) {
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
/// since. The journal continues where the backup ends: what was written after it is not in it.
///
/// # Errors
/// [`VerifyError`] when it is no backup, the passphrase is another, the chain in it is not whole, or `later` is no whole
/// export of it; then no folder is left.
pub fn restore(
    file: &Path,
    folder: &Path,
    passphrase: &str,
    later: Option<&mut dyn BufRead>,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<Restored, VerifyError> {
    restore_all(&[file.to_owned()], folder, passphrase, later, progress)
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
    for path in increments {
        let contents = unpack(path, &aside, passphrase)?.contents;
        let contents = contents.ok_or_else(|| no_backup(path, "it holds every event: name it alone"))?;
        let new = aside.join(NEW);
        increment::take_in(&mut journal.connection, (&journal.id, &journal.keys), (path, &contents), &new)?;
        if new.exists() {
            fs::remove_file(&new).map_err(JournalError::file(&new))?;
        }
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
    let restored = Restored { verified, case_keys: count(entries.count()), forgotten: count(forgotten.len()) };
    journal.connection.close().map_err(|(_, error)| JournalError::from(error))?;
    half_made.give_name()?;
    Ok(restored)
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

/// What is in a backup beside what was written into the folder.
struct Unpacked {
    store: Option<StoreKey>,
    /// None was written before there were backups of what is new.
    contents: Option<BackupContents>,
    database: bool,
}

fn no_backup(path: &Path, why: &str) -> JournalError {
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

/// Which events a backup holds: what is new since then can be written beside it.
///
/// # Errors
/// [`JournalError`] when it is no backup, the passphrase is another, or an earlier program wrote it, which did not say.
pub fn backup_contents(path: &Path, passphrase: &str) -> Result<BackupContents, JournalError> {
    let mut archive = opened(path, passphrase)?;
    let first = archive.entries().map_err(unreadable(path))?.next().transpose().map_err(unreadable(path))?;
    let contents = first.map(|mut first| read_contents(path, &mut first)).transpose()?.flatten();
    let why = "an earlier program wrote it, and it does not say which event is its last: make a whole backup first";
    contents.ok_or_else(|| no_backup(path, why))
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

/// Writes the files into `aside`; the store key is given back.
fn unpack(path: &Path, aside: &Path, passphrase: &str) -> Result<Unpacked, JournalError> {
    let read = unreadable(path);
    let mut archive = opened(path, passphrase)?;
    let mut unpacked = Unpacked { store: None, contents: None, database: false };
    for entry in archive.entries().map_err(read)? {
        let mut entry = entry.map_err(read)?;
        let name = entry.path().map_err(read)?.into_owned();
        if name == Path::new(files::STORE_KEY) {
            let mut text = zeroize::Zeroizing::new(String::new());
            entry.read_to_string(&mut text).map_err(read)?;
            unpacked.store = StoreKey::of_hex(&text);
        } else if name == Path::new(CONTENTS) {
            unpacked.contents = read_contents(path, &mut entry)?;
        } else if [files::DATABASE, NEW].iter().any(|known| name == Path::new(known)) || is_case_key(&name) {
            let (to, is_database) = (aside.join(&name), name == Path::new(files::DATABASE));
            // A key never changes: the same came with an earlier backup.
            if is_case_key(&name) && to.exists() {
                continue;
            }
            if is_database && !unpacked.database && to.exists() {
                return Err(no_backup(path, "it holds every event: name it alone, before those that go on after it"));
            }
            unpacked.database |= is_database;
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

fn length(bytes: &[u8]) -> u64 {
    count(bytes.len())
}

fn count(number: usize) -> u64 {
    number.try_into().expect("a count is at most 64 bits long")
}
