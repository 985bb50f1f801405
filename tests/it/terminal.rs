//! On a real pseudo-terminal: faults are coloured there and nowhere else, and a batch shows how far it is only where
//! nothing else is written.
#![cfg(unix)]

use std::fs::{self, File};
use std::io::Read;
use std::os::fd::OwnedFd;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::thread;

use crate::common::{AT, example, folder, run};
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};

const BAD: &[&str] = &["rate", "--dose", ".5 mcg/kg/min", "--strength", "1 mg/mL"];

#[test]
fn faults_are_coloured_on_a_terminal_and_plain_in_a_pipe() {
    let piped = run(BAD).said();
    assert!(!piped.is_refused().contains('\u{1b}'), "{piped:?}");
    let (drawn, code) = on_terminal(program(BAD).stdin(Stdio::null()).stdout(Stdio::null()), &[Stream::Stderr]);
    assert_eq!(code, 2);
    assert!(drawn.contains("\u{1b}["), "{drawn:?}");
    // Colour is all that differs.
    assert_eq!(without_colour(&drawn), piped.stderr);
}

/// Data is for programs, on a terminal too.
#[test]
fn data_is_never_coloured() {
    let words = [BAD, &["--format", "json"]].concat();
    let (drawn, code) = on_terminal(program(&words).stdin(Stdio::null()), &[Stream::Stdout, Stream::Stderr]);
    assert_eq!(code, 2);
    assert_eq!(drawn, run(&words).said().stderr);
    assert!(!drawn.contains('\u{1b}'), "{drawn:?}");
}

#[test]
fn an_answer_on_a_terminal_is_the_answer_in_a_pipe() {
    let words = ["check", "examples/insulin/first.yaml", "--at", AT, "--formulary", "formulary"];
    let (drawn, code) = on_terminal(program(&words).stdin(Stdio::null()).stderr(Stdio::null()), &[Stream::Stdout]);
    assert_eq!((drawn, code), (run(words).said().stdout, 0));
}

#[test]
fn a_batch_shows_how_far_it_is_where_its_answers_go_into_a_file() {
    let (many, lines) = many("file");
    let answers = many.with_extension("answers");
    let file = File::create(&answers).expect("our own folder");
    let (drawn, code) = on_terminal(batch(&many).stdout(file), &[Stream::Stderr]);
    assert_eq!(code, 0);
    assert!(drawn.contains(" of ") && drawn.contains(" left") && drawn.contains("MiB"), "{drawn:?}");
    // It is gone at the end: the line is cleared, and nothing of it is in the answers.
    assert!(drawn.ends_with("\u{1b}[2K") || drawn.ends_with("\r"), "{drawn:?}");
    whole(&fs::read_to_string(&answers).expect("it was written"), lines);
}

#[test]
fn a_batch_on_the_terminal_itself_shows_answers_only() {
    let (many, lines) = many("terminal");
    let (drawn, code) = on_terminal(&mut batch(&many), &[Stream::Stdout, Stream::Stderr]);
    assert_eq!(code, 0);
    whole(&drawn, lines);
}

#[test]
fn a_batch_in_a_pipe_shows_nothing() {
    let (many, lines) = many("pipe");
    let output = batch(&many).stdout(Stdio::piped()).stderr(Stdio::piped()).output().expect("the program is built");
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    whole(&String::from_utf8(output.stdout).expect("the program writes UTF-8"), lines);
}

enum Stream {
    Stdout,
    Stderr,
}

fn program(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
    command.args(words).current_dir(env!("CARGO_MANIFEST_DIR")).env("TERM", "xterm-256color");
    command.env_remove("COUNTERSIGN_FORMULARY").env_remove("NO_COLOR");
    command
}

fn batch(many: &std::path::Path) -> Command {
    let mut command = program(&["check", "--at", AT, "--formulary", "formulary", "--batch"]);
    command.arg(many).stdin(Stdio::null());
    command
}

/// Runs a command with these streams on a new terminal of 80 columns; gives what was drawn, with plain line ends, and the
/// exit code.
fn on_terminal(command: &mut Command, streams: &[Stream]) -> (String, i32) {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("there are pseudo-terminals");
    grantpt(&master).expect("it is ours");
    unlockpt(&master).expect("it is ours");
    let size = Winsize { ws_row: 24, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 };
    tcsetwinsize(&master, size).expect("it is a terminal");
    let name = ptsname(&master, Vec::new()).expect("it has a name");
    let open = || -> OwnedFd {
        rustix::fs::open(&name, OFlags::RDWR | OFlags::NOCTTY, Mode::empty()).expect("it is unlocked")
    };
    for stream in streams {
        match stream {
            Stream::Stdout => command.stdout(open()),
            Stream::Stderr => command.stderr(open()),
        };
    }
    let mut child = command.spawn().expect("the program is built");
    // The command keeps its ends of the terminal open, and the terminal would never end.
    for stream in streams {
        match stream {
            Stream::Stdout => command.stdout(Stdio::null()),
            Stream::Stderr => command.stderr(Stdio::null()),
        };
    }
    let reader = thread::spawn(move || {
        let (mut master, mut drawn, mut part) = (File::from(master), Vec::new(), [0; 4096]);
        // The last end closed is an error here, not an end.
        while let Ok(read @ 1..) = master.read(&mut part) {
            drawn.extend_from_slice(&part[..read]);
        }
        drawn
    });
    let code = child.wait().expect("it is our child").code().expect("it ended by itself");
    let drawn = String::from_utf8(reader.join().expect("it only reads")).expect("the program writes UTF-8");
    (drawn.replace("\r\n", "\n"), code)
}

fn without_colour(drawn: &str) -> String {
    regex::Regex::new("\u{1b}\\[[0-9;]*m").expect("a pattern").replace_all(drawn, "").into_owned()
}

/// A batch that takes long enough for a bar to be drawn; with its number of lines.
fn many(name: &str) -> (PathBuf, usize) {
    const TIMES: usize = 1500;
    let lines = example("many.jsonl");
    let file = folder(name).join("many.jsonl");
    fs::write(&file, lines.repeat(TIMES)).expect("our own folder");
    (file, lines.lines().count() * TIMES)
}

/// Every line is answered, in order, and no line holds anything else.
#[track_caller]
fn whole(answers: &str, lines: usize) {
    assert!(
        answers.ends_with('\n') && !answers.contains(['\u{1b}', '\r']),
        "{}",
        answers.chars().take(500).collect::<String>()
    );
    assert_eq!(answers.lines().count(), lines);
    let once = run(["check", "--batch", "examples/many.jsonl", "--at", AT, "--formulary", "formulary"]).said().stdout;
    let first: Vec<&str> = once.lines().collect();
    for (number, line) in answers.lines().enumerate() {
        // The place of a fault names the line of its file: that differs.
        let expected = first[number % first.len()].replace("\"line\":3,", &format!("\"line\":{},", number + 1));
        assert_eq!(line, expected, "line {}", number + 1);
    }
}
