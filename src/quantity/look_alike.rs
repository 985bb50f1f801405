//! Letters of another alphabet that cannot be told from a Latin one: a text in, its Latin form and a sentence that names
//! them out. Without it a refusal would show a word that looks exactly like the right one.

/// Small and capital letters of Cyrillic and Greek with a Latin letter of the same shape. The Greek mu is no slip: it
/// stands for micro.
const SHAPES: &[(char, char)] = &[
    ('а', 'a'),
    ('с', 'c'),
    ('ԁ', 'd'),
    ('е', 'e'),
    ('һ', 'h'),
    ('і', 'i'),
    ('ј', 'j'),
    ('к', 'k'),
    ('м', 'm'),
    ('о', 'o'),
    ('р', 'p'),
    ('ѕ', 's'),
    ('т', 't'),
    ('у', 'y'),
    ('х', 'x'),
    ('А', 'A'),
    ('В', 'B'),
    ('С', 'C'),
    ('Е', 'E'),
    ('Н', 'H'),
    ('І', 'I'),
    ('К', 'K'),
    ('М', 'M'),
    ('О', 'O'),
    ('Р', 'P'),
    ('Ѕ', 'S'),
    ('Т', 'T'),
    ('Х', 'X'),
    ('α', 'a'),
    ('ι', 'i'),
    ('κ', 'k'),
    ('ν', 'v'),
    ('ο', 'o'),
    ('ρ', 'p'),
    ('υ', 'u'),
    ('Α', 'A'),
    ('Β', 'B'),
    ('Ε', 'E'),
    ('Η', 'H'),
    ('Ι', 'I'),
    ('Κ', 'K'),
    ('Μ', 'M'),
    ('Ν', 'N'),
    ('Ο', 'O'),
    ('Ρ', 'P'),
    ('Τ', 'T'),
    ('Υ', 'Y'),
    ('Χ', 'X'),
    ('Ζ', 'Z'),
];

/// The same text in Latin letters; none where no letter only looks like one.
pub(crate) fn in_latin(text: &str) -> Option<String> {
    let latin: String = text.chars().map(|c| latin(c).unwrap_or(c)).collect();
    (latin != text).then_some(latin)
}

/// A sentence that names the first such letter, with a space after it; nothing where there is none.
pub(crate) fn named(text: &str) -> String {
    let found = text.chars().find_map(|c| Some((c, latin(c)?)));
    found.map_or_else(String::new, |(c, latin)| {
        let code = u32::from(c);
        format!("the `{c}` in it (U+{code:04X}) only looks like the letter {latin}: retype the word. ")
    })
}

fn latin(c: char) -> Option<char> {
    SHAPES.iter().find(|(shape, _)| *shape == c).map(|(_, latin)| *latin)
}

#[cfg(test)]
mod tests {
    use super::{SHAPES, in_latin, named};

    #[test]
    fn a_letter_of_another_alphabet_is_named_with_its_code() {
        assert_eq!(in_latin("nоradrenaline").as_deref(), Some("noradrenaline"));
        assert_eq!(named("nоradrenaline"), "the `о` in it (U+043E) only looks like the letter o: retype the word. ");
        assert_eq!((in_latin("noradrenaline"), named("μg"), named("Ärztin")), (None, String::new(), String::new()));
    }

    #[test]
    fn every_shape_is_listed_once_and_is_not_latin() {
        for (at, (shape, latin)) in SHAPES.iter().enumerate() {
            assert!(!shape.is_ascii() && latin.is_ascii_alphabetic());
            assert!(SHAPES[at + 1..].iter().all(|(other, _)| other != shape), "{shape}");
        }
    }
}
