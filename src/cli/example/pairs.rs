//! The pairs of `examples/`, and the one way in which their times are moved. Only what is written here can be moved.

use jiff::SignedDuration;
use jiff::civil::{Date, DateTime};

use crate::quantity::Moment;

/// Two entries of two invented people, as their files say.
#[derive(Debug)]
pub(super) struct Example {
    pub(super) name: &'static str,
    /// What it shows, in a few words.
    pub(super) says: &'static str,
    pub(super) first: &'static str,
    pub(super) second: &'static str,
}

/// The two texts after their times were moved.
pub(super) struct Moved {
    pub(super) first: String,
    pub(super) second: String,
}

/// How long before now the later of the two entries was made.
const MINUTES_BEFORE: i64 = 4;

macro_rules! example {
    ($folder:literal, $pair:literal, $name:literal, $says:literal) => {
        Example {
            name: $name,
            says: $says,
            first: include_str!(concat!("../../../examples/", $folder, "/", $pair, "first.yaml")),
            second: include_str!(concat!("../../../examples/", $folder, "/", $pair, "second.yaml")),
        }
    };
}

/// Every pair. The first is shown where none is named.
pub(super) const EXAMPLES: &[Example] = &[
    example!("adult-vasopressor", "", "adult-vasopressor", "noradrenaline for an adult in theatre; the entries agree"),
    example!(
        "adult-vasopressor",
        "disagree-",
        "adult-vasopressor/disagree",
        "two digits of the weight exchanged, and another strength; the entries disagree"
    ),
    example!(
        "adult-vasopressor",
        "reasons-missing-",
        "adult-vasopressor/reasons-missing",
        "a high dose; no card until each person has written a reason"
    ),
    example!(
        "adult-vasopressor",
        "reasons-",
        "adult-vasopressor/reasons",
        "the high dose with both reasons on the card"
    ),
    example!(
        "adult-vasopressor",
        "stopped-",
        "adult-vasopressor/stopped",
        "nanograms read as micrograms by both; a stop"
    ),
    example!("child-sedation", "", "child-sedation", "midazolam with a bolus for a child of five; the entries agree"),
    example!(
        "child-sedation",
        "disagree-",
        "child-sedation/disagree",
        "bolus and line read differently; the entries disagree"
    ),
    example!(
        "child-sedation",
        "reasons-missing-",
        "child-sedation/reasons-missing",
        "a high dose for a newborn; no card until each person has written a reason"
    ),
    example!(
        "child-sedation",
        "reasons-",
        "child-sedation/reasons",
        "the newborn's dose with both reasons on the card"
    ),
    example!("child-sedation", "stopped-", "child-sedation/stopped", "one zero too many, read by both; a stop"),
    example!("insulin", "", "insulin", "insulin at a variable rate; the entries agree"),
    example!("insulin", "disagree-", "insulin/disagree", "the decimal point of the dose lost; the entries disagree"),
    example!(
        "insulin",
        "reasons-missing-",
        "insulin/reasons-missing",
        "a high dose; no card until each person has written a reason"
    ),
    example!("insulin", "reasons-", "insulin/reasons", "the high dose with both reasons on the card"),
    example!("insulin", "stopped-", "insulin/stopped", "ten times the insulin in the syringe; a stop"),
];

/// How far everything is moved: instants to the second, so that their differences stay; days without a time by whole
/// days, so that an age in days stays and a child stays in its age band.
#[derive(Debug, Clone, Copy)]
struct TimeShift {
    seconds: i64,
    days: i64,
}

impl Example {
    /// Both texts with every instant and every date moved, so that `later`, when the later entry was made, becomes a few
    /// minutes before `now`; nothing where a date would leave [`YEARS`].
    pub(super) fn moved(&self, later: Moment, now: Moment) -> Option<Moved> {
        let seconds = (now.seconds_since(later) - 60 * MINUTES_BEFORE).div_euclid(60) * 60;
        let local = later.to_rfc3339().get(..INSTANT.len())?.parse::<DateTime>().ok()?;
        let target = local.checked_add(SignedDuration::from_secs(seconds)).ok()?;
        let days = target.date().duration_since(local.date()).as_hours() / 24;
        let by = TimeShift { seconds, days };
        Some(Moved { first: by.move_text(self.first)?, second: by.move_text(self.second)? })
    }
}

/// Years of four digits, whole within what a moment can be.
const YEARS: std::ops::Range<i16> = 1..9999;
/// An instant as typed, without its offset, which stays.
const INSTANT: &str = "0000-00-00T00:00:00";
/// A day as typed, of a birth or within an identifier.
const DAYS: [&str; 2] = ["0000-00-00", "0000 00 00"];

impl TimeShift {
    fn move_text(self, text: &str) -> Option<String> {
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(next) = rest.chars().next() {
            let within_a_number = out.ends_with(|before: char| before.is_ascii_digit());
            let typed = std::iter::once(&INSTANT).chain(&DAYS).find(|shape| begins_with(rest, shape));
            if let Some(shape) = typed.filter(|_| !within_a_number) {
                let (typed, after) = rest.split_at(shape.len());
                out.push_str(&self.move_one(typed)?);
                rest = after;
            } else {
                out.push(next);
                rest = &rest[next.len_utf8()..];
            }
        }
        Some(out)
    }

    fn move_one(self, typed: &str) -> Option<String> {
        if typed.len() == INSTANT.len() {
            let moved = typed.parse::<DateTime>().ok()?.checked_add(SignedDuration::from_secs(self.seconds)).ok()?;
            return YEARS.contains(&moved.year()).then(|| moved.to_string());
        }
        let separator = if typed.contains(' ') { " " } else { "-" };
        let day = typed.replace(' ', "-").parse::<Date>().ok()?;
        let moved = day.checked_add(SignedDuration::from_hours(24 * self.days)).ok()?;
        YEARS.contains(&moved.year()).then(|| moved.to_string().replace('-', separator))
    }
}

/// Whether a text begins in a shape, in which `0` is any digit, and no digit follows.
fn begins_with(text: &str, shape: &str) -> bool {
    let digit = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_digit);
    let same = |(at, sign): (usize, u8)| {
        let found = text.as_bytes().get(at);
        if sign == b'0' { digit(found) } else { found == Some(&sign) }
    };
    shape.bytes().enumerate().all(same) && !digit(text.as_bytes().get(shape.len()))
}

#[cfg(test)]
mod tests {
    use std::sync::LazyLock;

    /// By how much the instants and the dates of a text were moved.
    type Moves = (Option<SignedDuration>, Option<SignedDuration>);

    use regex::Regex;
    use rstest::rstest;

    use super::*;
    use crate::cli::entry_file::read_text;
    use crate::entry::Entry;

    const MOMENTS: &[&str] = &[
        "2026-03-14T07:50:00+00:00",
        "2026-03-15T00:01:59+00:00",
        "2026-11-30T23:59:00-08:00",
        "2028-02-29T12:00:00+00:00",
        "2031-03-01T00:03:00+05:30",
        "2040-02-29T00:00:30+00:00",
        "2040-12-31T23:58:00+00:00",
        "1999-12-31T23:59:59+00:00",
    ];

    fn entry(text: &str) -> Box<Entry> {
        read_text("an example".to_owned(), text.to_owned(), false).expect("a good form")
    }

    fn later(example: &Example) -> Moment {
        let [first, second] = [example.first, example.second].map(|text| entry(text).entered_at());
        if first.is_before(second) { second } else { first }
    }

    static INSTANTS: LazyLock<Regex> =
        LazyLock::new(|| Regex::new(r"\b\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d").expect("a pattern"));
    static DATES: LazyLock<Regex> = LazyLock::new(|| Regex::new(r"\b\d{4}([- ])\d\d([- ])\d\d\b").expect("a pattern"));

    /// Every instant and every day of a text, and the text without them, found in another way than by the code above.
    fn times(text: &str) -> (Vec<DateTime>, Vec<Date>, String) {
        let instants = INSTANTS.find_iter(text).map(|found| found.as_str().parse().expect("an instant")).collect();
        let rest = INSTANTS.replace_all(text, "INSTANT");
        let day = |found: regex::Match<'_>| found.as_str().replace(' ', "-").parse().expect("a day");
        let days = DATES.find_iter(&rest).map(day).collect();
        (instants, days, DATES.replace_all(&rest, "DAY$1$2").into_owned())
    }

    #[test]
    fn every_time_of_every_example_is_moved_together_and_nothing_else() {
        let (mut instants, mut days) = (0, 0);
        for (example, at) in EXAMPLES.iter().flat_map(|example| MOMENTS.iter().map(move |at| (example, at))) {
            let (later, now) = (later(example), Moment::parse(at).expect("a moment"));
            let moved = example.moved(later, now).expect("it can be moved");
            let mut by = Vec::new();
            for (text, moved) in [(example.first, &moved.first), (example.second, &moved.second)] {
                let (before, after) = (times(text), times(moved));
                assert_eq!(before.2, after.2, "{} at {at}", example.name);
                assert_eq!((before.0.len(), before.1.len()), (after.0.len(), after.1.len()));
                // Instants: the entry, the syringe, perhaps the start. Days: the birth, alone or within the identifiers.
                assert!((2..=3).contains(&before.0.len()) && (1..=2).contains(&before.1.len()), "{text}");
                (instants, days) = (instants + before.0.len(), days + before.1.len());
                by.extend(before.0.iter().zip(&after.0).map(|(a, b)| (Some(b.duration_since(*a)), None)));
                by.extend(before.1.iter().zip(&after.1).map(|(a, b)| (None, Some(b.duration_since(*a)))));
                // What the reader of forms makes of it moved by the same.
                let (read, moved) = (entry(text), entry(moved));
                let seconds = by.iter().find_map(|(instant, _)| *instant).expect("an instant").as_secs();
                assert_eq!(moved.entered_at().seconds_since(read.entered_at()), seconds);
            }
            for one in &by {
                let same = by.iter().find(|other| other.0.is_some() == one.0.is_some());
                assert_eq!(Some(one), same, "{} at {at}", example.name);
            }
            // Whole days, as near to the instants as can be.
            let of = |which: fn(&Moves) -> Option<SignedDuration>| {
                by.iter().find_map(which).expect("both are there").as_secs()
            };
            let (seconds, day) = (of(|one| one.0), of(|one| one.1));
            assert!(day % 86400 == 0 && (seconds - day).abs() < 86400, "{seconds} and {day}");
            let [first, second] = [&moved.first, &moved.second].map(|text| entry(text).entered_at());
            let ago = now.seconds_since(if first.is_before(second) { second } else { first });
            assert!((240..300).contains(&ago), "{} at {at}: {ago} s", example.name);
        }
        assert!(instants > 500 && days > 300, "{instants} instants and {days} days");
    }

    #[rstest]
    fn an_age_in_days_stays(
        #[values("2026-11-30T12:00:00+00:00", "2031-06-01T12:00:00+00:00", "2040-02-29T12:00:00+00:00")] at: &str,
    ) {
        let now = Moment::parse(at).expect("a moment");
        for example in EXAMPLES {
            let moved = example.moved(later(example), now).expect("it can be moved");
            for (text, moved) in [(example.first, &moved.first), (example.second, &moved.second)] {
                let [before, after] = [entry(text), entry(moved)].map(|entry| {
                    let (born, on) = (birth(&entry), entry.entered_at().date());
                    born.map(|born| on.duration_since(born).as_hours() / 24)
                });
                assert_eq!(before, after, "{}", example.name);
            }
        }
    }

    fn birth(entry: &Entry) -> Option<Date> {
        match entry.patient().age {
            Some(crate::entry::AgeGiven::Born(born)) => Some(born),
            _ => None,
        }
    }

    #[rstest]
    #[case("weight: 84200 g, 4 mg in 50 mL", "weight: 84200 g, 4 mg in 50 mL")]
    #[case("12026-03-14 and 2026-03-145", "12026-03-14 and 2026-03-145")]
    #[case("[qm 2024-02-28, \"2024 02 28\"]", "[qm 2024-02-29, \"2024 02 29\"]")]
    #[case("2024-02-28T23:30:00+01:00", "2024-02-29T00:30:00+01:00")]
    #[case("é 2024-12-31", "é 2025-01-01")]
    fn a_text_is_moved_where_a_time_stands(#[case] text: &str, #[case] moved: &str) {
        assert_eq!(TimeShift { seconds: 3600, days: 1 }.move_text(text).as_deref(), Some(moved));
    }

    #[test]
    fn what_would_leave_the_years_is_not_moved() {
        for at in ["9999-12-30T12:00:00+00:00", "0001-01-03T00:00:00+00:00"] {
            let now = Moment::parse(at).expect("a moment");
            assert!(EXAMPLES.iter().all(|example| example.moved(later(example), now).is_none()), "{at}");
        }
    }
}
