//! `formulary schema`: the JSON Schema of a kind of file, for editors.

use clap::{Args, ValueEnum};

use crate::cli::Exit;
use crate::cli::answer::Answer;
use crate::pharmacy::schema::{self, FileKind};

#[derive(Debug, Args)]
pub(crate) struct SchemaArgs {
    /// The kind of file
    #[arg(value_enum, default_value = "drug")]
    kind: KindWord,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum KindWord {
    /// drugs/NAME.yaml
    Drug,
    /// areas.yaml
    Areas,
    /// equipment.yaml
    Equipment,
    /// formulary.yaml
    Formulary,
}

pub(super) fn run(args: &SchemaArgs) -> Answer {
    let kind = match args.kind {
        KindWord::Drug => FileKind::Drug,
        KindWord::Areas => FileKind::Areas,
        KindWord::Equipment => FileKind::Equipment,
        KindWord::Formulary => FileKind::Formulary,
    };
    Answer::text(schema::text(kind).to_owned(), Exit::Proceed)
}
