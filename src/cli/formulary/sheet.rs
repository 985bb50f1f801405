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
    #[command(flatten)]
    formulary: FormularyArg,
}

#[derive(Debug, Args)]
pub(crate) struct ImportArgs {
    /// The file that is read: FILE.csv, or FILE.xlsx where workbooks are built in
    sheet: PathBuf,
    /// The folder that is made; it must not be there yet
    folder: PathBuf,
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
    std::fs::write(&args.sheet, bytes(&args.sheet, &rows)?).map_err(|error| {
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
    if args.folder.symlink_metadata().is_ok() {
        let fault = Fault::new("folder-is-there", "this is there already, and nothing is ever overwritten");
        return Err(Refused::one(
            &args.folder.display().to_string(),
            fault.help("name a folder that is not there yet"),
        ));
    }
    let rows = read(&args.sheet, refuse)?;
    let files = sheet::files(&rows).map_err(refuse)?;
    let write = || -> std::io::Result<()> {
        std::fs::create_dir(&args.folder)?;
        std::fs::create_dir(args.folder.join("drugs"))?;
        files.iter().try_for_each(|(path, text)| std::fs::write(args.folder.join(path), text))
    };
    write().map_err(|error| {
        let fault = Fault::new("file-not-written", error.to_string());
        Refused::one(&args.folder.display().to_string(), fault.help("look at the folder above it and its permissions"))
    })?;
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
    let unreadable = |message: String, help: &str| {
        Refused::one(&path.display().to_string(), Fault::new("file-unreadable", message).help(help))
    };
    let bytes =
        std::fs::read(path).map_err(|error| unreadable(error.to_string(), "look at its name and permissions"))?;
    #[cfg(feature = "xlsx")]
    if is_workbook(path) {
        return sheet::from_xlsx(bytes).map_err(refuse);
    }
    #[cfg(not(feature = "xlsx"))]
    if is_workbook(path) {
        return Err(without_workbooks(path));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to() + 1;
        unreadable(format!("byte {at} is not UTF-8"), "save it as CSV in UTF-8")
    })?;
    sheet::from_csv(&text).map_err(refuse)
}

#[cfg(not(feature = "xlsx"))]
fn without_workbooks(path: &Path) -> Refused {
    let fault = Fault::new("workbooks-not-built-in", "this program was built without workbooks");
    Refused::one(&path.display().to_string(), fault.help("use FILE.csv, or build it with `--features xlsx`"))
}
