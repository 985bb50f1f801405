//! Many entries, one JSON object a line: order kept, all cores, bounded memory. A line that cannot be read is answered
//! too, and the batch goes on.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufRead, BufReader, IsTerminal as _, Read as _, Write};
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex};
use std::thread;

use indicatif::{ProgressBar, ProgressStyle};
use serde::Serialize;

use crate::agreement::{NotComparable, Outcome, agree};
use crate::check::{Checked, Verdict};
use crate::diagnostic::{Fault, Source, json};
use crate::document::{LINE_LIMIT, Node, Path as Place, read_json};
use crate::entry::{Entry, EntryForm};
use crate::formulary::Formulary;
use crate::quantity::Moment;

use super::Exit;
use super::answer::{Answer, RefusedJson};
use super::entry_file::{NoAnswer, check, in_one_line, without_what_was_typed};
use super::input::Refused;
use super::report::{CheckedJson, DisagreeJson, code};

/// What is done with each line.
pub(super) trait Task: Sync {
    /// Appends the answer, without the line break.
    fn answer(&self, line: &str, number: usize, out: &mut Vec<u8>) -> Result<(), Fatal>;

    /// Appends the answer to a line that is no text, or too long.
    fn unreadable(&self, why: &str, out: &mut Vec<u8>) -> Result<(), Fatal> {
        refuse_line(out, why)
    }

    /// Whether each line has an answer of its own; else the lines are counted, and told together at the end.
    const EACH_LINE: bool = true;
}

/// The program is at fault; the batch ends with exit 70.
#[derive(Debug)]
pub(super) struct Fatal(pub(super) String);

/// Each line is one entry.
pub(super) struct Single<'f> {
    pub(super) formulary: &'f Formulary,
    pub(super) now: Moment,
}

/// Each line is a pair of entries.
pub(super) struct Pairs<'f> {
    pub(super) formulary: &'f Formulary,
    pub(super) now: Moment,
}

impl Task for Single<'_> {
    fn answer(&self, line: &str, number: usize, out: &mut Vec<u8>) -> Result<(), Fatal> {
        let mut faults = Vec::new();
        let entry = read_json(line, LINE_LIMIT, &mut faults).and_then(|root| form(&root, Place::Root, &mut faults));
        let Some(entry) = entry.filter(|_| faults.is_empty()) else { return refuse(line, number, faults, out) };
        match check(entry, self.formulary, self.now) {
            Ok(checked) => {
                let verdict = checked.verdict();
                write(out, &CheckedJson::of(&checked, verdict, checked.findings()))
            }
            Err(no_answer) => unanswered(no_answer, out),
        }
    }
}

impl Task for Pairs<'_> {
    fn answer(&self, line: &str, number: usize, out: &mut Vec<u8>) -> Result<(), Fatal> {
        let mut faults = Vec::new();
        let pair = read_json(line, LINE_LIMIT, &mut faults).and_then(|root| pair(&root, &mut faults));
        let Some((first, second)) = pair.filter(|_| faults.is_empty()) else {
            return refuse(line, number, faults.into_iter().map(Fault::blind).collect(), out);
        };
        let check = |entry| -> Result<Checked<'_>, NoAnswer> { check(entry, self.formulary, self.now) };
        let (first, second) = match (check(first), check(second)) {
            (Ok(first), Ok(second)) => (first, second),
            (Err(no_answer), _) | (_, Err(no_answer)) => return unanswered(no_answer, out),
        };
        let answer = |pair: &crate::agreement::Pair<'_>, verdict, out: &mut Vec<u8>| {
            write(out, &CheckedJson::of(pair.first(), verdict, pair.findings()).agreed(true))
        };
        match agree(first, second) {
            Err(NotComparable::RatesDiffer) => Err(Fatal(NotComparable::RatesDiffer.to_string())),
            Err(refused) => {
                refuse(line, number, vec![Fault::new(code(&refused), refused.to_string()).help(refused.help())], out)
            }
            Ok(Outcome::Differ(differ)) => write(out, &DisagreeJson::of(differ.fields())),
            Ok(Outcome::Stopped(pair)) => answer(&pair, Verdict::Stop, out),
            Ok(Outcome::ReasonsMissing(pair)) => answer(&pair, Verdict::Justify, out),
            Ok(Outcome::Agreed(agreed)) => answer(agreed.pair(), Verdict::Proceed, out),
        }
    }
}

/// Answers every line of a file.
pub(super) fn run(path: &Path, task: &impl Task) -> Result<Answer, Refused> {
    let (input, length) = open(path)?;
    let progress = progress(length);
    let workers = thread::available_parallelism().map_or(2, usize::from);
    let outcome = thread::scope(|scope| {
        let (to_workers, blocks) = sync_channel::<Block>(workers);
        let blocks = Arc::new(Mutex::new(blocks));
        let (to_writer, answers) = sync_channel::<Answered>(workers);
        for _ in 0..workers {
            let (blocks, to_writer) = (Arc::clone(&blocks), to_writer.clone());
            scope.spawn(move || work(&blocks, &to_writer, task));
        }
        drop(to_writer);
        drop(blocks);
        let bar = &progress;
        let writer = scope.spawn(move || write_in_order(&answers, bar));
        let read = read_blocks(input, &to_workers);
        drop(to_workers);
        let written = writer.join();
        (read, written)
    });
    progress.finish_and_clear();
    let refused = |error: &io::Error, doing: &str| {
        let fault =
            Fault::new("file-unreadable", format!("{doing}: {error}")).help("look at the file and at the space left");
        Refused::one(&path.display().to_string(), fault)
    };
    match outcome {
        (_, Ok(Err(Ended::Fault(message)))) => Ok(Answer::fault(&message)),
        (_, Ok(Err(Ended::Unwritable(error)))) => Err(refused(&error, "the answers could not be written")),
        // The reader stops when nobody listens any more: a closed pipe.
        (_, Ok(Err(Ended::PipeClosed))) | (Ok(()), Ok(Ok(()))) => Ok(Answer::text(String::new(), Exit::Proceed)),
        (Err(error), Ok(Ok(()))) => Err(refused(&error, "the file could not be read to its end")),
        (_, Err(_)) => Ok(Answer::fault("a part of the program fell over")),
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

struct Answered {
    order: usize,
    bytes: Vec<u8>,
    read: usize,
    fatal: Option<Fatal>,
}

enum Ended {
    Fault(String),
    PipeClosed,
    Unwritable(io::Error),
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

fn progress(length: Option<u64>) -> ProgressBar {
    if !io::stderr().is_terminal() || io::stdout().is_terminal() {
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

fn work(blocks: &Mutex<Receiver<Block>>, to_writer: &SyncSender<Answered>, task: &impl Task) {
    loop {
        let next = blocks.lock().map(|blocks| blocks.recv());
        let Ok(Ok(block)) = next else { return };
        let answered = answer_block(&block, task);
        let ends = answered.fatal.is_some();
        if to_writer.send(answered).is_err() || ends {
            return;
        }
    }
}

fn answer_block<T: Task>(block: &Block, task: &T) -> Answered {
    let mut out = Vec::with_capacity(block.bytes.len() / 2);
    let mut start = 0;
    for (index, end) in block.lines.iter().enumerate() {
        let number = block.first + index;
        let answered = match end {
            None => task
                .unreadable(&format!("the line is longer than {LINE_LIMIT} bytes; write one entry a line"), &mut out),
            Some(end) => {
                let line = block.bytes[start..*end].strip_suffix(b"\n").unwrap_or(&block.bytes[start..*end]);
                start = *end;
                match std::str::from_utf8(line.strip_suffix(b"\r").unwrap_or(line)) {
                    Ok(text) => task.answer(text, number, &mut out),
                    Err(error) => task.unreadable(
                        &format!("byte {} of the line is not UTF-8; write it as UTF-8", error.valid_up_to() + 1),
                        &mut out,
                    ),
                }
            }
        };
        if let Err(fatal) = answered {
            return Answered { order: block.order, bytes: Vec::new(), read: 0, fatal: Some(fatal) };
        }
        if T::EACH_LINE {
            out.push(b'\n');
        }
    }
    Answered { order: block.order, bytes: out, read: block.bytes.len(), fatal: None }
}

fn write_in_order(answers: &Receiver<Answered>, progress: &ProgressBar) -> Result<(), Ended> {
    let mut stdout = io::stdout().lock();
    let mut waiting: BTreeMap<usize, Answered> = BTreeMap::new();
    let mut next = 0;
    for answered in answers {
        waiting.insert(answered.order, answered);
        while let Some(answered) = waiting.remove(&next) {
            next += 1;
            if let Some(Fatal(message)) = answered.fatal {
                return Err(Ended::Fault(message));
            }
            stdout.write_all(&answered.bytes).map_err(ended)?;
            progress.inc(u64::try_from(answered.read).unwrap_or(0));
        }
    }
    stdout.flush().map_err(ended)
}

fn ended(error: io::Error) -> Ended {
    if error.kind() == io::ErrorKind::BrokenPipe { Ended::PipeClosed } else { Ended::Unwritable(error) }
}

fn form(node: &Node<'_>, place: Place<'_>, faults: &mut Vec<Fault>) -> Option<Box<Entry>> {
    EntryForm::at(node, place).read(faults)
}

fn pair(root: &Node<'_>, faults: &mut Vec<Fault>) -> Option<(Box<Entry>, Box<Entry>)> {
    let mut fields = crate::document::Fields::of(root, Place::Root, faults)?;
    let (first, second) = (fields.node("first"), fields.node("second"));
    if first.is_none() {
        let _ = fields.required_item("first");
    }
    if second.is_none() {
        let _ = fields.required_item("second");
    }
    fields.no_others();
    let first = first.and_then(|node| form(node, Place::Root.field("first"), faults));
    let second = second.and_then(|node| form(node, Place::Root.field("second"), faults));
    first.zip(second)
}

fn refuse(line: &str, number: usize, faults: Vec<Fault>, out: &mut Vec<u8>) -> Result<(), Fatal> {
    let faults = without_what_was_typed(faults);
    let source = Source::of_line("line", number, line);
    // What is missing has no place in the line, and the line has one in the file.
    let placed = |fault| {
        let mut data = json::fault(&source, fault);
        if data["line"].is_null() {
            data["line"] = number.into();
        }
        data
    };
    let data = faults.iter().map(placed).collect();
    write(out, &RefusedJson::new(&in_one_line(&faults), data))
}

fn refuse_line(out: &mut Vec<u8>, message: &str) -> Result<(), Fatal> {
    write(out, &RefusedJson::new(message, Vec::new()))
}

fn unanswered(no_answer: NoAnswer, out: &mut Vec<u8>) -> Result<(), Fatal> {
    match no_answer {
        NoAnswer::Refused(refused) => refuse_line(out, &refused.first_message()),
        NoAnswer::Fault(message) => Err(Fatal(message)),
        #[cfg(feature = "journal")]
        NoAnswer::Trouble(_) => Err(Fatal("a batch has no journal".to_owned())),
    }
}

fn write(out: &mut Vec<u8>, value: &impl Serialize) -> Result<(), Fatal> {
    serde_json::to_writer(out, value).map_err(|error| Fatal(error.to_string()))
}
