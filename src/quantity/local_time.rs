//! Clock times as a person at the bedside types them: in the machine's own time zone, and never two instants.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};

use super::read::Piece;
use super::refused::{Problem, Refused};
use super::{Moment, parse_date};

impl Moment {
    /// The same instant, shown in the machine's own time zone (`TZ`, else the system's); in UTC where that is not known.
    #[must_use]
    pub fn local(self) -> Self {
        let zone = TimeZone::try_system().unwrap_or(TimeZone::UTC);
        Self { instant: self.instant, offset: zone.to_offset(self.instant) }
    }

    /// Reads `07:40`, `7:40` or `0740` (today), `2026-03-14 07:40` (all on the clock of this machine's time zone), `now`, or a
    /// moment with its offset, as [`Moment::parse`]; none after `now`.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead. A time that a change of the clocks skips or repeats is
    /// refused with both instants it may mean.
    pub fn parse_local(text: &str, now: Self) -> Result<Self, Refused> {
        parse_in(text, now, TimeZone::try_system().ok().as_ref(), Which::Past)
    }

    /// As [`Moment::parse_local`], and after `now` too: a plan, or the end of a shelf life. `07:40` is today's.
    ///
    /// # Errors
    /// As [`Moment::parse_local`].
    pub fn parse_local_any(text: &str, now: Self) -> Result<Self, Refused> {
        parse_in(text, now, TimeZone::try_system().ok().as_ref(), Which::Any)
    }
}

/// Whether a moment may lie after now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Which {
    Past,
    Any,
}

fn parse_in(text: &str, now: Moment, zone: Option<&TimeZone>, which: Which) -> Result<Moment, Refused> {
    let whole = Piece::whole(text);
    if whole.text == "now" {
        return Ok(now);
    }
    let refuse = |why: String, help: String| Err(whole.refused(Problem::Moment { found: whole.found(), why }, help));
    let Some((date, time)) = clock(whole.text).map_err(|refused| refused.moved(whole.at))? else {
        let moment = Moment::parse(text)?;
        let help = "write when it was, not when it will be; or look at the clock of this machine";
        return if which == Which::Past && now.is_before(moment) {
            refuse(after(now), help.to_owned())
        } else {
            Ok(moment)
        };
    };
    let Some(zone) = zone else {
        let why = "a clock time, and this machine does not know its time zone".to_owned();
        return refuse(why, format!("write it with its offset from UTC: {}", now.to_rfc3339()));
    };
    let now = Moment { instant: now.instant, offset: zone.to_offset(now.instant) };
    let local = date.unwrap_or_else(|| now.date()).to_datetime(time);
    let (before, after_change, why) = match zone.to_ambiguous_timestamp(local).offset() {
        AmbiguousOffset::Unambiguous { offset } => {
            let Some(moment) = at(local, offset) else {
                return refuse("outside the years that are kept".to_owned(), "write the day it was".to_owned());
            };
            if which == Which::Any || !now.is_before(moment) {
                return Ok(moment);
            }
            let help = match (date, now.date().yesterday()) {
                (None, Ok(yesterday)) => format!("write the date if it was yesterday: {yesterday} {}", whole.text),
                _ => "write when it was, not when it will be; or look at the clock of this machine".to_owned(),
            };
            return refuse(after(now), help);
        }
        AmbiguousOffset::Fold { before, after } => (before, after, "comes twice"),
        AmbiguousOffset::Gap { before, after } => (before, after, "does not come"),
    };
    let shown = [before, after_change].map(|offset| {
        // Shown as the clock shows it at that instant: of a skipped time, before the change and after it.
        at(local, offset).map(|moment| Moment { offset: zone.to_offset(moment.instant), ..moment })
    });
    let mut shown: Vec<String> = shown.into_iter().flatten().map(Moment::to_rfc3339).collect();
    shown.sort();
    let why = format!("a time that {why} on {}: the clocks are changed", local.date());
    refuse(why, format!("write which it was, with its offset: {}", shown.join(" or ")))
}

fn after(now: Moment) -> String {
    format!("after now, which is {now}")
}

fn at(local: DateTime, offset: Offset) -> Option<Moment> {
    let instant: Timestamp = offset.to_timestamp(local).ok()?;
    Some(Moment { instant, offset })
}

/// `07:40`, `7:40` or `0740`, with a date before it or without; nothing where the text has another shape.
fn clock(text: &str) -> Result<Option<(Option<Date>, Time)>, Refused> {
    let (day, time) = match text.split_once(' ') {
        Some((day, time)) => (Some(day), time),
        None => (None, text),
    };
    let is_digits =
        |text: &str, least: usize| (least..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    let parts = match time.split_once(':') {
        Some(parts) => Some(parts),
        None if time.len() == 4 => time.split_at_checked(2),
        None => None,
    };
    let Some((hour, minute)) = parts.filter(|(hour, minute)| is_digits(hour, 1) && is_digits(minute, 2)) else {
        return Ok(None);
    };
    let number = |digits: &str| digits.parse().unwrap_or(i8::MAX);
    let time = Time::new(number(hour), number(minute), 0, 0).map_err(|_| {
        let piece = Piece { text: time, at: text.len() - time.len() };
        let problem = Problem::Moment { found: piece.found(), why: "not a time of the day".to_owned() };
        piece.refused(problem, "write hour and minute, 00:00 to 23:59: 07:40")
    })?;
    Ok(Some((day.map(parse_date).transpose()?, time)))
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::*;

    fn moment(text: &str) -> Moment {
        Moment::parse(text).expect("a moment")
    }

    fn paris() -> TimeZone {
        TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").expect("a rule for a time zone")
    }

    fn read(text: &str, now: &str) -> Result<String, Refused> {
        parse_in(text, moment(now), Some(&paris()), Which::Past).map(Moment::to_rfc3339)
    }

    #[rstest]
    #[case("07:40", "2026-03-14T07:00:00+00:00", "2026-03-14T07:40:00+01:00")]
    #[case("00:10", "2026-03-13T23:30:00+00:00", "2026-03-14T00:10:00+01:00")]
    #[case(" 08:00 ", "2026-03-14T07:00:00+00:00", "2026-03-14T08:00:00+01:00")]
    #[case("7:40", "2026-03-14T07:00:00+00:00", "2026-03-14T07:40:00+01:00")]
    #[case("0740", "2026-03-14T07:00:00+00:00", "2026-03-14T07:40:00+01:00")]
    #[case("now", "2026-03-14T07:00:00+00:00", "2026-03-14T07:00:00+00:00")]
    #[case("2026-03-13 2350", "2026-03-14T07:00:00+00:00", "2026-03-13T23:50:00+01:00")]
    #[case("2026-03-13 23:50", "2026-03-14T07:00:00+00:00", "2026-03-13T23:50:00+01:00")]
    #[case("2026-07-01 12:00", "2026-12-14T07:00:00+00:00", "2026-07-01T12:00:00+02:00")]
    #[case("2026-03-14T07:40:00+05:30", "2026-03-14T07:00:00+00:00", "2026-03-14T07:40:00+05:30")]
    fn a_clock_time_is_read_where_the_machine_stands(#[case] text: &str, #[case] now: &str, #[case] read_as: &str) {
        assert_eq!(read(text, now), Ok(read_as.to_owned()));
    }

    // hazard: H-RECORD
    #[rstest]
    #[case("2026-10-25 02:30", "comes twice", "2026-10-25T02:30:00+01:00 or 2026-10-25T02:30:00+02:00")]
    #[case("2026-03-29 02:30", "does not come", "2026-03-29T01:30:00+01:00 or 2026-03-29T03:30:00+02:00")]
    fn a_time_that_the_clocks_skip_or_repeat_is_refused_with_both(
        #[case] text: &str,
        #[case] why: &str,
        #[case] both: &str,
    ) {
        let refused = read(text, "2026-12-01T00:00:00+00:00").expect_err("two instants");
        assert!(refused.to_string().contains(why) && refused.help.ends_with(both), "{refused}: {}", refused.help);
        // What it offers is taken.
        for offered in both.split(" or ") {
            assert_eq!(read(offered, "2026-12-01T00:00:00+00:00"), Ok(offered.to_owned()));
        }
    }

    #[rstest]
    #[case("08:01", "after now, which is 2026-03-14 08:00 +01:00", "if it was yesterday: 2026-03-13 08:01")]
    #[case("2026-03-15 07:00", "after now", "not when it will be")]
    #[case("2026-03-14T07:01:00+00:00", "after now", "not when it will be")]
    #[case("24:00", "not a time of the day", "00:00 to 23:59")]
    #[case("2026-02-30 07:00", "not a day of the calendar", "year, month and day")]
    #[case("740", "not a date and time", "offset from UTC")]
    #[case("7:4", "not a date and time", "offset from UTC")]
    #[case("2400", "not a time of the day", "00:00 to 23:59")]
    #[case("Now", "not a date and time", "offset from UTC")]
    #[case("07:", "not a date and time", "offset from UTC")]
    #[case("07:40:00", "not a date and time", "offset from UTC")]
    #[case("night", "not a date and time", "offset from UTC")]
    #[case("2026-03-14T07:40:00", "without its offset", "offset from UTC")]
    fn other_times_are_refused(#[case] text: &str, #[case] why: &str, #[case] help: &str) {
        let refused = read(text, "2026-03-14T07:00:00+00:00").expect_err("refused");
        assert!(refused.to_string().contains(why) && refused.help.contains(help), "{refused}: {}", refused.help);
    }

    #[test]
    fn a_refusal_points_at_the_time() {
        let refused = read("2026-03-13 24:00", "2026-03-14T07:00:00+00:00").expect_err("refused");
        assert_eq!(refused.range, 11..16);
    }

    #[test]
    fn a_clock_time_without_a_time_zone_is_refused() {
        let refused = parse_in("07:40", moment("2026-03-14T08:00:00+00:00"), None, Which::Past).expect_err("refused");
        assert!(refused.to_string().contains("does not know its time zone"), "{refused}");
        assert!(parse_in("2026-03-14T07:40:00Z", moment("2026-03-14T08:00:00+00:00"), None, Which::Past).is_ok());
    }

    #[test]
    fn a_moment_is_told_to_the_second_in_utc() {
        let late = moment("2026-03-14T07:40:09.9+05:30");
        assert_eq!((late.to_utc(), late.offset()), ("2026-03-14T02:10:09Z".to_owned(), "+05:30".to_owned()));
        assert_eq!(moment("2026-03-14T07:40:00-03:30").offset(), "-03:30");
        assert_eq!(late.seconds_since(moment("2026-03-14T02:10:51Z")), -42);
        assert_eq!(late.local().to_utc(), late.to_utc());
    }
}
