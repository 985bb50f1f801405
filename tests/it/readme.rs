//! The README's case, from the first person to the last drop, as it is written there, through the real program.
#![cfg(feature = "journal")]

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

const PIN: &str = "281940";

/// Runs one line of the README at a moment of a demonstration, with the answers that a person would type.
fn run(folder: &Path, line: &str, clock: &str, answers: &str) -> (i32, String, String) {
    let words = shell_words(line);
    let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
    command.current_dir(folder).args(&words[1..]);
    if !matches!(words[2].as_str(), "verify") {
        command.args(["--at", &format!("2026-03-14T{clock}:00+00:00")]);
    }
    let mut child = command
        .env("COUNTERSIGN_JOURNAL", "practice")
        .env("COUNTERSIGN_FORMULARY", "demonstration")
        .env("TZ", "UTC")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // A command that asks nothing closes its end before anything is written.
    let _ = child.stdin.take().expect("a pipe").write_all(answers.as_bytes());
    let out = child.wait_with_output().expect("it ends");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (out.status.code().expect("a code"), text(out.stdout), text(out.stderr))
}

/// Words between blanks, quoted ones whole.
fn shell_words(line: &str) -> Vec<String> {
    line.split('"')
        .enumerate()
        .flat_map(|(at, part)| match at % 2 {
            1 => vec![part.to_owned()],
            _ => part.split_whitespace().map(str::to_owned).collect(),
        })
        .collect()
}

/// An example's form without who entered it and when: the case knows that.
fn form(name: &str) -> String {
    let text = std::fs::read_to_string(Path::new("examples/adult-vasopressor").join(name)).expect("an example");
    let mut kept = String::new();
    let mut skipping = false;
    for line in text.lines() {
        let top = !line.starts_with(' ');
        skipping = if top { line.starts_with("entered_") } else { skipping };
        if !skipping {
            kept.push_str(line);
            kept.push('\n');
        }
    }
    kept
}

// hazard: H-RECORD
#[test]
fn the_case_of_the_readme_goes_from_the_first_person_to_the_last_drop() {
    let readme = std::fs::read_to_string("README.md").expect("it is here");
    let section = readme.split("## A case, from the first person to the last drop").nth(1).expect("the section");
    let block = section.split("```console").nth(1).and_then(|rest| rest.split("```").next()).expect("its commands");
    let lines: Vec<&str> = block.lines().filter(|line| line.starts_with("countersign ")).collect();
    assert!(lines.len() >= 14, "{lines:?}");
    let folder = std::env::temp_dir().join(format!("countersign-readme-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("room for a folder");
    for name in ["first.yaml", "second.yaml"] {
        std::fs::write(folder.join(name), form(name)).expect("room for a form");
    }
    let mut code = None::<String>;
    let mut said = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let mut line = line.split("   #").next().unwrap_or(line).trim().to_owned();
        if let Some(code) = &code {
            line = line.replace("K7M-4QX", code);
        }
        let clock = format!("{:02}:{:02}", 7 + at / 6, 10 * (at % 6));
        let answers = match shell_words(&line)[1..3].join(" ").as_str() {
            "people add" if line.contains("--as") => format!("{PIN}\n550172\n550172\n"),
            "people add" => format!("{PIN}\n{PIN}\n"),
            "case second" | "case enter" => {
                let second = line.contains("case second");
                line.push_str(if second { " --from second.yaml" } else { " --from first.yaml" });
                format!("{}\n", if second { "550172" } else { PIN })
            }
            // The bench driver shows rate, volume given and time left.
            "case readback" => "550172\n5.1 mL/h\n\n\n".to_owned(),
            _ => format!("{PIN}\n"),
        };
        let (exit, out, err) = run(&folder, &line, &clock, &answers);
        assert_eq!(exit, 0, "{line}\n{out}{err}");
        if line.contains("case open") {
            code = out.lines().next().map(str::to_owned);
        }
        said.push(out);
    }
    let of = |words: &str| {
        let at = lines.iter().position(|line| line.contains(words)).expect("a line of the README");
        said[at].as_str()
    };
    assert!(of("case card").contains("5.1 mL/h") && of("case card").contains("each signed under their own PIN"));
    assert!(of("case readback").contains("WHAT WAS COMPARED IS RIGHT"));
    // 10 min at 5.1 mL/h, then 10 min at 7.2 mL/h until it is shown: 0.85 mL and 1.2 mL.
    assert!(of("record show").contains("2.05 mL"), "{}", of("record show"));
    assert!(of("record close").contains("Drawn up"), "{}", of("record close"));
    assert!(of("journal verify").contains("each as it was written"));
    let _ = std::fs::remove_dir_all(&folder);
}

/// Every command of a page's code blocks, a line that ends with a backslash joined with the next.
fn commands(page: &str) -> Vec<String> {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(page)).expect("a page");
    let text = text.replace("\\\n", " ");
    let inside = text.split("```").skip(1).step_by(2);
    inside.flat_map(str::lines).filter(|line| line.starts_with("countersign ")).map(str::to_owned).collect()
}

fn program(folder: &Path, words: &[String]) -> (Option<i32>, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
    let said = command.current_dir(folder).args(words).stdin(Stdio::null()).output().expect("the program starts");
    (said.status.code(), String::from_utf8_lossy(&[said.stdout, said.stderr].concat()).into_owned())
}

// Every one-person sum that a page shows with its formulary, as it is written there.
#[test]
fn every_sum_of_the_pages_runs_as_written() {
    let mut ran = 0;
    for line in ["docs/preparing.md", "docs/delivery.md"].map(commands).concat() {
        let (code, said) = program(Path::new(env!("CARGO_MANIFEST_DIR")), &shell_words(&line)[1..]);
        assert_eq!(code, Some(0), "{line}: {said}");
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains("not double-checked") || said.contains("a reason to change a rate"), "{said}");
        ran += 1;
    }
    assert_eq!(ran, 4, "commands of the pages");
}

/// The sheet that a second pharmacist fills, with what the author's folder says at each of its places.
fn filled(blank: &Path, all: &Path, to: &Path) {
    let rows = |path: &Path| -> Vec<csv::StringRecord> {
        csv::Reader::from_path(path).expect("written").records().map(|row| row.expect("a row")).collect()
    };
    let all = rows(all);
    let mut writer = csv::Writer::from_path(to).expect("room");
    writer.write_record(["file", "place", "source", "value"]).expect("room");
    for row in rows(blank) {
        let value = all.iter().find(|one| one[0] == row[0] && one[1] == row[1]).map_or("none", |one| &one[2]);
        writer.write_record([&row[0], &row[1], &row[2], value]).expect("room");
    }
    writer.flush().expect("room");
}

// hazard: H-LIMITS
#[test]
fn the_quarter_hour_of_the_pharmacist_runs_as_written_to_the_approval() {
    let folder = std::env::temp_dir().join(format!("countersign-quarter-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("room for a folder");
    let says = |line: &str, typed: &str| {
        let words = shell_words(line.split(" #").next().unwrap_or(line));
        let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
        command.current_dir(&folder).args(&words[1..]).env("COUNTERSIGN_JOURNAL", "house");
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("the program starts");
        let _ = child.stdin.take().expect("a pipe").write_all(typed.as_bytes());
        let out = child.wait_with_output().expect("it ends");
        let said = String::from_utf8_lossy(&[out.stdout, out.stderr].concat()).into_owned();
        assert_eq!(out.status.code(), Some(0), "{line}: {said}");
        said
    };
    let readme = std::fs::read_to_string("README.md").expect("it is here");
    let section = readme.split("## The pharmacist's quarter hour").nth(1).expect("the section");
    let block = section.split("```console").nth(1).and_then(|rest| rest.split("```").next()).expect("its commands");
    let mut ran = 0;
    for line in block.lines().filter(|line| line.starts_with("countersign ")) {
        ran += 1;
        if line.contains("formulary approve") {
            // Asked one by one at a terminal. A sheet that is filled at once holds the same answers, and is kept; a third
            // pharmacist would sign it.
            says("countersign formulary approve ours --blank blank.csv", "");
            says("countersign formulary export --sheet all.csv --formulary ours", "");
            filled(&folder.join("blank.csv"), &folder.join("all.csv"), &folder.join("filled.csv"));
            let line = format!("{} --typed filled.csv", line.split(" #").next().unwrap_or(line).trim());
            assert!(says(&line, "820461\n").contains("FILLED IN AT ONCE by K. Lund"));
            continue;
        }
        let typed = match () {
            () if line.contains("journal create") => "603917\n603917\n417093\n417093\n",
            () if line.contains("people add") => "603917\n417093\n820461\n820461\n",
            () => "820461\n",
        };
        says(line, typed);
        if line.contains("formulary new") {
            // What the README says is written there.
            for name in ["areas.yaml", "equipment.yaml", "formulary.yaml", "drugs/dobutamine.yaml"] {
                let path = folder.join("ours").join(name);
                let text = std::fs::read_to_string(&path).expect("it was made");
                let text = text.replace("\ndemonstration: true", "\ndemonstration: false");
                std::fs::write(path, text.replace("source: demonstration value", "source: committee")).expect("room");
            }
        }
    }
    assert_eq!(ran, 9, "{block}");
    let _ = std::fs::remove_dir_all(&folder);
}

// An emergency needs a name, and nothing else has to be on the line.
#[test]
fn the_emergency_of_the_readme_asks_for_the_name() {
    let readme = std::fs::read_to_string("README.md").expect("it is here");
    assert!(readme.contains("`countersign case emergency`"));
    let folder = std::env::temp_dir().join(format!("countersign-emergency-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("room for a folder");
    std::fs::write(folder.join("first.yaml"), form("first.yaml")).expect("room for a form");
    let made = run(&folder, "countersign journal create practice --demonstration", "07:00", "");
    assert_eq!(made.0, 0, "{made:?}");
    let (code, out, err) = run(&folder, "countersign case emergency --from first.yaml", "07:10", "C. Vance\n");
    assert!(code == 0 && out.contains("C. Vance") && out.contains("5.1 mL/h"), "{out}{err}");
    let (code, _, err) = run(&folder, "countersign case emergency --from first.yaml", "07:10", "\n");
    assert!(code == 2 && err.contains("name-empty"), "{code}: {err}");
    let _ = std::fs::remove_dir_all(&folder);
}

// Each command that a page shows is one of the program's, with options that it has: with `--help` it says so.
#[test]
fn every_command_of_the_pages_is_a_command() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let docs = std::fs::read_dir(root.join("docs")).expect("docs").map(|page| page.expect("a page").file_name());
    let docs =
        docs.filter_map(|name| name.to_str().filter(|name| name.ends_with(".md")).map(|name| format!("docs/{name}")));
    let mut seen = 0;
    for page in docs.chain(["README.md", "examples/README.md", "formulary/README.md"].map(str::to_owned)) {
        for line in commands(&page) {
            // A lean program draws no PDF and makes no backups.
            let is_of_the_full = line.contains("--format pdf") || line.contains("journal backup");
            if is_of_the_full && cfg!(not(all(feature = "pdf", feature = "backup"))) {
                continue;
            }
            let mut words = shell_words(line.split(" #").next().unwrap_or(&line));
            words.push("--help".to_owned());
            let (code, said) = program(root, &words[1..]);
            assert_eq!(code, Some(0), "{page}: {line}: {said}");
            seen += 1;
        }
    }
    assert!(seen > 30, "{seen} commands");
}
