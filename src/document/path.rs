//! Where in a document one is, as a chain of borrowed keys that becomes text only when a fault is made.

use std::fmt;

/// A place in a document: `strengths[1].amount`. The whole document is the empty text.
#[derive(Debug, Clone, Copy)]
pub enum Path<'p> {
    /// The whole document.
    Root,
    /// A field of the map at the first path.
    Field(&'p Path<'p>, &'p str),
    /// An item of the list at the first path, counted from 0.
    Item(&'p Path<'p>, usize),
}

impl<'p> Path<'p> {
    /// The field of this map.
    #[must_use]
    pub const fn field(&'p self, key: &'p str) -> Self {
        Self::Field(self, key)
    }

    /// The item of this list, counted from 0.
    #[must_use]
    pub const fn item(&'p self, index: usize) -> Self {
        Self::Item(self, index)
    }

    /// Whether this is the whole document.
    #[must_use]
    pub const fn is_root(&self) -> bool {
        matches!(self, Self::Root)
    }
}

impl fmt::Display for Path<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Root => Ok(()),
            Self::Field(Self::Root, key) => f.write_str(key),
            Self::Field(parent, key) => write!(f, "{parent}.{key}"),
            Self::Item(parent, index) => write!(f, "{parent}[{index}]"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Path;

    #[test]
    fn a_path_reads_as_keys_and_places_in_lists() {
        let strengths = Path::Root.field("strengths");
        let second = strengths.item(1);
        assert_eq!(second.field("amount").to_string(), "strengths[1].amount");
        assert_eq!(Path::Root.item(0).field("drug").to_string(), "[0].drug");
        assert_eq!(Path::Root.to_string(), "");
    }
}
