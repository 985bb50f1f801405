//! What the benchmarks share: what was asked on the command line, times taken turn by turn beside a reference, and the
//! verdict on their ratio.
//!
//! `--small` measures less, in seconds, and prints the ratio alone; beyond its limit the process fails. It counts processor
//! time, of all threads together, and not the time on the clock: that hardly changes where other processes are busy on every
//! core. A limit is there to notice what has become nearly twice as slow, not to measure.
#![allow(dead_code, reason = "each benchmark uses a part of it")]

use std::path::Path;
use std::process::{Child, Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

/// The words behind `cargo bench --bench NAME --`.
pub(crate) struct Arguments(Vec<String>);

impl Arguments {
    pub(crate) fn read() -> Self {
        Self(std::env::args().skip(1).collect())
    }

    /// Whether the short measure is asked for.
    pub(crate) fn small(&self) -> bool {
        self.0.iter().any(|word| word == "--small")
    }

    /// The number in this place, else as many as the measure usually takes.
    pub(crate) fn count(&self, place: usize, small: usize, usual: usize) -> usize {
        let typed = self.0.iter().filter_map(|word| word.parse().ok()).nth(place);
        typed.unwrap_or(if self.small() { small } else { usual })
    }

    /// Another build of the program.
    pub(crate) fn program(&self) -> Option<&str> {
        self.0.iter().map(String::as_str).find(|word| word.contains('/'))
    }
}

/// The reference and what is held against it.
#[derive(Clone, Copy)]
pub(crate) struct Held {
    pub(crate) reference: Duration,
    pub(crate) measured: Duration,
}

impl Held {
    /// The shortest of so many turns of each, one after the other: what else runs on the machine only ever adds.
    pub(crate) fn shortest(
        turns: usize,
        mut reference: impl FnMut() -> Duration,
        mut measured: impl FnMut() -> Duration,
    ) -> Self {
        let mut held = Self { reference: Duration::MAX, measured: Duration::MAX };
        for _ in 0..turns {
            held.reference = held.reference.min(reference());
            held.measured = held.measured.min(measured());
        }
        held
    }

    /// The processor time of so many turns of each, one after the other.
    pub(crate) fn in_processor_time(turns: usize, mut reference: impl FnMut(), mut measured: impl FnMut()) -> Self {
        let mut held = Self { reference: Duration::ZERO, measured: Duration::ZERO };
        for _ in 0..turns {
            let start = spent_by("self");
            reference();
            let middle = spent_by("self");
            measured();
            held.reference += middle - start;
            held.measured += spent_by("self") - middle;
        }
        held
    }

    pub(crate) fn ratio(self) -> f64 {
        self.measured.as_secs_f64() / self.reference.as_secs_f64()
    }

    /// One line, and a failure beyond the limit.
    pub(crate) fn verdict(self, name: &str, limit: f64) -> ExitCode {
        let (ratio, built) = (self.ratio(), built());
        println!("{name}: {ratio:.2} times the reference (limit {limit}; profile {built})");
        if ratio <= limit {
            return ExitCode::SUCCESS;
        }
        println!("{name}: beyond its limit. Run it once more on a quiet machine: cargo bench --bench {}", bench(name));
        ExitCode::FAILURE
    }
}

/// `journal append` is a part of the benchmark `journal`.
fn bench(name: &str) -> &str {
    name.split(' ').next().unwrap_or(name)
}

/// The profile that it was built with, as the folder of the build says: `release`, or `dist` with fat LTO.
pub(crate) fn built() -> String {
    let program = std::env::current_exe().unwrap_or_default();
    let folder = program.parent().and_then(Path::parent).and_then(Path::file_name);
    folder.map_or_else(|| "unknown".to_owned(), |folder| folder.to_string_lossy().into_owned())
}

/// The processor time of a process, by its number, and of its children that have ended; by Linux in hundredths of a second.
pub(crate) fn spent_by(process: &str) -> Duration {
    let text = std::fs::read_to_string(format!("/proc/{process}/stat")).expect("Linux counts processor time");
    let (_, fields) = text.rsplit_once(')').expect("the name of the program in brackets");
    let fields = fields.split_whitespace().skip(11).take(4);
    Duration::from_millis(fields.map(|field| 10 * field.parse::<u64>().expect("a count")).sum())
}

/// How long something takes.
pub(crate) fn timed<T>(run: impl FnOnce() -> T) -> (Duration, T) {
    let start = Instant::now();
    let result = std::hint::black_box(run());
    (start.elapsed(), result)
}

pub(crate) fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}

/// The time from start to end of the program, and its largest resident memory in KiB as the kernel counted it.
pub(crate) fn run_program(arguments: &[&str], file: &Path) -> (Duration, u64) {
    let start = Instant::now();
    let mut child: Child = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(arguments)
        .arg(file)
        .stdout(Stdio::null())
        .spawn()
        .expect("the program starts");
    let mut peak = 0;
    let status = Path::new("/proc").join(child.id().to_string()).join("status");
    loop {
        peak = peak.max(high_water(&status));
        if let Some(status) = child.try_wait().expect("our own child") {
            assert!(status.success(), "{arguments:?} ended with {status}");
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
