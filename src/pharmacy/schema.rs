//! The JSON Schema of each kind of file, for editors that complete and check while one types: a kind in, a schema out.
//!
//! The schemas stand in `formulary/schema/`; tests hold them to the readers, field by field. A schema cannot say what a
//! reader knows of order, units and sums: `formulary lint` has the last word.

/// The kinds of file that a formulary has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// `drugs/NAME.yaml`.
    Drug,
    /// `areas.yaml`.
    Areas,
    /// `equipment.yaml`.
    Equipment,
    /// `formulary.yaml`.
    Formulary,
}

/// The schema of a kind of file, as the text of a JSON Schema 2020-12.
#[must_use]
pub const fn text(kind: FileKind) -> &'static str {
    match kind {
        FileKind::Drug => include_str!("../../formulary/schema/drug.json"),
        FileKind::Areas => include_str!("../../formulary/schema/areas.json"),
        FileKind::Equipment => include_str!("../../formulary/schema/equipment.json"),
        FileKind::Formulary => include_str!("../../formulary/schema/formulary.json"),
    }
}
