//! What the program catches: slips of every kind made on correct set-ups, through the program's own path.
//! `cargo bench --bench interception [-- SEED]`; with `correct`, 10,000 correct set-ups and no slip; the table is printed, and `target/interception.json` and `.svg` are written.
#![expect(clippy::print_stdout, reason = "a benchmark prints what it measured")]

mod bench;

use std::path::Path;

use bench::{Sizes, picture, run};

/// 0 missed in 29,956 is more than 99.99 %, one-sided (95 %).
const SIZES: Sizes = Sizes {
    correct: 3_000,
    one_entry: 30_000,
    both_entries: 30_000,
    next_syringes: 15_000,
    preparation: 4_000,
    driver: 6_000,
};

fn main() {
    let seed = std::env::args().skip(1).find_map(|arg| arg.parse().ok()).unwrap_or(1);
    let threads = std::thread::available_parallelism().map_or(2, usize::from);
    let began = std::time::Instant::now();
    let only_correct = std::env::args().any(|arg| arg == "correct");
    let sizes = if only_correct { Sizes { correct: 10_000, ..Sizes::NONE } } else { SIZES };
    let report = run(seed, sizes, threads);
    println!("seed {seed}\n{}", report.text(std::env::args().any(|arg| arg == "misses")));
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target");
    std::fs::write(folder.join("interception.json"), report.json().to_string()).expect("the build's own folder");
    std::fs::write(folder.join("interception.svg"), picture::svg(&report)).expect("the build's own folder");
    println!("{:.1} s on {threads} threads", began.elapsed().as_secs_f64());
}
