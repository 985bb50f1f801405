//! The files of a journal: where they are, who may read them, and that they are on the disk before anything goes on.

use std::env;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Seek as _, Write as _};
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

use super::JournalError;

pub(super) const DATABASE: &str = "journal.db";
pub(super) const STORE_KEY: &str = "store.key";
pub(super) const CASE_KEYS: &str = "case-keys";
const STORE_KEY_ELSEWHERE: &str = "COUNTERSIGN_STORE_KEY";

pub(super) fn database(folder: &Path) -> PathBuf {
    folder.join(DATABASE)
}

pub(super) fn store_key(folder: &Path) -> PathBuf {
    store_key_elsewhere().unwrap_or_else(|| folder.join(STORE_KEY))
}

/// Where the environment says that the store key is.
pub(super) fn store_key_elsewhere() -> Option<PathBuf> {
    env::var_os(STORE_KEY_ELSEWHERE).filter(|path| !path.is_empty()).map(PathBuf::from)
}

pub(super) fn case_keys(folder: &Path) -> PathBuf {
    folder.join(CASE_KEYS)
}

/// The folder of what people have typed and not sealed, beside the database.
pub const DRAFTS: &str = "drafts";

/// How the names of drafts of a scope begin: they go when it is forgotten.
#[must_use]
pub fn drafts_of(scope: &str) -> String {
    format!("{}-", &super::Hash::of(format!("drafts of {scope}").as_bytes()).to_string()[..16])
}

/// Takes away what was typed for a scope and not sealed. It is sealed under keys that stay, so it is overwritten too.
pub(super) fn remove_drafts(folder: &Path, scope: &str) -> Result<(), JournalError> {
    let (drafts, begins) = (folder.join(DRAFTS), drafts_of(scope));
    let Ok(files) = fs::read_dir(&drafts) else { return Ok(()) };
    for path in files.flatten().map(|file| file.path()) {
        if path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(&begins)) {
            erase(&path).map_err(JournalError::file(&path))?;
        }
    }
    Ok(())
}

/// A new file that nobody else may read, on the disk with its name when this returns.
pub(super) fn write_new(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = create_new(path)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    sync_folder_of(path)
}

/// An empty new file that nobody else may read.
pub(super) fn create_new(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).read(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    options.open(path)
}

/// A folder that nobody else may enter.
pub(super) fn create_folder(path: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt as _;
        builder.mode(0o700);
    }
    builder.create(path)
}

/// Overwrites a file, takes its name away, and lets both reach the disk. What a file system or a disk keeps of the old
/// bytes elsewhere is beyond a program's reach.
pub(super) fn erase(path: &Path) -> io::Result<()> {
    let mut file = OpenOptions::new().write(true).open(path)?;
    let length = file.metadata()?.len();
    file.seek(io::SeekFrom::Start(0))?;
    io::copy(&mut io::Read::take(io::repeat(0), length), &mut file)?;
    file.sync_all()?;
    drop(file);
    fs::remove_file(path)?;
    sync_folder_of(path)
}

pub(super) fn sync_folder_of(path: &Path) -> io::Result<()> {
    match path.parent() {
        Some(folder) if folder.as_os_str().is_empty() => sync_folder(Path::new(".")),
        Some(folder) => sync_folder(folder),
        None => Ok(()),
    }
}

/// A new name is lost with the power until its folder has reached the disk.
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}

/// Refuses a secret that others can read.
pub(super) fn only_ours(path: &Path) -> Result<(), JournalError> {
    match open_to_others(path).map_err(JournalError::file(path))? {
        Some(mode) => Err(JournalError::OpenToOthers { path: path.to_owned(), mode }),
        None => Ok(()),
    }
}

/// The mode of a file that others can read; nothing where they cannot.
///
/// # Errors
/// When nothing is known of the file.
pub fn open_to_others(path: &Path) -> io::Result<Option<u32>> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // A service manager hands a credential over in a folder that this service alone may enter, and gives it to the
        // service by an access list, which shows as a right of the group.
        let handed_over = env::var_os("CREDENTIALS_DIRECTORY").filter(|folder| !folder.is_empty());
        let is_credential = handed_over.is_some_and(|folder| path.starts_with(folder));
        let mode = fs::metadata(path)?.permissions().mode() & 0o777;
        let others = if is_credential { 0o037 } else { 0o077 };
        Ok((mode & others != 0).then_some(mode))
    }
    #[cfg(not(unix))]
    {
        fs::metadata(path).map(|_| None)
    }
}

/// A folder beside `folder`, to be filled and then given its name at once.
pub(super) fn beside(folder: &Path, random: &[u8]) -> PathBuf {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    folder.with_file_name(format!(".{name}.{}", data_encoding::HEXLOWER.encode(random)))
}

/// Whether nothing is there, or an empty folder.
#[must_use]
pub fn is_free(folder: &Path) -> bool {
    match fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_none(),
        Err(error) => error.kind() == io::ErrorKind::NotFound,
    }
}

impl From<rusqlite::Error> for JournalError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Locked,
            Some(ErrorCode::DiskFull) => Self::Full,
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
                Self::NotWritable { path: DATABASE.into() }
            }
            Some(ErrorCode::SystemIoFailure) => {
                Self::File { path: DATABASE.into(), error: io::Error::other(error.to_string()) }
            }
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged { why: error.to_string() },
            // The table itself was taken away or changed.
            _ if error.to_string().contains("no such ") => Self::Damaged { why: error.to_string() },
            _ => match error {
                // What is kept has another type than the table allows.
                rusqlite::Error::InvalidColumnType(..)
                | rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::Utf8Error(..) => Self::Damaged { why: error.to_string() },
                _ => Self::Database(error),
            },
        }
    }
}
