//! A million entries through the real program, against merely parsing the same lines into a struct of owned strings on
//! one thread, in the same run. `cargo bench --bench batch [-- LINES]`.
//!
//! Wanted: at most 1.5 times the parse, and less than 100 MB of memory whatever the length.
#![expect(
    clippy::print_stdout,
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "a benchmark prints what it measured"
)]

use std::fs::File;
use std::hint::black_box;
use std::io::{BufWriter, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use countersign::formulary::Formulary;
use countersign::quantity::Moment;
use countersign::upkeep::survey;
use serde::Deserialize;

#[derive(Deserialize)]
#[expect(dead_code, reason = "parsed and dropped: that is what is measured")]
struct Owned {
    entered_by: OwnedPerson,
    entered_at: String,
    patient: OwnedPatient,
    drug: String,
    area: String,
    indication: Option<String>,
    phase: String,
    dose: String,
    label: OwnedLabel,
    made_from: Option<OwnedMade>,
    drawn_up_at: String,
    access: String,
    container: String,
    fill: String,
    line: String,
    line_filled: String,
    driver: String,
    starts_at: String,
    planned_for: String,
}

#[derive(Deserialize)]
#[expect(dead_code, reason = "parsed and dropped")]
struct OwnedPerson {
    name: String,
    role: String,
}

#[derive(Deserialize)]
#[expect(dead_code, reason = "parsed and dropped")]
struct OwnedPatient {
    identifiers: Vec<String>,
    weight: String,
    weight_from: String,
    age: String,
}

#[derive(Deserialize)]
#[expect(dead_code, reason = "parsed and dropped")]
struct OwnedLabel {
    amount: String,
    volume: String,
    strength: String,
}

#[derive(Deserialize)]
#[expect(dead_code, reason = "parsed and dropped")]
struct OwnedMade {
    ampoules: String,
    of: String,
    diluent: Option<String>,
    how: String,
}

fn main() {
    let lines: usize = std::env::args().skip(1).find_map(|arg| arg.parse().ok()).unwrap_or(1_000_000);
    let file = std::env::temp_dir().join(format!("countersign-bench-{}.jsonl", std::process::id()));
    write_entries(&file, lines);
    let mut parse = Duration::MAX;
    let mut batch = Duration::MAX;
    let mut peak = 0;
    for _ in 0..3 {
        parse = parse.min(parse_once(&file));
        let (took, memory) = batch_once(&file);
        batch = batch.min(took);
        peak = peak.max(memory);
    }
    let ratio = batch.as_secs_f64() / parse.as_secs_f64();
    println!("{lines} entries, best of 3");
    println!("parse into owned strings, one thread: {:.3} s", parse.as_secs_f64());
    println!(
        "check --batch, every core:            {:.3} s   {ratio:.2} x   peak {:.1} MB",
        batch.as_secs_f64(),
        peak as f64 / 1024.0
    );
    let _ = std::fs::remove_file(file);
}

fn write_entries(file: &Path, lines: usize) {
    let formulary = Formulary::demonstration().expect("the demonstration has no fault");
    let at = Moment::parse("2026-03-14T07:40:00+00:00").expect("a moment");
    let usual = survey::lines(&formulary, at).expect("the demonstration has no fault");
    let mut out = BufWriter::new(File::create(file).expect("the temporary folder can be written"));
    for line in usual.iter().cycle().take(lines) {
        writeln!(out, "{line}").expect("the disk has room");
    }
}

fn parse_once(file: &Path) -> Duration {
    use std::io::BufRead as _;
    let start = Instant::now();
    let mut reader = std::io::BufReader::with_capacity(256 * 1024, File::open(file).expect("just written"));
    let mut line = String::new();
    let mut drugs = 0;
    while reader.read_line(&mut line).expect("just written") > 0 {
        let owned: Owned = serde_json::from_str(&line).expect("written by a JSON writer");
        drugs += black_box(owned).drug.len();
        line.clear();
    }
    black_box(drugs);
    start.elapsed()
}

/// The time from start to end of the process, and its largest resident memory in KiB as the kernel counted it.
fn batch_once(file: &Path) -> (Duration, u64) {
    let start = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(["check", "--formulary", "demonstration", "--at", "2026-03-14T07:45:00+00:00", "--batch"])
        .arg(file)
        .stdout(Stdio::null())
        .spawn()
        .expect("the program starts");
    let mut peak = 0;
    let status = Path::new("/proc").join(child.id().to_string()).join("status");
    loop {
        peak = peak.max(high_water(&status));
        if child.try_wait().expect("our own child").is_some() {
            return (start.elapsed(), peak);
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn high_water(status: &Path) -> u64 {
    let text = std::fs::read_to_string(status).unwrap_or_default();
    let line = text.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)).and_then(|kib| kib.parse().ok()).unwrap_or(0)
}
