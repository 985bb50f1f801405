//! A file of lines through every core, in blocks: what each block comes to is handed over in the order of the file, and
//! no more than a few blocks are in memory at once.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufRead, BufReader, IsTerminal as _, Read as _};
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex};
use std::thread;

use indicatif::{ProgressBar, ProgressStyle};

use crate::diagnostic::Fault;
use crate::document::LINE_LIMIT;

use super::input::Refused;

/// What is done with the lines of a block.
pub(super) trait Fold: Sync {
    /// What a block comes to.
    type Done: Send;

    /// Nothing yet, for a block of this many bytes.
    fn begin(&self, length: usize) -> Self::Done;

    /// Adds a line.
    fn line(&self, line: &str, number: usize, done: &mut Self::Done) -> Result<(), Fatal>;

    /// Adds a line that cannot be read at all.
    fn no_line(&self, message: &str, number: usize, done: &mut Self::Done) -> Result<(), Fatal>;
}

/// The program is at fault; everything ends with exit 70.
#[derive(Debug)]
pub(super) struct Fatal(pub(super) String);

/// How it ended, where the file could be read.
pub(super) enum End {
    /// Every line was taken.
    Whole,
    /// Nobody listens any more.
    PipeClosed,
    /// The program is at fault.
    Fault(String),
}

/// Why what was done is not taken.
pub(super) enum Ended {
    Fault(String),
    PipeClosed,
    Unwritable(io::Error),
}

/// As many as there are cores.
pub(super) fn workers() -> usize {
    thread::available_parallelism().map_or(2, usize::from)
}

/// What follows from an answer that could not be written.
pub(super) fn ended(error: io::Error) -> Ended {
    if error.kind() == io::ErrorKind::BrokenPipe { Ended::PipeClosed } else { Ended::Unwritable(error) }
}

/// Folds the lines of each block on one of the workers, and takes what comes of it in the order of the file. A bar shows
/// how far it is, on a terminal, unless `quiet`.
pub(super) fn fold<F: Fold>(
    path: &Path,
    fold: &F,
    workers: usize,
    quiet: bool,
    take: impl FnMut(F::Done) -> Result<(), Ended> + Send,
) -> Result<End, Refused> {
    let (input, length) = open(path)?;
    let progress = progress(length, quiet);
    let outcome = thread::scope(|scope| {
        let (to_workers, blocks) = sync_channel::<Block>(workers);
        let blocks = Arc::new(Mutex::new(blocks));
        let (to_taker, folded) = sync_channel::<Folded<F::Done>>(workers);
        for _ in 0..workers {
            let (blocks, to_taker) = (Arc::clone(&blocks), to_taker.clone());
            scope.spawn(move || work(&blocks, &to_taker, fold));
        }
        drop(to_taker);
        drop(blocks);
        let bar = &progress;
        let taker = scope.spawn(move || take_in_order(&folded, bar, take));
        let read = read_blocks(input, &to_workers);
        drop(to_workers);
        (read, taker.join())
    });
    progress.finish_and_clear();
    let refused = |error: &io::Error, doing: &str| {
        let fault =
            Fault::new("file-unreadable", format!("{doing}: {error}")).help("look at the file and at the space left");
        Refused::one(&path.display().to_string(), fault)
    };
    match outcome {
        (_, Ok(Err(Ended::Fault(message)))) => Ok(End::Fault(message)),
        (_, Ok(Err(Ended::Unwritable(error)))) => Err(refused(&error, "the answers could not be written")),
        // The reader stops when nobody listens any more: a closed pipe.
        (_, Ok(Err(Ended::PipeClosed))) => Ok(End::PipeClosed),
        (Ok(()), Ok(Ok(()))) => Ok(End::Whole),
        (Err(error), Ok(Ok(()))) => Err(refused(&error, "the file could not be read to its end")),
        (_, Err(_)) => Ok(End::Fault("a part of the program fell over".to_owned())),
    }
}

/// A run of lines with the number of the first.
struct Block {
    order: usize,
    first: usize,
    bytes: Vec<u8>,
    /// Ends of the lines in `bytes`; `None` stands for a line that was too long to be kept.
    lines: Vec<Option<usize>>,
}

struct Folded<D> {
    order: usize,
    done: Result<D, Fatal>,
    read: usize,
}

const BLOCK: usize = 256 * 1024;

/// A line that is longer than this has no end: a device, or a file that holds something else.
const ENDLESS: usize = 64 * 1024 * 1024;

fn open(path: &Path) -> Result<(Box<dyn BufRead>, Option<u64>), Refused> {
    let name = path.display().to_string();
    if path.as_os_str() == "-" {
        return Ok((Box::new(BufReader::new(io::stdin())), None));
    }
    let refuse = |code, message: String, help| Refused::one(&name, Fault::new(code, message).help(help));
    let metadata = std::fs::metadata(path).map_err(|error| {
        refuse("file-unreadable", format!("this file cannot be read: {error}"), "look at its name and permissions")
    })?;
    if metadata.is_dir() {
        return Err(refuse("file-is-folder", "this is a folder, and a file is needed".to_owned(), "name a file in it"));
    }
    let file = File::open(path).map_err(|error| {
        refuse("file-unreadable", format!("this file cannot be read: {error}"), "look at its permissions")
    })?;
    Ok((Box::new(BufReader::with_capacity(BLOCK, file)), Some(metadata.len())))
}

fn progress(length: Option<u64>, quiet: bool) -> ProgressBar {
    if quiet || !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = length.map_or_else(ProgressBar::new_spinner, ProgressBar::new);
    let style = ProgressStyle::with_template("{bar:40} {bytes} of {total_bytes}, {eta} left");
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
    bar
}

fn read_blocks(mut input: Box<dyn BufRead>, to_workers: &SyncSender<Block>) -> io::Result<()> {
    let (mut order, mut number) = (0, 1);
    loop {
        let mut block =
            Block { order, first: number, bytes: Vec::with_capacity(BLOCK + LINE_LIMIT), lines: Vec::new() };
        while block.bytes.len() < BLOCK {
            if !read_line(&mut input, &mut block)? {
                break;
            }
        }
        if block.lines.is_empty() {
            return Ok(());
        }
        order += 1;
        number += block.lines.len();
        if to_workers.send(block).is_err() {
            return Ok(());
        }
    }
}

/// Adds the next line; false at the end. A line that is too long is passed over without being kept.
fn read_line(input: &mut impl BufRead, block: &mut Block) -> io::Result<bool> {
    let before = block.bytes.len();
    let most = u64::try_from(LINE_LIMIT).unwrap_or(u64::MAX) + 2;
    let read = input.by_ref().take(most).read_until(b'\n', &mut block.bytes)?;
    if read == 0 {
        return Ok(false);
    }
    let ended = block.bytes.last() == Some(&b'\n');
    if ended || block.bytes.len() - before <= LINE_LIMIT {
        block.lines.push(Some(block.bytes.len()));
        return Ok(true);
    }
    block.bytes.truncate(before);
    block.lines.push(None);
    let mut passed = 0;
    while passed < ENDLESS {
        let buffer = input.fill_buf()?;
        if buffer.is_empty() {
            return Ok(true);
        }
        let end = buffer.iter().position(|byte| *byte == b'\n');
        let used = end.map_or(buffer.len(), |end| end + 1);
        input.consume(used);
        passed += used;
        if end.is_some() {
            return Ok(true);
        }
    }
    let message = format!("a line goes on for more than {ENDLESS} bytes: this is no file of entries");
    Err(io::Error::new(io::ErrorKind::InvalidData, message))
}

fn work<F: Fold>(blocks: &Mutex<Receiver<Block>>, to_taker: &SyncSender<Folded<F::Done>>, fold: &F) {
    loop {
        let next = blocks.lock().map(|blocks| blocks.recv());
        let Ok(Ok(block)) = next else { return };
        let done = fold_block(&block, fold);
        let ends = done.is_err();
        if to_taker.send(Folded { order: block.order, done, read: block.bytes.len() }).is_err() || ends {
            return;
        }
    }
}

fn fold_block<F: Fold>(block: &Block, fold: &F) -> Result<F::Done, Fatal> {
    let mut done = fold.begin(block.bytes.len());
    let mut start = 0;
    for (index, end) in block.lines.iter().enumerate() {
        let number = block.first + index;
        match end {
            None => {
                let message = format!("the line is longer than {LINE_LIMIT} bytes; write one entry a line");
                fold.no_line(&message, number, &mut done)?;
            }
            Some(end) => {
                let line = block.bytes[start..*end].strip_suffix(b"\n").unwrap_or(&block.bytes[start..*end]);
                start = *end;
                match std::str::from_utf8(line.strip_suffix(b"\r").unwrap_or(line)) {
                    Ok(text) => fold.line(text, number, &mut done)?,
                    Err(error) => {
                        let place = error.valid_up_to() + 1;
                        let message = format!("byte {place} of the line is not UTF-8; write it as UTF-8");
                        fold.no_line(&message, number, &mut done)?;
                    }
                }
            }
        }
    }
    Ok(done)
}

fn take_in_order<D>(
    folded: &Receiver<Folded<D>>,
    progress: &ProgressBar,
    mut take: impl FnMut(D) -> Result<(), Ended>,
) -> Result<(), Ended> {
    let mut waiting: BTreeMap<usize, Folded<D>> = BTreeMap::new();
    let mut next = 0;
    for one in folded {
        waiting.insert(one.order, one);
        while let Some(one) = waiting.remove(&next) {
            next += 1;
            take(one.done.map_err(|Fatal(message)| Ended::Fault(message))?)?;
            progress.inc(u64::try_from(one.read).unwrap_or(0));
        }
    }
    Ok(())
}
