//! One `check` from process start to answer, with 40 drug files present, against GNU `units` doing the bare conversion,
//! turn by turn in the same run. `cargo bench --bench startup`; `units` is Debian's package of that name.
#![expect(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints what it measured")]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use countersign::formulary::Formulary;

const TURNS: usize = 200;
const DRUGS: usize = 40;

fn main() {
    let folder = std::env::temp_dir().join(format!("countersign-bench-{}", std::process::id()));
    write_formulary(&folder);
    let entry = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/adult-vasopressor/first.yaml");
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        let mut check = Command::new(env!("CARGO_BIN_EXE_countersign"));
        check.arg("check").arg(&entry).arg("--formulary").arg(&folder).args(["--at", "2026-03-14T07:45:00+00:00"]);
        ours.push(once(&mut check));
        let mut units = Command::new("units");
        units.args(["-t", "0.08 microgram/kg/min * 84.2 kg / (4 mg / 50 mL)", "mL/hour"]);
        theirs.push(once(&mut units));
    }
    let (ours, theirs) = (median(ours), median(theirs));
    println!("median of {TURNS} turns, {DRUGS} drug files");
    println!("countersign check: {:.2} ms", ours.as_secs_f64() * 1000.0);
    println!(
        "units:             {:.2} ms   ({:.2} x)",
        theirs.as_secs_f64() * 1000.0,
        ours.as_secs_f64() / theirs.as_secs_f64()
    );
    let _ = std::fs::remove_dir_all(folder);
}

fn once(command: &mut Command) -> Duration {
    let start = Instant::now();
    let status = command.stdout(Stdio::null()).stderr(Stdio::null()).status().expect("the program is installed");
    assert!(status.success(), "{command:?} ended with {status}");
    start.elapsed()
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}

/// The demonstration, its drugs repeated under other names until there are enough.
fn write_formulary(folder: &Path) {
    let demonstration = Path::new(env!("CARGO_MANIFEST_DIR")).join("formulary");
    std::fs::create_dir_all(folder.join("drugs")).expect("the temporary folder can be written");
    for name in ["formulary.yaml", "areas.yaml", "equipment.yaml"] {
        std::fs::copy(demonstration.join(name), folder.join(name)).expect("it is there");
    }
    let listed = std::fs::read_dir(demonstration.join("drugs")).expect("it is there");
    let mut drugs: Vec<PathBuf> = listed.map(|entry| entry.expect("it is there").path()).collect();
    drugs.sort();
    for number in 0..DRUGS {
        let drug = &drugs[number % drugs.len()];
        let text = std::fs::read_to_string(drug).expect("it is there");
        let stem = drug.file_stem().expect("a file").to_string_lossy();
        let name = if number < drugs.len() { stem.to_string() } else { format!("{stem}-{}", number / drugs.len()) };
        let lines = text.lines().filter(|line| number < drugs.len() || !line.starts_with("other_names:"));
        let renamed = |line: &str| {
            if line.starts_with("drug: ") { format!("drug: {}\n", name.replace('-', " ")) } else { format!("{line}\n") }
        };
        let text: String = lines.map(renamed).collect();
        std::fs::write(folder.join("drugs").join(format!("{name}.yaml")), text).expect("the disk has room");
    }
    let formulary = Formulary::open(folder).expect("copies of good files");
    assert_eq!(formulary.load_all().expect("copies of good files").len(), DRUGS);
}
