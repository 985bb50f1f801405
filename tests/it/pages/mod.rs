//! The card as it is printed and looked at: HTML, SVG and PDF through the real program, read back by a browser, by what
//! takes text out of a PDF, and by what reads codes off paper. Where one of those is missing, its tests are skipped.
#![cfg(all(feature = "journal", feature = "pdf"))]

mod browser;
mod code;
mod html;
mod pdf;
mod pictures;

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use crate::common::tools::{PDFTOPPM, Tool, ZBARIMG};
use crate::common::{Said, at, copy, example, folder, run};

/// Each example whose two entries agree.
const AGREED: [&str; 6] = [
    "adult-vasopressor/",
    "adult-vasopressor/reasons-",
    "child-sedation/",
    "child-sedation/reasons-",
    "insulin/",
    "insulin/reasons-",
];

/// The card of two files, in a format that is text.
fn agreed(pair: &str, format: &str) -> Said {
    let said = at(&format!("agree examples/{pair}first.yaml examples/{pair}second.yaml --format {format}")).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    said
}

/// A case whose two entries agree, in a journal of its own.
struct Agreed {
    folder: PathBuf,
    code: String,
}

impl Agreed {
    fn new(name: &str) -> Self {
        // One case is made for all tests and copied for each: a PIN takes long to check.
        static MADE: LazyLock<Agreed> = LazyLock::new(|| Agreed::made(folder("made-once")));
        let case = Self { folder: folder(name), code: MADE.code.clone() };
        copy(&MADE.folder, &case.folder);
        case
    }

    fn made(folder: PathBuf) -> Self {
        let mut case = Self { folder, code: String::new() };
        for who in ["first", "second"] {
            let form = without_author(&example(&format!("adult-vasopressor/{who}.yaml")));
            fs::write(case.folder.join(who), form).expect("room");
        }
        case.says("07:00", &["journal", "create", "journal", "--demonstration"], "");
        case.says("07:01", &["people", "add", "A. Idowu", "--role", "anaesthetist"], "281940\n281940\n");
        let second = ["people", "add", "M. Tamm", "--role", "nurse", "--as", "A. Idowu"];
        case.says("07:02", &second, "281940\n550172\n550172\n");
        let opened = case.says("07:30", &["case", "open", "--as", "A. Idowu"], "281940\n");
        case.code = opened.stdout.lines().next().expect("a code").to_owned();
        let code = case.code.clone();
        case.says("07:40", &["case", "enter", &code, "--as", "A. Idowu", "--from", "first"], "281940\n");
        case.says("07:46", &["case", "second", &code, "--as", "M. Tamm", "--from", "second"], "550172\n");
        case
    }

    /// What a command says that must succeed.
    fn says(&self, clock: &str, words: &[&str], typed: &str) -> Said {
        let said = self.command(words).arg("--at").arg(format!("2026-03-14T{clock}:00+00:00")).stdin(typed).said();
        assert_eq!(said.code, 0, "{words:?}: {said:?}");
        said
    }

    /// A command in the folder of the journal.
    fn command(&self, words: &[&str]) -> crate::common::Run {
        let formulary = Path::new(env!("CARGO_MANIFEST_DIR")).join("formulary");
        let formulary = formulary.to_str().expect("a path of letters");
        run(words)
            .within(&self.folder)
            .env("COUNTERSIGN_JOURNAL", "journal")
            .env("COUNTERSIGN_FORMULARY", formulary)
            .env("TZ", "UTC")
    }

    /// The card in a file.
    fn card(&self, format: &str) -> PathBuf {
        let name = format!("card.{format}");
        self.says("07:50", &["case", "card", &self.code, "--format", format, "-o", &name], "");
        self.folder.join(name)
    }
}

/// What the journal knows by itself.
fn without_author(form: &str) -> String {
    let mut inside = false;
    let kept = form.lines().filter(|line| {
        inside = line.starts_with("entered_") || (inside && line.starts_with(' '));
        !inside
    });
    kept.map(|line| format!("{line}\n")).collect()
}

/// Runs a program of the machine, which must succeed.
fn machine(program: Tool, arguments: &[&OsStr]) -> String {
    let out = program.command().args(arguments).output();
    let out = out.expect("its test asks for it");
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(out.status.success(), "{program:?} {arguments:?}: {}{said}", String::from_utf8_lossy(&out.stderr));
    said
}

/// What a code reader finds on the pages of a PDF, as if they were printed at 300 dots an inch.
fn scanned(pdf: &Path) -> String {
    let image = pdf.with_extension("scan");
    machine(
        PDFTOPPM,
        &["-r", "300", "-png", "-gray"]
            .map(OsStr::new)
            .into_iter()
            .chain([pdf.as_os_str(), image.as_os_str()])
            .collect::<Vec<_>>(),
    );
    let name = image.file_name().expect("a name").to_string_lossy().into_owned() + "-";
    let files = fs::read_dir(image.parent().expect("a folder")).expect("just written");
    let paths = files.map(|file| file.expect("it can be listed").path());
    let pages: Vec<PathBuf> =
        paths.filter(|path| path.file_name().is_some_and(|file| file.to_string_lossy().starts_with(&name))).collect();
    // Only codes of that kind: the bars of a picture may be taken for another kind. A page without a code is no fault.
    let asks = ["-q", "--raw", "-Sdisable", "-Sqrcode.enable"];
    let read = pages.iter().map(|page| ZBARIMG.command().args(asks).arg(page).output().expect("its test asks for it"));
    read.map(|out| String::from_utf8_lossy(&out.stdout).trim().to_owned()).collect()
}
