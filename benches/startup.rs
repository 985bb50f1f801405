//! One `check` from process start to answer, with 40 drug files present, against GNU `units` doing the bare conversion,
//! turn by turn in the same run. `cargo bench --bench startup [-- --small]`; `units` is Debian's package of that name.
#![expect(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints what it measured")]

mod common;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::Duration;

use common::{Arguments, Held, built, median, timed};
use countersign::formulary::Formulary;

const DRUGS: usize = 40;

/// From 0.4 to 0.7 with a dozen compilers busy on two cores: `units` reads its whole table each time.
const LIMIT: f64 = 1.5;

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let turns = arguments.count(0, 50, 200);
    let folder = std::env::temp_dir().join(format!("countersign-bench-{}", std::process::id()));
    write_formulary(&folder);
    let entry = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/adult-vasopressor/first.yaml");
    let check = || {
        let mut check = Command::new(env!("CARGO_BIN_EXE_countersign"));
        check.arg("check").arg(&entry).arg("--formulary").arg(&folder).args(["--at", "2026-03-14T07:45:00+00:00"]);
        once(&mut check)
    };
    let units = || {
        let mut units = Command::new("units");
        units.args(["-t", "0.08 microgram/kg/min * 84.2 kg / (4 mg / 50 mL)", "mL/hour"]);
        once(&mut units)
    };
    if arguments.small() {
        let held = Held::in_processor_time(
            1,
            || (0..turns).for_each(|_| _ = units()),
            || (0..turns).for_each(|_| _ = check()),
        );
        let _ = std::fs::remove_dir_all(&folder);
        return held.verdict("startup", LIMIT);
    }
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for _ in 0..turns {
        ours.push(check());
        theirs.push(units());
    }
    let held = Held { reference: median(theirs), measured: median(ours) };
    let _ = std::fs::remove_dir_all(&folder);
    println!("median of {turns} turns, {DRUGS} drug files, profile {}", built());
    println!("countersign check: {:.2} ms", held.measured.as_secs_f64() * 1000.0);
    println!("units:             {:.2} ms   ({:.2} x)", held.reference.as_secs_f64() * 1000.0, held.ratio());
    ExitCode::SUCCESS
}

fn once(command: &mut Command) -> Duration {
    command.stdout(Stdio::null()).stderr(Stdio::null());
    let (took, status) = timed(|| command.status().expect("the program is installed"));
    assert!(status.success(), "{command:?} ended with {status}");
    took
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
