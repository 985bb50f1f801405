//! `formulary export` and `formulary import`: every value as a row of a spreadsheet, and back.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::cli::answer::Answer;
use crate::cli::input::{FormularyArg, Refused};
use crate::cli::{Exit, Format};
use crate::diagnostic::{Fault, Source};
use crate::pharmacy::sheet::{self, BadRow, SheetRow};

#[derive(Debug, Args)]
pub(crate) struct ExportArgs {
    /// The folder of the formulary [default: as for --formulary]
    folder: Option<PathBuf>,
    /// The file that is written: FILE.csv, or FILE.xlsx where workbooks are built in
    #[arg(long, value_name = "FILE")]
    sheet: PathBuf,
    /// The doses alone, one row for each phase; the file is CSV
    #[arg(long)]
    phases: bool,
    #[command(flatten)]
    formulary: FormularyArg,
}

#[derive(Debug, Args)]
pub(crate) struct ImportArgs {
    /// The file that is read: FILE.csv, or FILE.xlsx where workbooks are built in
    sheet: PathBuf,
    /// The folder that is made; it must not be there yet
    folder: PathBuf,
    /// The sheet has one row for each phase: everything else comes from this folder, which stays as it is
    #[arg(long, value_name = "FOLDER")]
    phases_of: Option<PathBuf>,
}

pub(super) fn export(args: &ExportArgs) -> Answer {
    exported(args).unwrap_or_else(|refused| Answer::refused(&refused, Format::Text))
}

pub(super) fn import(args: &ImportArgs) -> Answer {
    imported(args).unwrap_or_else(|refused| Answer::refused(&refused, Format::Text))
}

fn exported(args: &ExportArgs) -> Result<Answer, Refused> {
    let source = FormularyArg { formulary: args.folder.clone().or_else(|| args.formulary.formulary.clone()) };
    let formulary = source.open_whole()?;
    let name = args.sheet.display().to_string();
    let rows = sheet::rows(formulary.texts()).map_err(|message| {
        Refused::one("formulary", Fault::new("sheet-not-written", message).help("run `formulary lint`"))
    })?;
    let sheet = if args.phases { sheet::to_phases(&rows).into_bytes() } else { bytes(&args.sheet, &rows)? };
    std::fs::write(&args.sheet, sheet).map_err(|error| {
        Refused::one(
            &name,
            Fault::new("file-not-written", error.to_string()).help("look at the folder and its permissions"),
        )
    })?;
    let said = format!(
        "{name}: {} values of {} files\nComments are not kept, and neither is the approval: what comes back by `formulary import` is other bytes.\nFormat the column `value` as text before it is changed.\n",
        rows.len(),
        formulary.fingerprint().manifest().len()
    );
    Ok(Answer::text(said, Exit::Proceed))
}

fn imported(args: &ImportArgs) -> Result<Answer, Refused> {
    let name = args.sheet.display().to_string();
    let refuse = |bad: Vec<BadRow>| {
        let fault = |bad: BadRow| Fault::new(bad.code, bad.to_string()).help(bad.help);
        Refused(vec![(Source::new(name.clone(), ""), bad.into_iter().map(fault).collect())])
    };
    let rows = match &args.phases_of {
        None => read(&args.sheet, refuse)?,
        Some(base) => {
            let base = FormularyArg { formulary: Some(base.clone()) }.open_whole()?;
            let base = sheet::rows(base.texts()).map_err(|message| {
                Refused::one("--phases-of", Fault::new("sheet-not-written", message).help("run `formulary lint`"))
            })?;
            sheet::from_phases(&csv_text(&args.sheet)?, &base).map_err(refuse)?
        }
    };
    let files = sheet::files(&rows).map_err(refuse)?;
    super::new::write_folder(&args.folder, files.iter().map(|(path, text)| (path, text)))?;
    let folder = args.folder.display();
    let said = format!(
        "{folder}: {} values in {} files, without comments and without an approval\nNow: countersign formulary lint {folder}\nThen: countersign formulary diff OLD {folder}\nThen two pharmacists: countersign formulary sign {folder} --as NAME; countersign formulary approve {folder} --as NAME\n",
        rows.len(),
        files.len()
    );
    Ok(Answer::text(said, Exit::Proceed))
}

fn is_workbook(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("xlsx"))
}

#[cfg(feature = "xlsx")]
fn bytes(path: &Path, rows: &[SheetRow]) -> Result<Vec<u8>, Refused> {
    if !is_workbook(path) {
        return Ok(sheet::to_csv(rows).into_bytes());
    }
    sheet::to_xlsx(rows).map_err(|message| {
        let help = "write a CSV file instead: --sheet FILE.csv";
        Refused::one(&path.display().to_string(), Fault::new("sheet-not-written", message).help(help))
    })
}

#[cfg(not(feature = "xlsx"))]
fn bytes(path: &Path, rows: &[SheetRow]) -> Result<Vec<u8>, Refused> {
    if is_workbook(path) {
        return Err(without_workbooks(path));
    }
    Ok(sheet::to_csv(rows).into_bytes())
}

fn read(path: &Path, refuse: impl FnOnce(Vec<BadRow>) -> Refused) -> Result<Vec<SheetRow>, Refused> {
    #[cfg(feature = "xlsx")]
    if is_workbook(path) {
        return sheet::from_xlsx(file_bytes(path)?).map_err(refuse);
    }
    #[cfg(not(feature = "xlsx"))]
    if is_workbook(path) {
        return Err(without_workbooks(path));
    }
    sheet::from_csv(&csv_text(path)?).map_err(refuse)
}

fn unreadable(path: &Path, message: String, help: &str) -> Refused {
    Refused::one(&path.display().to_string(), Fault::new("file-unreadable", message).help(help))
}

fn file_bytes(path: &Path) -> Result<Vec<u8>, Refused> {
    std::fs::read(path).map_err(|error| unreadable(path, error.to_string(), "look at its name and permissions"))
}

fn csv_text(path: &Path) -> Result<String, Refused> {
    String::from_utf8(file_bytes(path)?).map_err(|error| {
        let before = error.utf8_error().valid_up_to();
        let row = error.as_bytes()[..before].iter().filter(|byte| **byte == b'\n').count() + 1;
        unreadable(path, format!("row {row} has a letter that is not UTF-8"), "save it as CSV in UTF-8")
    })
}

#[cfg(not(feature = "xlsx"))]
fn without_workbooks(path: &Path) -> Refused {
    let fault = Fault::new("workbooks-not-built-in", "this program was built without workbooks");
    Refused::one(&path.display().to_string(), fault.help("use FILE.csv, or build it with `--features xlsx`"))
}
