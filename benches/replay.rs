//! A replay of a million invented entries against `check --batch` of the same lines, by the real program in the same run.
//! `cargo bench --bench replay [-- LINES | --small]`.
//!
//! Wanted: at most three times the check, since each entry is checked twice and counted; and less than 100 MB of memory
//! whatever the length, no more for all lines than for a tenth of them and a little.
#![expect(
    clippy::print_stdout,
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "a benchmark prints what it measured"
)]

mod common;

use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::Path;
use std::process::ExitCode;

use common::{Arguments, Held, built, run_program};
use countersign::formulary::Formulary;
use countersign::pharmacy::sample::Sample;
use countersign::quantity::Moment;

const AT: &str = "2026-01-15T08:05:00+00:00";

/// From 1.2 to 1.7 with a dozen compilers busy on two cores: each entry is read once and checked twice.
const LIMIT: f64 = 2.5;

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let lines = arguments.count(0, 40_000, 1_000_000);
    let name =
        |what: &str| std::env::temp_dir().join(format!("countersign-replay-{what}-{}.jsonl", std::process::id()));
    let (all, tenth) = (name("all"), name("tenth"));
    write_entries(&all, lines);
    let check = ["check", "--formulary", "demonstration", "--at", AT, "--batch"];
    let replay = ["formulary", "replay", "demonstration", "--against", "demonstration", "--at", AT];
    if arguments.small() {
        let held = Held::in_processor_time(5, || _ = run_program(&check, &all), || _ = run_program(&replay, &all));
        let _ = std::fs::remove_file(&all);
        return held.verdict("replay", LIMIT);
    }
    let mut peak = 0;
    let replayed = || {
        let (took, memory) = run_program(&replay, &all);
        peak = peak.max(memory);
        took
    };
    let held = Held::shortest(3, || run_program(&check, &all).0, replayed);
    let _ = std::fs::remove_file(&all);
    write_entries(&tenth, lines / 10);
    let (_, peak_of_tenth) = run_program(&replay, &tenth);
    let _ = std::fs::remove_file(tenth);
    println!("{lines} entries, best of 3, profile {}", built());
    println!("check --batch:    {:.3} s", held.reference.as_secs_f64());
    println!(
        "formulary replay: {:.3} s   {:.2} x   peak {:.1} MB, of a tenth {:.1} MB",
        held.measured.as_secs_f64(),
        held.ratio(),
        peak as f64 / 1024.0,
        peak_of_tenth as f64 / 1024.0
    );
    ExitCode::SUCCESS
}

fn write_entries(file: &Path, lines: usize) {
    let formulary = Formulary::demonstration().expect("the demonstration has no fault");
    let at = Moment::parse("2026-01-15T08:00:00+00:00").expect("a moment");
    let mut sample = Sample::new(&formulary, 1, at).expect("the demonstration has uses");
    let mut out = BufWriter::new(File::create(file).expect("the temporary folder can be written"));
    for _ in 0..lines {
        writeln!(out, "{}", sample.next_entry().expect("an entry")).expect("the disk has room");
    }
}
