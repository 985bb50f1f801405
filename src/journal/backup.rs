//! The whole journal in one file under a passphrase. Out: an age file (passphrase recipient) around a tar archive of the
//! database, the store key and the case keys, so that it can be opened by hand where this program is lost. In: the same,
//! into a new folder, which gets its name only once the whole chain was verified.

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
use super::keys::{self, Keys, StoreKey};
use super::{Head, Journal, JournalError, Of, Verified, VerifyError, files, read, schema};

/// One try of a passphrase costs 2^17 x 1 KiB of memory (OWASP Password Storage Cheat Sheet: scrypt).
const WORK: u8 = 17;
/// What a file may ask for at most.
const MOST_WORK: u8 = 20;

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
        super::sweep::sweep_half_made(&self.folder);
        super::sweep::sweep_beside(file);
        // The database first: a key is written before the first event of its scope, so none is missing.
        let (snapshot, head) = self.snapshot()?;
        let aside = Aside::new(files::beside(file, &keys::random::<8>()?))?;
        let out = aside.1.try_clone().map_err(JournalError::file(file))?;
        self.write_backup(out, &snapshot.0, passphrase).map_err(JournalError::file(file))?;
        fs::rename(&aside.0, file).and_then(|()| files::sync_folder_of(file)).map_err(JournalError::file(file))?;
        Ok(head)
    }

    fn snapshot(&self) -> Result<(Aside, Head), JournalError> {
        let path = self.folder.join(format!(".snapshot.{}", data_encoding::HEXLOWER.encode(&keys::random::<8>()?)));
        // Made beforehand, so that nobody else may read it; SQLite fills an empty file.
        let snapshot = Aside::new(path)?;
        let name = snapshot.0.to_str().ok_or_else(|| JournalError::NotWritable { path: snapshot.0.clone() })?;
        self.connection.execute("VACUUM INTO ?1", [name])?;
        let head = read::last(&Connection::open(&snapshot.0)?, &self.id, &self.keys)?.head();
        Ok((snapshot, head))
    }

    fn write_backup(&self, out: File, snapshot: &Path, passphrase: &str) -> io::Result<()> {
        let mut recipient = scrypt::Recipient::new(SecretString::from(passphrase));
        recipient.set_work_factor(WORK);
        let encryptor = Encryptor::with_recipients(iter::once(&recipient as _)).map_err(io::Error::other)?;
        let mut archive = tar::Builder::new(encryptor.wrap_output(BufWriter::new(out))?);
        let mut database = File::open(snapshot)?;
        append(&mut archive, files::DATABASE.into(), database.metadata()?.len(), &mut database)?;
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
    let mut half_made = HalfMade::beside(folder)?;
    let aside = half_made.folder().to_owned();
    let case_keys = files::case_keys(&aside);
    files::create_folder(&case_keys).map_err(JournalError::file(&case_keys))?;
    let store = unpack(file, &aside, passphrase)?;
    half_made.keep_store_key(&store)?;
    let database = files::database(&aside);
    let journal = Journal::opened(aside, schema::open(&database)?, Keys::of(store, &case_keys))?;
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

/// Writes the files into `aside`; the store key is given back.
fn unpack(path: &Path, aside: &Path, passphrase: &str) -> Result<StoreKey, JournalError> {
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
    let (mut store, mut database) = (None, false);
    for entry in archive.entries().map_err(read)? {
        let mut entry = entry.map_err(read)?;
        let name = entry.path().map_err(read)?.into_owned();
        if name == Path::new(files::STORE_KEY) {
            let mut text = zeroize::Zeroizing::new(String::new());
            entry.read_to_string(&mut text).map_err(read)?;
            store = StoreKey::of_hex(&text);
        } else if name == Path::new(files::DATABASE) || is_case_key(&name) {
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
    store.ok_or_else(|| no_backup("there is no store key in it"))
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
