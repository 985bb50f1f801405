//! The whole journal in one file under a passphrase. Out: an age file (passphrase recipient) around a tar archive of the
//! database, the chain of accesses, the store key and the case keys, so that it can be opened by hand where this program is
//! lost. In: the same, into a new folder, which gets its name only once the whole chain was verified; that it was restored is
//! its next event.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write as _};
use std::iter;
use std::path::{Path, PathBuf};

use age::secrecy::SecretString;
use age::{DecryptError, Decryptor, Encryptor, scrypt};
use rusqlite::Connection;

use super::access;
use super::created::HalfMade;
use super::event::{KIND_FORGOTTEN, KIND_RESTORED};
use super::keys::{self, Keys, StoreKey};
use super::restored::RestoredBody;
use super::{Head, Journal, JournalError, NewEvent, Of, Verified, VerifyError, files, read, schema};
use crate::quantity::Moment;

/// One try of a passphrase costs 2^17 x 1 KiB of memory (OWASP Password Storage Cheat Sheet: scrypt).
const WORK: u8 = 17;
/// What a file may ask for at most.
const MOST_WORK: u8 = 20;

/// What says when a backup was made.
const MADE: &str = "made.txt";

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
        let aside = Aside::new(files::beside(file, &keys::random::<8>()?))?;
        let out = aside.1.try_clone().map_err(JournalError::file(file))?;
        let (accesses, accesses_left_out) = match self.snapshot_of_accesses() {
            Ok(accesses) => (Some(accesses), None),
            Err(error) => (None, Some(error)),
        };
        let accesses = accesses.as_ref().map(|aside| &*aside.0);
        self.write_backup(out, &snapshot.0, accesses, passphrase, now).map_err(JournalError::file(file))?;
        fs::rename(&aside.0, file).and_then(|()| files::sync_folder_of(file)).map_err(JournalError::file(file))?;
        Ok(BackedUp { head, accesses_left_out })
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
        snapshot: &Path,
        accesses: Option<&Path>,
        passphrase: &str,
        now: Moment,
    ) -> io::Result<()> {
        let mut recipient = scrypt::Recipient::new(SecretString::from(passphrase));
        recipient.set_work_factor(WORK);
        let encryptor = Encryptor::with_recipients(iter::once(&recipient as _)).map_err(io::Error::other)?;
        let mut archive = tar::Builder::new(encryptor.wrap_output(BufWriter::new(out))?);
        let mut database = File::open(snapshot)?;
        append(&mut archive, files::DATABASE.into(), database.metadata()?.len(), &mut database)?;
        if let Some(accesses) = accesses {
            let mut accesses = File::open(accesses)?;
            append(&mut archive, access::DATABASE.into(), accesses.metadata()?.len(), &mut accesses)?;
        }
        let made = now.to_utc();
        append(&mut archive, MADE.into(), length(made.as_bytes()), &mut made.as_bytes())?;
        let store = self.keys.store().to_hex();
        append(&mut archive, files::STORE_KEY.into(), length(store.as_bytes()), &mut store.as_bytes())?;
        let mut paths: Vec<PathBuf> =
            fs::read_dir(self.keys.folder())?.map(|entry| Ok(entry?.path())).collect::<io::Result<_>>()?;
        paths.sort();
        for path in paths.iter().filter(|path| path.extension().is_some_and(|end| end == "key")) {
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
    let mut half_made = HalfMade::beside(folder)?;
    let aside = half_made.folder().to_owned();
    let case_keys = files::case_keys(&aside);
    files::create_folder(&case_keys).map_err(JournalError::file(&case_keys))?;
    let (store, made) = unpack(file, &aside, passphrase)?;
    half_made.keep_store_key(&store)?;
    let database = files::database(&aside);
    let mut journal = Journal::opened(aside, schema::open(&database)?, Keys::of(store, &case_keys))?;
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

/// Writes the files into `aside`; the store key is given back, and when the backup was made.
fn unpack(path: &Path, aside: &Path, passphrase: &str) -> Result<(StoreKey, Option<Moment>), JournalError> {
    let no_backup = |why: &str| JournalError::NotABackup { path: path.to_owned(), why: why.to_owned() };
    let read = |error: io::Error| match error.kind() {
        io::ErrorKind::InvalidData
        | io::ErrorKind::UnexpectedEof
        | io::ErrorKind::InvalidInput
        | io::ErrorKind::Other => no_backup(&format!("it was cut off or changed ({error})")),
        _ => JournalError::file(path)(error),
    };
    let refuse = |error: DecryptError| match error {
        DecryptError::DecryptionFailed | DecryptError::KeyDecryptionFailed | DecryptError::NoMatchingKeys => {
            JournalError::WrongPassphrase { path: path.to_owned() }
        }
        DecryptError::Io(error) => read(error),
        error => no_backup(&error.to_string()),
    };
    let file = BufReader::new(File::open(path).map_err(JournalError::file(path))?);
    let decryptor = Decryptor::new_buffered(file).map_err(refuse)?;
    if !decryptor.is_scrypt() {
        return Err(no_backup("it is not under a passphrase"));
    }
    let mut identity = scrypt::Identity::new(SecretString::from(passphrase));
    identity.set_max_work_factor(MOST_WORK);
    let mut archive = tar::Archive::new(decryptor.decrypt(iter::once(&identity as _)).map_err(refuse)?);
    let (mut store, mut database, mut made) = (None, false, None);
    for entry in archive.entries().map_err(read)? {
        let mut entry = entry.map_err(read)?;
        let name = entry.path().map_err(read)?.into_owned();
        if name == Path::new(files::STORE_KEY) {
            let mut text = zeroize::Zeroizing::new(String::new());
            entry.read_to_string(&mut text).map_err(read)?;
            store = StoreKey::of_hex(&text);
        } else if name == Path::new(MADE) {
            let mut text = String::new();
            entry.read_to_string(&mut text).map_err(read)?;
            made = Some(Moment::parse(&text).map_err(|_| no_backup("it does not say when it was made"))?);
        } else if name == Path::new(files::DATABASE) || name == Path::new(access::DATABASE) || is_case_key(&name) {
            database |= name == Path::new(files::DATABASE);
            let to = aside.join(&name);
            let mut out = files::create_new(&to).map_err(JournalError::file(&to))?;
            // What cannot be read is the backup's fault, what cannot be written the folder's.
            copy(&mut entry, &mut out, read, JournalError::file(&to))?;
        } else {
            return Err(no_backup(&format!("there is `{}` in it", name.display())));
        }
    }
    // Only the last block says that the file is whole.
    io::copy(&mut archive.into_inner(), &mut io::sink()).map_err(read)?;
    if !database {
        return Err(no_backup("there is no database in it"));
    }
    Ok((store.ok_or_else(|| no_backup("there is no store key in it"))?, made))
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
