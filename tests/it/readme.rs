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

// The pharmacist's quarter hour, up to the signatures: a demonstration is never signed.
#[test]
fn the_quarter_hour_of_the_pharmacist_runs_as_written() {
    let folder = std::env::temp_dir().join(format!("countersign-quarter-{}", std::process::id()));
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    std::fs::create_dir_all(folder.join("examples")).expect("room for a folder");
    std::fs::copy(root.join("examples/many.jsonl"), folder.join("examples/many.jsonl")).expect("an example");
    let copied = Command::new("cp").arg("-r").args([root.join("formulary"), folder.join("ours")]).status();
    assert!(copied.expect("cp").success());
    let lines = commands("README.md");
    let steps: Vec<&String> =
        lines.iter().filter(|line| line.contains("formulary ") && line.contains("ours")).collect();
    assert_eq!(steps.len(), 6, "{steps:?}");
    for line in &steps[..4] {
        let words = shell_words(line.split(" #").next().unwrap_or(line));
        let (code, said) = program(&folder, &words[1..]);
        assert_eq!(code, Some(0), "{line}: {said}");
    }
    assert!(steps[4].contains("formulary sign ours") && steps[5].contains("formulary approve ours"));
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
