//! What was typed into a form, by its place there.

/// Typed texts by their place in the form.
pub(super) type TypedFields = Vec<(String, String)>;

/// What was typed at one place of a form, as typed; nothing where the form has no such place.
pub(super) fn text<'t>(typed: &'t [(String, String)], name: &str) -> &'t str {
    typed.iter().find(|(known, _)| known == name).map_or("", |(_, text)| text)
}

/// As [`text`], without the blanks around it; nothing where nothing is left.
pub(super) fn said<'t>(typed: &'t [(String, String)], name: &str) -> Option<&'t str> {
    Some(text(typed, name).trim()).filter(|text| !text.is_empty())
}
