//! The code by which people name a case, and a set-up in it.
//!
//! Twenty-nine letters and digits without look-alikes, six of them, the last one a check: because 29 is prime and the
//! six weights differ, every single slip and every swap of two neighbours is caught.

use std::fmt;

use crate::quantity::clip;

use super::error::{CaseError, refuse};

/// A case: `K7M-4QX`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CaseCode([u8; LENGTH]);

/// A set-up of a case: `K7M-4QX/1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SetUpCode {
    /// The case.
    pub case: CaseCode,
    /// Which of its set-ups, from 1.
    pub number: u16,
}

const LENGTH: usize = 6;
const LETTERS: &[u8; 29] = b"0123456789ACDEFGHJKMNPQRTVWXY";
/// What is written or said for a letter that is not among them.
const HEARD_AS: &[(char, char)] = &[('O', '0'), ('I', '1'), ('L', '1'), ('Z', '2'), ('S', '5'), ('B', '8'), ('U', 'V')];

impl CaseCode {
    /// A code that was drawn by lot from five numbers, each taken modulo 29, with its check letter.
    #[must_use]
    pub fn drawn(lot: [u8; LENGTH - 1]) -> Self {
        let mut values = [0_u8; LENGTH];
        for (value, drawn) in values.iter_mut().zip(lot) {
            *value = drawn % 29;
        }
        // 29 is prime: exactly one letter makes the weighted sum a multiple of it.
        let check = (0..29).find(|check| {
            values[LENGTH - 1] = *check;
            weighted(values) == 0
        });
        values[LENGTH - 1] = check.unwrap_or_default();
        Self(values)
    }

    /// Reads a code as people write it: any letter case, with or without the hyphen, look-alikes taken for what they
    /// look like.
    ///
    /// # Errors
    /// When it is not six letters, or when they do not belong together: a letter misread, or two swapped.
    pub fn parse(text: &str) -> Result<Self, CaseError> {
        const HELP: &str = "read the code again, letter by letter: six letters and digits, like K7M-4QX";
        let value = |c: char| {
            let c = HEARD_AS.iter().find(|(written, _)| *written == c).map_or(c, |(_, meant)| *meant);
            LETTERS.iter().position(|letter| char::from(*letter) == c).and_then(|at| u8::try_from(at).ok())
        };
        let letters = text.trim().chars().filter(|c| !matches!(c, '-' | ' ')).map(|c| c.to_ascii_uppercase());
        let values: Option<Vec<u8>> = letters.map(value).collect();
        let Some(values) = values.and_then(|values| <[u8; LENGTH]>::try_from(values).ok()) else {
            return Err(refuse("code-not-a-code", format!("`{}` is not the code of a case", clip(text)), HELP));
        };
        if weighted(values) == 0 {
            Ok(Self(values))
        } else {
            let says = format!("`{}` is no code: a letter is wrong, or two are swapped", clip(text));
            Err(refuse("code-misread", says, HELP))
        }
    }

    /// Without the hyphen: as it stands in the journal and in the name of the file that holds its key.
    #[must_use]
    pub fn scope(&self) -> String {
        self.0.iter().map(|value| char::from(LETTERS[usize::from(*value)])).collect()
    }
}

impl SetUpCode {
    /// Reads `K7M-4QX/1`, or a case alone, whose set-up is then left open.
    ///
    /// # Errors
    /// As for a case; or when the number is none.
    pub fn parse(text: &str) -> Result<(CaseCode, Option<u16>), CaseError> {
        let Some((case, number)) = text.split_once('/') else { return Ok((CaseCode::parse(text)?, None)) };
        match number.trim().parse::<u16>() {
            Ok(number) if number > 0 => Ok((CaseCode::parse(case)?, Some(number))),
            _ => Err(refuse(
                "code-not-a-code",
                format!("`{}` is not the number of a set-up", clip(number)),
                "write the case, a stroke, and the set-up: K7M-4QX/1",
            )),
        }
    }
}

fn weighted(values: [u8; LENGTH]) -> u32 {
    values.iter().zip(1..).map(|(value, weight)| u32::from(*value) * weight).sum::<u32>() % 29
}

impl fmt::Display for CaseCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let scope = self.scope();
        write!(f, "{}-{}", &scope[..3], &scope[3..])
    }
}

impl fmt::Display for SetUpCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.case, self.number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // hazard: H-PATIENT
    #[test]
    fn every_slip_of_one_letter_and_every_swap_of_neighbours_is_caught() {
        for lot in [[0, 1, 2, 3, 4], [28, 28, 28, 28, 27], [5, 17, 5, 3, 9], [11, 2, 23, 7, 19]] {
            let code = CaseCode::drawn(lot);
            assert_eq!(CaseCode::parse(&code.to_string()).ok(), Some(code));
            let right = code.scope().into_bytes();
            for at in 0..LENGTH {
                for letter in LETTERS.iter().filter(|letter| **letter != right[at]) {
                    let mut wrong = right.clone();
                    wrong[at] = *letter;
                    assert!(CaseCode::parse(&String::from_utf8(wrong).expect("ASCII")).is_err());
                }
                if at > 0 && right[at] != right[at - 1] {
                    let mut wrong = right.clone();
                    wrong.swap(at, at - 1);
                    assert!(CaseCode::parse(&String::from_utf8(wrong).expect("ASCII")).is_err());
                }
            }
        }
    }

    #[test]
    fn a_code_is_read_as_people_write_it() {
        let code = CaseCode::drawn([0, 1, 5, 8, 2]);
        let written = code.scope();
        let heard = written.replace('0', "o").replace('1', "l").replace('5', "s").replace('8', "b").replace('2', "z");
        assert_eq!(CaseCode::parse(&heard.to_lowercase()).ok(), Some(code));
        assert_eq!(SetUpCode::parse(&format!("{code}/2")).ok(), Some((code, Some(2))));
        assert!(SetUpCode::parse(&format!("{code}/0")).is_err());
        assert!(CaseCode::parse("").is_err() && CaseCode::parse("K7M-4Q").is_err() && CaseCode::parse("é").is_err());
    }
}
