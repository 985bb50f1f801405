//! Moments, dates and ages as people type them. UTC inside; shown in the offset that was typed.

use std::fmt;

use jiff::civil::Date;
use jiff::fmt::temporal::Pieces;
use jiff::tz::{Offset, TimeZone};
use jiff::{Span, Timestamp, Unit};

use super::read::Piece;
use super::refused::{Problem, Refused};
use super::{Number, NumberForm, Ratio};

/// An instant, with the offset from UTC in which it was typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    pub(super) instant: Timestamp,
    pub(super) offset: Offset,
}

impl Moment {
    /// Reads `2026-03-14T07:40:00+00:00`. The offset is required: a local time without one is two instants once a year.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        const HELP: &str = "write date, time and offset from UTC: 2026-03-14T07:40:00+00:00";
        if let Some(moment) = Self::of_usual_shape(text.as_bytes()) {
            return Ok(moment);
        }
        let whole = Piece::whole(text);
        let refuse = |why: &str| whole.refused(Problem::Moment { found: whole.found(), why: why.to_owned() }, HELP);
        let pieces = Pieces::parse(whole.text).map_err(|_| refuse("not a date and time"))?;
        if pieces.time_zone_annotation().is_some() {
            return Err(refuse("a moment with the name of a place, whose rules change"));
        }
        let time = pieces.time().ok_or_else(|| refuse("a date without a time"))?;
        let offset = pieces.to_numeric_offset().ok_or_else(|| refuse("a time without its offset from UTC"))?;
        let instant = offset
            .to_timestamp(pieces.date().to_datetime(time))
            .map_err(|_| refuse("outside the years that are kept"))?;
        Ok(Self { instant, offset })
    }

    /// Nearly every moment is written in exactly this shape; whatever is not goes the careful way.
    fn of_usual_shape(text: &[u8]) -> Option<Self> {
        let shape = text.iter().zip(b"0000-00-00T00:00:00+00:00").all(|(byte, pattern)| match pattern {
            b'0' => byte.is_ascii_digit(),
            b'+' => matches!(byte, b'+' | b'-'),
            _ => byte == pattern,
        });
        if !shape || text.len() != 25 {
            return None;
        }
        let pair = |at: usize| i8::try_from(10 * (text[at] - b'0') + (text[at + 1] - b'0')).ok();
        let year = 100 * i16::from(pair(0)?) + i16::from(pair(2)?);
        let date = Date::new(year, pair(5)?, pair(8)?).ok()?;
        let time = jiff::civil::Time::new(pair(11)?, pair(14)?, pair(17)?, 0).ok()?;
        let (hours, minutes) = (i32::from(pair(20)?), i32::from(pair(23)?));
        if hours > 23 || minutes > 59 {
            return None;
        }
        let seconds = 3600 * hours + 60 * minutes;
        let offset = Offset::from_seconds(if text[19] == b'-' { -seconds } else { seconds }).ok()?;
        let instant = offset.to_timestamp(date.to_datetime(time)).ok()?;
        Some(Self { instant, offset })
    }

    /// The clock, shown in UTC.
    #[must_use]
    pub fn now() -> Self {
        Self { instant: Timestamp::now(), offset: Offset::UTC }
    }

    /// A number of hours later, rounded down to the second; nothing when that is outside the years that are kept.
    #[must_use]
    pub fn after(self, hours: Ratio) -> Option<Self> {
        Some(self.later(hours)?.shown_as(self))
    }

    /// The same instant as [`Moment::after`], to be compared and not shown: the machine's time zone is not asked for its offset.
    #[must_use]
    pub fn later(self, hours: Ratio) -> Option<Self> {
        let seconds = i64::try_from(hours.numerator().checked_mul(3600)? / hours.denominator()).ok()?;
        let instant = self.instant.checked_add(jiff::SignedDuration::from_secs(seconds)).ok()?;
        Some(Self { instant, ..self })
    }

    /// The full minute that lies `minutes` before this one; nothing when that is outside the years that are kept.
    #[must_use]
    pub fn minutes_earlier(self, minutes: u32) -> Option<Self> {
        let second = self.instant.as_second().div_euclid(60).checked_sub(i64::from(minutes))?.checked_mul(60)?;
        Some(Self { instant: Timestamp::from_second(second).ok()?, ..self }.shown_as(self))
    }

    /// The hours from `earlier` to this moment; nothing when this moment is the earlier one.
    #[must_use]
    pub fn hours_since(self, earlier: Self) -> Option<Ratio> {
        let seconds = self.instant.as_second().checked_sub(earlier.instant.as_second())?;
        Ratio::new(u128::try_from(seconds).ok()?, 3600).ok()
    }

    /// As it is typed: `2026-03-14T07:40:00+00:00`.
    #[must_use]
    pub fn to_rfc3339(self) -> String {
        let text = self.to_string();
        text.replacen(' ', "T", 1).replace(' ', ":00")
    }

    /// To the second, in UTC: `2026-03-14T07:40:00Z`.
    #[must_use]
    pub fn to_utc(self) -> String {
        let utc = Offset::UTC.to_datetime(self.instant);
        let (date, time) = (utc.date(), utc.time());
        format!("{date}T{:02}:{:02}:{:02}Z", time.hour(), time.minute(), time.second())
    }

    /// The offset in which it is shown: `+01:00`.
    #[must_use]
    pub fn offset(self) -> String {
        let offset = self.offset.seconds();
        let sign = if offset < 0 { '-' } else { '+' };
        let minutes = offset.unsigned_abs() / 60;
        format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
    }

    /// Whole seconds from `earlier` to this moment; below zero when this one comes first.
    #[must_use]
    pub fn seconds_since(self, earlier: Self) -> i64 {
        // Both lie within the years that are kept, some 10^12 seconds.
        self.instant.as_second() - earlier.instant.as_second()
    }

    /// True when this moment comes first.
    #[must_use]
    pub fn is_before(self, other: Self) -> bool {
        self.instant < other.instant
    }

    /// The calendar day where it was typed.
    #[must_use]
    pub fn date(self) -> Date {
        self.offset.to_datetime(self.instant).date()
    }

    /// The same instant, shown where another was typed: in the offset that holds at this instant, if the other was typed in
    /// this machine's time zone, whose rules are known; else in the other's offset.
    #[must_use]
    pub fn shown_as(self, other: Self) -> Self {
        self.shown_in(other, TimeZone::try_system().ok().as_ref())
    }

    fn shown_in(self, other: Self, zone: Option<&TimeZone>) -> Self {
        let zone = zone.filter(|zone| zone.to_offset(other.instant) == other.offset);
        Self { instant: self.instant, offset: zone.map_or(other.offset, |zone| zone.to_offset(self.instant)) }
    }

    /// The same instant, shown in the offset of another and no other offset.
    #[must_use]
    pub const fn in_offset_of(self, other: Self) -> Self {
        Self { instant: self.instant, offset: other.offset }
    }
}

/// Day and minute, with the offset: `2026-03-14 07:40 +00:00`.
impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let local = self.offset.to_datetime(self.instant);
        let (date, time) = (local.date(), local.time());
        write!(f, "{date} {:02}:{:02} {}", time.hour(), time.minute(), self.offset())
    }
}

/// Reads a calendar day: `1959-08-02`.
///
/// # Errors
/// [`Refused`], with the place and what to write instead.
pub fn parse_date(text: &str) -> Result<Date, Refused> {
    let whole = Piece::whole(text);
    // Other writings of ISO 8601 have other signs in these places, or none.
    let shape =
        whole.text.bytes().enumerate().all(|(i, b)| if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() });
    let date = if shape { whole.text.parse::<Date>().ok() } else { None };
    date.ok_or_else(|| {
        let problem = Problem::Moment { found: whole.found(), why: "not a day of the calendar".to_owned() };
        whole.refused(problem, "write year, month and day: 1959-08-02")
    })
}

/// An age in whole or broken years, months, weeks or days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Age {
    number: Number,
    unit: AgeUnit,
    /// Worked out once, when it is read.
    days: Ratio,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum AgeUnit {
    Year,
    Month,
    Week,
    Day,
}

impl Age {
    /// Reads `16 years`, `18 months`, `6 weeks`, `5 days`.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        let (number, rest) = Piece::whole(text).number(NumberForm::MeasuredOrZero)?;
        let unit = match rest.text {
            "year" | "years" => AgeUnit::Year,
            "month" | "months" => AgeUnit::Month,
            "week" | "weeks" => AgeUnit::Week,
            "day" | "days" => AgeUnit::Day,
            _ => {
                let problem = Problem::UnitUnknown { found: rest.found() };
                return Err(rest.refused(problem, "write years, months, weeks or days in full, for example 18 months"));
            }
        };
        let (above, below) = match unit {
            AgeUnit::Year => (1461, 4),
            AgeUnit::Month => (1461, 48),
            AgeUnit::Week => (7, 1),
            AgeUnit::Day => (1, 1),
        };
        let each = Ratio::new(above, below).expect("small parts");
        let days = number.ratio().times(each).expect("nine digits times a small fraction fit in 10^37");
        Ok(Self { number, unit, days })
    }

    /// The age in days: a year counts 365.25 days, a month a twelfth of that (common practice, no source).
    #[must_use]
    pub const fn days(self) -> Ratio {
        self.days
    }

    /// The longest that one of its units lasts, in days: an age is written in whole ones.
    #[must_use]
    pub const fn unit_in_days(self) -> Ratio {
        Ratio::whole(match self.unit {
            AgeUnit::Year => 366,
            AgeUnit::Month => 31,
            AgeUnit::Week => 7,
            AgeUnit::Day => 1,
        })
    }

    /// The days from a birth date to a day; nothing before the birth. Each birthday completes a year of
    /// [`Age::days`], so that a child is a year old on the first birthday, not a day later.
    #[must_use]
    pub fn days_from(born: Date, on: Date) -> Option<Ratio> {
        let years = born.until((Unit::Year, on)).ok()?.get_years();
        let birthday = born.checked_add(Span::new().years(years)).ok()?;
        let since = u64::try_from(on.duration_since(birthday).as_hours() / 24).ok()?;
        let days = u128::try_from(years).ok()?.checked_mul(1461)?;
        Ratio::new(days, 4).and_then(|days| days.plus(Ratio::whole(since))).ok()
    }
}

impl fmt::Display for Age {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = match self.unit {
            AgeUnit::Year => "year",
            AgeUnit::Month => "month",
            AgeUnit::Week => "week",
            AgeUnit::Day => "day",
        };
        let many = if self.number.ratio() == Ratio::ONE { "" } else { "s" };
        write!(f, "{} {unit}{many}", self.number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case("2026-03-14T07:40:00+00:00", "2026-03-14 07:40 +00:00")]
    #[case("2026-03-14T07:40+05:30", "2026-03-14 07:40 +05:30")]
    #[case("2026-03-14T07:40:00Z", "2026-03-14 07:40 +00:00")]
    fn moments_are_shown_where_they_were_typed(#[case] text: &str, #[case] shown: &str) {
        assert_eq!(Moment::parse(text).map(|m| m.to_string()), Ok(shown.to_owned()));
    }

    #[rstest]
    #[case("2026-03-14T07:40:00", "a time without its offset from UTC")]
    #[case("2026-03-14", "a date without a time")]
    #[case("14/03/2026", "not a date and time")]
    #[case("2026-02-30T07:40:00Z", "not a date and time")]
    #[case("2026/03/14 07.40.00+00.00", "not a date and time")]
    #[case("2026-03-14Tn7:40:00+00:00", "not a date and time")]
    #[case("2026-03-14T07:40:00+00:00[Europe/London]", "a moment with the name of a place, whose rules change")]
    fn other_moments_are_refused(#[case] text: &str, #[case] why: &str) {
        let refused = Moment::parse(text).expect_err("refused");
        assert!(matches!(&refused.problem, Problem::Moment { why: found, .. } if found == why), "{refused}");
    }

    // What has the usual shape is not read the careful way.
    #[rstest]
    #[case("2026-03-14T07:40:00+00:00", true)]
    #[case("2026-03-14T07:40:59-03:30", true)]
    #[case("2026-12-31T23:59:59+23:59", true)]
    #[case("2026-03-14T07:40:00+24:00", false)]
    #[case("2026-03-14T07:40:00+00:60", false)]
    #[case("2026-03-14T07:40:00Z", false)]
    #[case("2026-03-14T07:40:00+00:000", false)]
    fn nearly_every_moment_goes_the_short_way(#[case] text: &str, #[case] short: bool) {
        assert_eq!(Moment::of_usual_shape(text.as_bytes()).is_some(), short);
    }

    #[test]
    fn hours_are_counted_between_moments() {
        let read = |text| Moment::parse(text).expect("a moment");
        let (early, late) = (read("2026-03-14T23:30:00+01:00"), read("2026-03-15T00:15:00+00:00"));
        let hours = |above, below| Ratio::new(above, below).expect("small");
        assert_eq!(late.hours_since(early), Some(hours(7, 4)));
        assert_eq!(early.hours_since(late), None);
        assert_eq!(early.hours_since(early), Some(Ratio::ZERO));
        assert!(early.is_before(late) && !late.is_before(early) && !late.is_before(late));
        assert_eq!(early.after(hours(7, 4)), Some(late.shown_as(early)));
        // Down to the second: a third of a second is none.
        assert_eq!(early.after(hours(1, 3 * 3600)), Some(early));
        assert_eq!(early.after(hours(10, 3 * 3600)).map(|after| after.seconds_since(early)), Some(3));
        assert_eq!(early.after(Ratio::whole(100_000_000)), None);
        for time in [hours(7, 4), hours(1, 3 * 3600), Ratio::whole(100_000_000)] {
            assert_eq!(early.later(time), early.after(time).map(|after| after.in_offset_of(early)));
        }
        assert_eq!(late.minutes_earlier(105), Some(early.shown_as(late)));
        assert_eq!(read("2026-03-14T22:30:59+00:00").minutes_earlier(0), Some(early.shown_as(late)));
        assert_eq!(early.date().to_string(), "2026-03-14");
        assert_eq!(late.shown_as(early).to_rfc3339(), "2026-03-15T01:15:00+01:00");
    }

    // In Paris the clocks are changed on 2026-03-29 at 02:00 and on 2026-10-25 at 03:00.
    // hazard: H-RECORD
    #[rstest]
    #[case::before("2026-03-29T00:30:00Z", "2026-03-28T23:06:00+01:00", "2026-03-29T01:30:00+01:00")]
    #[case::into_summer("2026-03-29T05:06:00Z", "2026-03-28T23:06:00+01:00", "2026-03-29T07:06:00+02:00")]
    #[case::into_winter("2026-10-25T05:06:00Z", "2026-10-24T23:06:00+02:00", "2026-10-25T06:06:00+01:00")]
    // Typed with an offset that does not hold in Paris: its rules are not known.
    #[case::elsewhere("2026-03-29T05:06:00Z", "2026-03-28T23:06:00+00:00", "2026-03-29T05:06:00+00:00")]
    fn a_moment_is_shown_in_the_offset_that_holds_then(#[case] moment: &str, #[case] typed: &str, #[case] shown: &str) {
        let paris = TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").expect("a rule for a time zone");
        let read = |text| Moment::parse(text).expect("a moment");
        let found = read(moment).shown_in(read(typed), Some(&paris));
        assert_eq!(found.to_rfc3339(), shown);
        assert_eq!(read(moment).shown_in(read(typed), None), read(moment).in_offset_of(read(typed)));
    }

    proptest::proptest! {
        #[test]
        fn the_short_way_reads_what_the_careful_way_reads(
            text in "(19|20)[0-9]{2}-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-6][0-9]:[0-6][0-9][+-][0-2][0-9]:[0-6][0-9]"
        ) {
            if let Some(moment) = Moment::of_usual_shape(text.as_bytes()) {
                let pieces = Pieces::parse(&text).expect("it was read the short way");
                let time = pieces.time().expect("it has one");
                let offset = pieces.to_numeric_offset().expect("it has one");
                let instant = offset.to_timestamp(pieces.date().to_datetime(time)).expect("it was read the short way");
                proptest::prop_assert_eq!(moment, Moment { instant, offset });
            }
        }
    }

    #[rstest]
    #[case("02/08/1959")]
    #[case("1959-8-2")]
    #[case("1959-02-30")]
    #[case("19590802")]
    #[case("1959-08-2")]
    #[case("1959/08/02")]
    #[case("1959-08-021")]
    #[case("+001959-08-02")]
    #[case("1959-W31-7")]
    #[case("1959-08")]
    #[case("1959-214")]
    #[case("1959")]
    #[case("1959-08-0212")]
    #[case("1959-08-02-00")]
    #[case("")]
    fn other_days_are_refused(#[case] text: &str) {
        assert!(parse_date(text).is_err());
    }

    #[rstest]
    #[case("1 years", "1 year")]
    #[case("16 year", "16 years")]
    #[case("18 month", "18 months")]
    #[case("1.5 week", "1.5 weeks")]
    #[case("1 day", "1 day")]
    #[case("0 day", "0 days")]
    fn one_is_not_many(#[case] text: &str, #[case] shown: &str) {
        assert_eq!(Age::parse(text).map(|age| age.to_string()), Ok(shown.to_owned()));
    }

    #[test]
    fn an_age_counts_in_days() {
        let day = |text| parse_date(text).expect("a day");
        assert_eq!(Age::days_from(day("2020-02-28"), day("2020-03-01")), Some(Ratio::whole(2)));
        assert_eq!(Age::days_from(day("2020-03-01"), day("2020-02-28")), None);
        for (born, on, years) in
            [("2025-03-14", "2026-03-14", 1), ("2024-02-29", "2028-02-29", 4), ("2010-03-14", "2026-03-14", 16)]
        {
            let age = Age::parse(&format!("{years} years")).map(Age::days);
            assert_eq!(Age::days_from(day(born), day(on)).ok_or(()), age.map_err(|_| ()), "{born}");
            let before = day(on).yesterday().expect("a day");
            assert!(Age::days_from(day(born), before) < Age::days_from(day(born), day(on)));
        }
        assert_eq!(Age::parse("2 weeks").map(Age::days), Ok(Ratio::whole(14)));
        assert_eq!(Age::parse("12 months").map(Age::days), Age::parse("1 year").map(Age::days));
        assert_eq!(Age::parse("1 month").map(Age::days), Ok(Ratio::new(1461, 48).expect("small")));
        assert!(Age::parse("2 y").is_err());
    }
}
