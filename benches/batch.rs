//! A million entries through the real program, against merely parsing the same lines into a struct of owned strings on
//! one thread, in the same run. `cargo bench --bench batch [-- LINES | --small]`.
//!
//! Wanted: at most 1.5 times the parse, and less than 100 MB of memory whatever the length.
#![expect(
    clippy::print_stdout,
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "a benchmark prints what it measured"
)]

mod common;

use std::fs::File;
use std::hint::black_box;
use std::io::{BufWriter, Write as _};
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use common::{Arguments, Held, built, run_program};
use countersign::formulary::Formulary;
use countersign::pharmacy::survey;
use countersign::quantity::Moment;
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

/// From 3.7 to 4.9, the most with a dozen compilers busy on two cores, at the end of November 2026; what did twice the work for an
/// entry was at 9 and more.
const LIMIT: f64 = 6.5;

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let lines = arguments.count(0, 60_000, 1_000_000);
    let file = std::env::temp_dir().join(format!("countersign-bench-{}.jsonl", std::process::id()));
    write_entries(&file, lines);
    let check = ["check", "--formulary", "demonstration", "--at", "2026-03-14T07:45:00+00:00", "--batch"];
    if arguments.small() {
        let held = Held::in_processor_time(5, || _ = parse_once(&file), || _ = run_program(&check, &file));
        let _ = std::fs::remove_file(&file);
        return held.verdict("batch", LIMIT);
    }
    let mut peak = 0;
    let batch = || {
        let (took, memory) = run_program(&check, &file);
        peak = peak.max(memory);
        took
    };
    let held = Held::shortest(3, || parse_once(&file), batch);
    let _ = std::fs::remove_file(&file);
    println!("{lines} entries, best of 3, profile {}", built());
    println!("parse into owned strings, one thread: {:.3} s", held.reference.as_secs_f64());
    println!(
        "check --batch, every core:            {:.3} s   {:.2} x   peak {:.1} MB",
        held.measured.as_secs_f64(),
        held.ratio(),
        peak as f64 / 1024.0
    );
    ExitCode::SUCCESS
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
