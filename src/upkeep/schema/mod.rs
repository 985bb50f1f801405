//! The JSON Schema of each kind of file, for editors that complete and check while one types: a kind in, a schema out.
//!
//! Structs mirror what the readers accept, and are never filled; tests hold them to the readers, field by field. A schema
//! cannot say what a reader knows of order, units and sums: `formulary lint` has the last word.

mod drug;
mod house;
mod texts;

use schemars::{JsonSchema, Schema, SchemaGenerator, generate::SchemaSettings, transform::Transform};
use serde_json::Value;

/// The kinds of file that a formulary has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// `drugs/NAME.yaml`.
    Drug,
    /// `areas.yaml`.
    Areas,
    /// `equipment.yaml`.
    Equipment,
    /// `formulary.yaml`.
    Formulary,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Drug, Self::Areas, Self::Equipment, Self::Formulary];

    /// One word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Drug => "drug",
            Self::Areas => "areas",
            Self::Equipment => "equipment",
            Self::Formulary => "formulary",
        }
    }
}

/// The schema of a kind of file, as JSON Schema 2020-12.
#[must_use]
pub fn schema(kind: Kind) -> Value {
    match kind {
        Kind::Drug => of::<drug::Drug>(),
        Kind::Areas => of::<house::Areas>(),
        Kind::Equipment => of::<house::Equipment>(),
        Kind::Formulary => of::<house::Formulary>(),
    }
}

/// The same as the text of a file.
#[must_use]
pub fn text(kind: Kind) -> String {
    let mut text = serde_json::to_string_pretty(&schema(kind)).expect("every key is a string");
    text.push('\n');
    text
}

fn of<T: JsonSchema>() -> Value {
    let settings = SchemaSettings::draft2020_12().with_transform(WithoutNull);
    SchemaGenerator::new(settings).into_root_schema_for::<T>().into()
}

/// A field that may be left out may not be empty: the readers refuse a name without a value.
#[derive(Debug, Clone)]
struct WithoutNull;

impl Transform for WithoutNull {
    fn transform(&mut self, schema: &mut Schema) {
        schemars::transform::transform_subschemas(self, schema);
        let Some(map) = schema.as_object_mut() else { return };
        if let Some(Value::Array(types)) = map.get_mut("type") {
            types.retain(|one| one != "null");
            if let [only] = &types[..] {
                let only = only.clone();
                map.insert("type".to_owned(), only);
            }
        }
        if let Some(Value::Array(choices)) = map.get_mut("anyOf") {
            choices.retain(|one| one.get("type").is_none_or(|found| found != "null"));
            if let [Value::Object(only)] = &choices[..] {
                let only = only.clone();
                map.remove("anyOf");
                for (key, value) in only {
                    map.entry(key).or_insert(value);
                }
            }
        }
    }
}
