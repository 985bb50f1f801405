//! Where checkpoints go by themselves: folders, best on other machines, and programs. In: the line of a checkpoint. Out: it
//! is there, on the disk, or why not; and what a folder holds already.

use std::fs::{self, OpenOptions};
use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use super::checkpoint::{Checkpoint, WHAT};
use super::{Head, Journal, JournalError};
use crate::quantity::Moment;

/// A program that takes a checkpoint has this long.
const PROGRAM_TIME: Duration = Duration::from_secs(20);

/// So much of a file of checkpoints is read back: thousands of the newest.
const READ_BACK: u64 = 1024 * 1024;

/// A place outside the journal to which checkpoints go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CheckpointPlace {
    /// A file in this folder gets a line more each time.
    Folder(PathBuf),
    /// A program gets the line on its standard input. It is started as it is, by no shell.
    Program(PathBuf),
}

impl CheckpointPlace {
    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        match self {
            Self::Folder(path) | Self::Program(path) => path,
        }
    }

    fn take(&self, journal: &str, line: &str) -> io::Result<()> {
        match self {
            Self::Folder(folder) => append(&file(folder, journal), line),
            Self::Program(program) => give(program, line),
        }
    }
}

fn file(folder: &Path, journal: &str) -> PathBuf {
    folder.join(format!("{journal}.checkpoints"))
}

fn append(path: &Path, line: &str) -> io::Result<()> {
    let mut file = OpenOptions::new().create(true).read(true).append(true).open(path)?;
    let mut whole = format!("{line}\n");
    // Half a line, left by a machine that fell over, stays a line of its own.
    if file.seek(SeekFrom::End(0))? > 0 {
        file.seek(SeekFrom::End(-1))?;
        let mut last = [0];
        file.read_exact(&mut last)?;
        if last != *b"\n" {
            whole.insert(0, '\n');
        }
    }
    file.write_all(whole.as_bytes())?;
    file.sync_all()
}

fn give(program: &Path, line: &str) -> io::Result<()> {
    let mut process =
        Command::new(program).stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null()).spawn()?;
    let written = process.stdin.take().map_or(Ok(()), |mut stdin| writeln!(stdin, "{line}"));
    let began = Instant::now();
    let status = loop {
        if let Some(status) = process.try_wait()? {
            break status;
        }
        if began.elapsed() > PROGRAM_TIME {
            process.kill()?;
            process.wait()?;
            return Err(io::Error::new(io::ErrorKind::TimedOut, "it did not end within 20 s"));
        }
        std::thread::sleep(Duration::from_millis(20));
    };
    if !status.success() {
        return Err(io::Error::other(format!("it ended with {status}")));
    }
    written
}

impl Journal {
    /// Gives a checkpoint to every place, and the head of the accesses to every folder. A place that fails keeps no other
    /// from it.
    ///
    /// # Errors
    /// [`JournalError`] when the journal cannot be read; beside the head, each place that failed, with the reason.
    pub fn keep_elsewhere(
        &self,
        places: &[CheckpointPlace],
        now: Moment,
    ) -> Result<(Head, Vec<(PathBuf, io::Error)>), JournalError> {
        let head = self.head()?;
        let line = self.signed_head(head, now);
        let chain = self.chain_of_accesses();
        let accesses = self.accesses().and_then(|log| log.head()).ok().flatten();
        let of_accesses = accesses.map(|head| self.signed_head_of(&chain, head, now));
        let take = |place: &CheckpointPlace| {
            place.take(&self.id, &line)?;
            match (&of_accesses, place) {
                (Some(line), CheckpointPlace::Folder(_)) => place.take(&chain, line),
                _ => Ok(()),
            }
        };
        let failed = places.iter().filter_map(|place| Some((place.path().to_owned(), take(place).err()?)));
        Ok((head, failed.collect()))
    }

    /// The newest checkpoints that a folder holds; none of a program.
    ///
    /// # Errors
    /// [`JournalError`] when the folder cannot be read, or a line is not as the store signed it.
    pub fn kept_at(&self, place: &CheckpointPlace) -> Result<Vec<Checkpoint>, JournalError> {
        self.kept_of(&self.id, place)
    }

    /// The same of the chain of accesses.
    ///
    /// # Errors
    /// As for [`Journal::kept_at`].
    pub fn accesses_kept_at(&self, place: &CheckpointPlace) -> Result<Vec<Checkpoint>, JournalError> {
        self.kept_of(&self.chain_of_accesses(), place)
    }

    fn chain_of_accesses(&self) -> String {
        format!("{}-accesses", self.id)
    }

    fn kept_of(&self, chain: &str, place: &CheckpointPlace) -> Result<Vec<Checkpoint>, JournalError> {
        let CheckpointPlace::Folder(folder) = place else { return Ok(Vec::new()) };
        let path = file(folder, chain);
        let failed = JournalError::file(&path);
        fs::metadata(folder).map_err(JournalError::file(folder))?;
        if !path.exists() {
            return Ok(Vec::new());
        }
        let mut file = fs::File::open(&path).map_err(&failed)?;
        let length = file.metadata().map_err(&failed)?.len();
        file.seek(SeekFrom::Start(length.saturating_sub(READ_BACK))).map_err(&failed)?;
        let mut bytes = Vec::new();
        file.take(READ_BACK).read_to_end(&mut bytes).map_err(&failed)?;
        let text = String::from_utf8_lossy(&bytes);
        // The first may begin in the middle, and one that a machine was writing when it fell over ends there.
        let whole = text.lines().zip(1..).filter(|(line, _)| line.starts_with('{') && line.ends_with('}'));
        whole.map(|(line, number)| self.read_checkpoint_of(chain, line, WHAT, number)).collect()
    }
}
