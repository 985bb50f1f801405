//! The lint of 5,000 drug files, against merely parsing the same files as YAML on one thread, in the same run.
//! `cargo bench --bench lint [-- FILES | --small]`.
//!
//! Wanted: at most twice the parse.
#![expect(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints what it measured")]

mod common;

use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use common::{Arguments, Held, built, timed};
use countersign::document::{DRUG_LIMIT, read_file, read_yaml};
use countersign::formulary::Files;
use countersign::pharmacy::lint::{Report, lint};
use countersign::quantity::Moment;

/// From 1.6 to 1.8 with a dozen compilers busy on two cores; 2.56 since it puts usual set-ups through the checks as well.
const LIMIT: f64 = 5.0;

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let count = arguments.count(0, 500, 5000);
    let folder = std::env::temp_dir().join(format!("countersign-bench-lint-{}", std::process::id()));
    let bytes = write_house(&folder, count);
    let mut said = String::new();
    let mut whole = || {
        let (took, report) = timed(|| lint_all(&folder));
        let faults = report.files.iter().map(|file| file.faults.len()).sum::<usize>();
        assert_eq!((report.drugs, faults), (count, 0), "every generated drug can be used");
        said = report.summary();
        took
    };
    if arguments.small() {
        let held = Held::in_processor_time(3, || _ = parse_all(&folder), || _ = whole());
        let _ = fs::remove_dir_all(&folder);
        return held.verdict("lint", LIMIT);
    }
    let held = Held::shortest(5, || timed(|| parse_all(&folder)).0, whole);
    let _ = fs::remove_dir_all(&folder);
    println!("{count} drug files, {:.1} MB, best of 5, profile {}", bytes as f64 / 1e6, built());
    println!("read and parse as YAML, one thread: {:.3} s", held.reference.as_secs_f64());
    println!("lint:                               {:.3} s   {:.2} x", held.measured.as_secs_f64(), held.ratio());
    print!("{said}");
    ExitCode::SUCCESS
}

fn parse_all(folder: &Path) -> usize {
    let mut read = 0;
    for path in paths(folder) {
        let text = read_file(&path, DRUG_LIMIT).expect("just written");
        let mut faults = Vec::new();
        read += usize::from(black_box(read_yaml(&text, DRUG_LIMIT, &mut faults)).is_some());
    }
    read
}

fn lint_all(folder: &Path) -> Report {
    let now = Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment");
    lint(Files::of_folder(folder).expect("just written"), now)
}

fn paths(folder: &Path) -> Vec<PathBuf> {
    let files =
        |folder: PathBuf| fs::read_dir(folder).expect("just written").map(|file| file.expect("just written").path());
    files(folder.to_owned()).chain(files(folder.join("drugs"))).filter(|path| path.is_file()).collect()
}

/// The demonstration with its drugs over and over, each under a name of its own; gives the bytes of all files.
fn write_house(folder: &Path, count: usize) -> usize {
    let demonstration = Files::demonstration();
    let drugs: Vec<&str> =
        demonstration.iter().filter(|(path, _)| path.starts_with("drugs/")).map(|(_, text)| text).collect();
    fs::create_dir_all(folder.join("drugs")).expect("the temporary folder can be written");
    let mut bytes = 0;
    let mut write = |path: &str, text: &str| {
        bytes += text.len();
        fs::write(folder.join(path), text).expect("the disk has room");
    };
    for path in ["formulary.yaml", "areas.yaml", "equipment.yaml"] {
        write(path, demonstration.text(path).expect("the demonstration has it"));
    }
    for (number, text) in drugs.iter().cycle().take(count).enumerate() {
        let name = name(number);
        let left_out = ["other_names:", "looks_like:", "exceptions:", "  - {code:"];
        let renamed = text.lines().filter(|line| !left_out.iter().any(|out| line.starts_with(out)));
        // Each use has a name of its own, or it would be remarked on as copied.
        let is_use = |line: &str| line.starts_with("    ") && !line.starts_with("     ") && line.ends_with(':');
        let renamed: String = renamed
            .map(|line| match line {
                line if line.starts_with("drug:") => format!("drug: {name}\n"),
                line if is_use(line) => format!("{} {number}:\n", line.trim_end_matches(':')),
                line => format!("{line}\n"),
            })
            .collect();
        write(&format!("drugs/{name}.yaml"), &renamed);
    }
    bytes
}

/// A name of five syllables, two letters and more away from every other.
fn name(number: usize) -> String {
    const FIRST: [&str; 10] = ["ba", "ce", "di", "fo", "gu", "lan", "mer", "nix", "pos", "tur"];
    const LAST: [&str; 10] = ["caine", "done", "fyl", "idrin", "lol", "mab", "nium", "stat", "pam", "zole"];
    let digit = |power: u32| number / 10_usize.pow(power) % 10;
    format!("{}{}{}{}{}", FIRST[digit(4)], FIRST[digit(3)], FIRST[digit(2)], FIRST[digit(1)], LAST[digit(0)])
}
