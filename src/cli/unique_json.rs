//! JSON of any shape in which no name stands twice: of two equal ones a person reads the first and a program takes the last.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

use crate::diagnostic::Fault;

/// Reads it.
///
/// # Errors
/// A fault where it is no JSON, or a name stands twice.
pub(super) fn read_unique(text: &str) -> Result<Value, Fault> {
    serde_json::from_str::<Unique>(text).map(|unique| unique.0).map_err(|error| {
        Fault::new("json-unreadable", format!("this is no JSON that can be relied on: {error}"))
            .help("write the file again; nothing in it may stand twice")
    })
}

struct Unique(Value);

impl<'de> Deserialize<'de> for Unique {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_any(Any).map(Self)
    }
}

struct Any;

impl<'de> Visitor<'de> for Any {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("data")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(Unique(item)) = items.next_element()? {
            list.push(item);
        }
        Ok(list.into())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some((name, Unique(value))) = members.next_entry::<String, Unique>()? {
            if map.insert(name.clone(), value).is_some() {
                return Err(A::Error::custom(format!("`{name}` stands twice")));
            }
        }
        Ok(map.into())
    }
}

#[cfg(test)]
mod tests {
    use super::read_unique;

    #[test]
    fn a_name_that_stands_twice_is_refused_however_deep() {
        assert_eq!(
            read_unique(r#"{"a": [1, null, true, {"b": "c"}]}"#).map(|data| data["a"][3]["b"].clone()),
            Ok("c".into())
        );
        for text in [r#"{"a": 1, "a": 1}"#, r#"[{"x": {"b": 1, "c": 2, "b": 3}}]"#, "{", "1.5", r#"{"a": 1} x"#] {
            assert_eq!(read_unique(text).map_err(|fault| fault.code), Err("json-unreadable"), "{text}");
        }
    }
}
