//! How single fields are read: a quantity, one word of a list, a line of plain text.

use crate::document::{Item, Refusal, Typed};
use crate::quantity::{Refused, clip, look_alike, trimmed};

/// Fields that may be assumed: each stands on the card as such.
const ASSUMABLE: [&str; 10] = [
    "weight_from",
    "phase",
    "dosing_weight",
    "drawn_up_at",
    "access",
    "container",
    "fill",
    "line",
    "line_filled",
    "driver",
];

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
    written: impl Fn(&str) -> Option<T>,
) -> impl FnOnce(&Typed<'_, '_>) -> Result<T, Refusal> {
    move |typed| {
        let text = trimmed(typed.text());
        written(text).or_else(|| written(&text.to_ascii_lowercase())).ok_or_else(|| {
            let article = if what.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
            let message = format!("`{}` is not {article} {what} that is known here", clip(typed.text()));
            let retype = look_alike::named(typed.text());
            Refusal::new("word-unknown", message).help(format!("{retype}write one of: {}", words.join(", ")))
        })
    }
}

/// Reads the names of the fields that nobody was asked for.
pub(super) fn assumed_fields(item: Item<'_, '_, '_>) -> Option<Vec<&'static str>> {
    item.items()?.read(|item| {
        item.text(|typed| {
            let known = ASSUMABLE.iter().find(|known| **known == typed.text().trim()).copied();
            known.ok_or_else(|| {
                let says = format!("`{}` cannot be assumed", clip(typed.text()));
                Refusal::new("field-not-assumed", says).help("read it, and write it")
            })
        })
    })
}

/// Reads a line of plain text as typed: a name, a drug, a key of the equipment.
pub(super) fn words(typed: &Typed<'_, '_>) -> Result<String, Refusal> {
    line(typed).map(str::to_owned)
}

/// As [`words`], where the text is kept elsewhere.
pub(super) fn line<'n>(typed: &Typed<'n, '_>) -> Result<&'n str, Refusal> {
    const LONGEST: usize = 200;
    let text = trimmed(typed.text());
    // Nearly every text is short and plain.
    if text.len() <= LONGEST && text.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
        return Ok(text);
    }
    if let Some(bad) = text.chars().find(|c| c.is_control()) {
        let message = format!("a control character ({}) stands in the text", bad.escape_unicode());
        return Err(Refusal::new("text-control-character", message).help("write it in one line of plain text"));
    }
    if text.chars().nth(LONGEST).is_some() {
        let message = format!("`{}` is longer than {LONGEST} characters", clip(text));
        return Err(Refusal::new("text-too-long", message).help("write it shorter"));
    }
    Ok(text)
}

/// The texts of an entry, one behind the other: an entry has a dozen short ones, and they live and die together.
#[derive(Debug, Clone, Default)]
pub(super) struct Texts(String);

/// Where one of them is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kept {
    from: u32,
    to: u32,
}

impl Texts {
    pub(super) fn new() -> Self {
        const USUAL: usize = 256;
        Self(String::with_capacity(USUAL))
    }

    pub(super) fn keep(&mut self, text: &str) -> Kept {
        // An entry is at most 64 KiB long.
        let at = |texts: &Self| u32::try_from(texts.0.len()).unwrap_or(u32::MAX);
        let from = at(self);
        self.0.push_str(text);
        Kept { from, to: at(self) }
    }

    pub(super) fn text(&self, kept: Kept) -> &str {
        &self.0[kept.from as usize..kept.to as usize]
    }
}

/// Reads a written reason: words, not a dot to get past the question.
pub(super) fn reason(typed: &Typed<'_, '_>) -> Result<String, Refusal> {
    const FEWEST_LETTERS: usize = 4;
    let text = words(typed)?;
    if text.chars().filter(|c| c.is_alphabetic()).count() < FEWEST_LETTERS {
        let message = format!("`{}` is not a reason that anybody can read later", clip(&text));
        return Err(Refusal::new("reason-empty", message).help("write the clinical reason in a few words"));
    }
    let folded = text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    if let Some(rest) = folded.strip_prefix("confirmed with")
        && !rest.chars().any(char::is_alphabetic)
    {
        let message = "`confirmed with` names nobody";
        return Err(Refusal::new("reason-empty", message).help("write `confirmed with` and the name of the person"));
    }
    Ok(text)
}

/// Reads `entered_by`: name and role.
pub(super) fn person(item: Item<'_, '_, '_>, texts: &mut Texts) -> Option<(Kept, Kept)> {
    let mut fields = item.fields()?;
    let name = fields.required("name", |typed| {
        let name = line(typed)?;
        if name.chars().any(char::is_alphabetic) {
            Ok(texts.keep(name))
        } else {
            Err(Refusal::new("name-empty", format!("`{}` is not a name", clip(name)))
                .help("write the name of the person who enters this"))
        }
    });
    let role = fields.required("role", |typed| Ok(texts.keep(line(typed)?)));
    fields.no_others();
    Some((name?, role?))
}
