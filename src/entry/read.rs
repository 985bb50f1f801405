//! How single fields are read: a quantity, one word of a list, a line of plain text.

use crate::document::{Item, Refusal, Typed};
use crate::quantity::{Refused, clip, look_alike, trimmed};

/// Reads a field by a grammar of `quantity`.
pub(super) fn quantity<T>(
    parse: impl FnOnce(&str) -> Result<T, Refused>,
) -> impl FnOnce(&Typed<'_, '_>) -> Result<T, Refusal> {
    |typed| parse(typed.text()).map_err(Refusal::from)
}

/// Reads one word of a closed list.
pub(super) fn choice<T>(
    what: &'static str,
    words: &'static [&'static str],
    written: impl FnOnce(&str) -> Option<T>,
) -> impl FnOnce(&Typed<'_, '_>) -> Result<T, Refusal> {
    move |typed| {
        written(trimmed(typed.text())).ok_or_else(|| {
            let article = if what.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
            let message = format!("`{}` is not {article} {what} that is known here", clip(typed.text()));
            let retype = look_alike::named(typed.text());
            Refusal::new("word-unknown", message).help(format!("{retype}write one of: {}", words.join(", ")))
        })
    }
}

/// Reads a line of plain text as typed: a name, a drug, a key of the equipment.
pub(super) fn words(typed: &Typed<'_, '_>) -> Result<String, Refusal> {
    const LONGEST: usize = 200;
    let text = trimmed(typed.text());
    // Nearly every text is short and plain.
    if text.len() <= LONGEST && text.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
        return Ok(text.to_owned());
    }
    if let Some(bad) = text.chars().find(|c| c.is_control()) {
        let message = format!("a control character ({}) stands in the text", bad.escape_unicode());
        return Err(Refusal::new("text-control-character", message).help("write it in one line of plain text"));
    }
    if text.chars().nth(LONGEST).is_some() {
        let message = format!("`{}` is longer than {LONGEST} characters", clip(text));
        return Err(Refusal::new("text-too-long", message).help("write it shorter"));
    }
    Ok(text.to_owned())
}

/// Reads a written reason: words, not a dot to get past the question.
pub(super) fn reason(typed: &Typed<'_, '_>) -> Result<String, Refusal> {
    const FEWEST_LETTERS: usize = 4;
    let text = words(typed)?;
    if text.chars().filter(|c| c.is_alphabetic()).count() < FEWEST_LETTERS {
        let message = format!("`{}` is not a reason that anybody can read later", clip(&text));
        return Err(Refusal::new("reason-empty", message).help("write the clinical reason in a few words"));
    }
    if let Some(rest) = text.strip_prefix("confirmed with")
        && !rest.chars().any(char::is_alphabetic)
    {
        let message = "`confirmed with` names nobody";
        return Err(Refusal::new("reason-empty", message).help("write `confirmed with` and the name of the person"));
    }
    Ok(text)
}

/// Reads `entered_by`: name and role.
pub(super) fn person(item: Item<'_, '_, '_>) -> Option<(String, String)> {
    let mut fields = item.fields()?;
    let name = fields.required("name", |typed| {
        let name = words(typed)?;
        if name.chars().any(char::is_alphabetic) {
            Ok(name)
        } else {
            Err(Refusal::new("name-empty", format!("`{}` is not a name", clip(&name)))
                .help("write the name of the person who enters this"))
        }
    });
    let role = fields.required("role", words);
    fields.no_others();
    Some((name?, role?))
}
