//! A replay of a million invented entries against `check --batch` of the same lines, by the real program in the same run.
//! `cargo bench --bench replay [-- LINES]`.
//!
//! Wanted: at most three times the check, since each entry is checked twice and counted; and less than 100 MB of memory
//! whatever the length, no more for all lines than for a tenth of them and a little.
#![expect(
    clippy::print_stdout,
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "a benchmark prints what it measured"
)]

use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use countersign::formulary::Formulary;
use countersign::quantity::Moment;
use countersign::upkeep::sample::Sample;

const AT: &str = "2026-01-15T08:05:00+00:00";

fn main() {
    let lines: usize = std::env::args().skip(1).find_map(|arg| arg.parse().ok()).unwrap_or(1_000_000);
    let name =
        |what: &str| std::env::temp_dir().join(format!("countersign-replay-{what}-{}.jsonl", std::process::id()));
    let (all, tenth) = (name("all"), name("tenth"));
    write_entries(&all, lines);
    write_entries(&tenth, lines / 10);
    let check = ["check", "--formulary", "demonstration", "--at", AT, "--batch"];
    let replay = ["formulary", "replay", "demonstration", "--against", "demonstration", "--at", AT];
    let (mut checked, mut replayed, mut peak) = (Duration::MAX, Duration::MAX, 0);
    for _ in 0..3 {
        checked = checked.min(once(&check, &all).0);
        let (took, memory) = once(&replay, &all);
        replayed = replayed.min(took);
        peak = peak.max(memory);
    }
    let (_, peak_of_tenth) = once(&replay, &tenth);
    println!("{lines} entries, best of 3");
    println!("check --batch:    {:.3} s", checked.as_secs_f64());
    println!(
        "formulary replay: {:.3} s   {:.2} x   peak {:.1} MB, of a tenth {:.1} MB",
        replayed.as_secs_f64(),
        replayed.as_secs_f64() / checked.as_secs_f64(),
        peak as f64 / 1024.0,
        peak_of_tenth as f64 / 1024.0
    );
    let _ = std::fs::remove_file(all);
    let _ = std::fs::remove_file(tenth);
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

/// The time from start to end of the process, and its largest resident memory in KiB as the kernel counted it.
fn once(arguments: &[&str], file: &Path) -> (Duration, u64) {
    let start = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(arguments)
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
