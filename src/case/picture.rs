//! A picture of a course in plain characters: the rate over time, and what the syringe holds.

use std::fmt::Write as _;

use crate::quantity::{Moment, Ratio, about};

use super::accounting::Course;
use super::error::CaseError;

/// Columns of time; with the numbers at the left, 80 characters at most.
const COLUMNS: u32 = 64;
const RATE_ROWS: u64 = 7;
const LEFT_ROWS: u64 = 5;
/// Where the drawing begins.
const MARGIN: usize = 14;
/// Between two clock times.
const TICK: u32 = 16;

/// The picture, from the start to the stop or to now.
///
/// # Errors
/// When the numbers are too far apart to be kept exactly.
pub fn drawn(course: &Course) -> Result<String, CaseError> {
    let until = course.stopped.unwrap_or(course.until);
    let Some(hours) = until.hours_since(course.started).filter(|hours| !hours.is_zero()) else {
        return Ok("It has just been started: there is nothing to draw yet.\n".to_owned());
    };
    let times = Times { start: course.started, hours };
    let mut out = String::new();
    let rates = (0..COLUMNS).map(|column| times.highest_rate(course, column)).collect::<Result<Vec<_>, _>>()?;
    let highest = rates.iter().copied().fold(Ratio::ZERO, Ratio::max);
    bars(&mut out, "Rate, mL/h", &rates, highest, RATE_ROWS)?;
    let marks = times.marks(course)?;
    if marks.contains(['B', 'S']) {
        let _ = writeln!(out, "{:MARGIN$}{}", "", marks.trim_end());
    }
    times.axis(&mut out)?;
    out.push('\n');
    if course.syringes.iter().any(|one| one.basis.volumes_unknown()) {
        out.push_str("Left to infuse: not drawn, because nobody read the volume of a syringe.\n");
    } else {
        let left = (0..COLUMNS).map(|column| times.left(course, column)).collect::<Result<Vec<_>, _>>()?;
        let fullest = course.levels.iter().map(|(_, left)| *left).fold(Ratio::ZERO, Ratio::max);
        bars(&mut out, "Left to infuse, mL", &left, fullest, LEFT_ROWS)?;
        times.axis(&mut out)?;
    }
    if marks.contains(['B', 'S']) {
        out.push_str("B a bolus, S another syringe. ");
    }
    out.push_str("The highest rate within each column is drawn.\n");
    Ok(out)
}

/// Filled from below; what is more than nothing shows in the lowest row.
fn bars(out: &mut String, title: &str, values: &[Ratio], highest: Ratio, rows: u64) -> Result<(), CaseError> {
    let _ = writeln!(out, "{title}");
    for row in (1..=rows).rev() {
        let label = match row {
            row if row == rows => about(highest),
            1 => "0".to_owned(),
            _ => String::new(),
        };
        let mut line = format!("{label:>width$} |", width = MARGIN - 2);
        for value in values {
            // Half of the row's height is enough to fill it.
            let reached = value.times(Ratio::whole(2 * rows))?;
            let needed = highest.times(Ratio::whole(2 * row - 1))?;
            let filled = !value.is_zero() && (row == 1 || reached >= needed);
            line.push(if filled { '#' } else { ' ' });
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
    Ok(())
}

struct Times {
    start: Moment,
    hours: Ratio,
}

impl Times {
    /// The hours from the start at which a column begins.
    fn begins(&self, column: u32) -> Result<Ratio, CaseError> {
        Ok(self.hours.times(Ratio::whole(column.into()))?.over(Ratio::whole(COLUMNS.into()))?)
    }

    fn since_start(&self, moment: Moment) -> Ratio {
        moment.hours_since(self.start).unwrap_or(Ratio::ZERO)
    }

    fn highest_rate(&self, course: &Course, column: u32) -> Result<Ratio, CaseError> {
        let (from, to) = (self.begins(column)?, self.begins(column + 1)?);
        let within = course
            .segments
            .iter()
            .filter(|segment| self.since_start(segment.from) < to && self.since_start(segment.to) > from);
        Ok(within.map(|segment| segment.rate).fold(Ratio::ZERO, Ratio::max))
    }

    /// At the end of a column.
    fn left(&self, course: &Course, column: u32) -> Result<Ratio, CaseError> {
        let at = self.begins(column + 1)?;
        let after = course.levels.iter().position(|(moment, _)| self.since_start(*moment) > at);
        let Some(after) = after else { return Ok(course.levels.last().map_or(Ratio::ZERO, |(_, left)| *left)) };
        let Some((before, more)) = after.checked_sub(1).map(|before| course.levels[before]) else {
            return Ok(course.levels[after].1);
        };
        let (next, less) = course.levels[after];
        let (since, until) = (self.since_start(before), self.since_start(next));
        if less >= more {
            return Ok(more);
        }
        let gone = more.less(less)?.times(at.less(since)?)?.over(until.less(since)?)?;
        Ok(more.less(gone)?)
    }

    fn marks(&self, course: &Course) -> Result<String, CaseError> {
        let mut marks = vec![' '; usize::try_from(COLUMNS).unwrap_or_default()];
        let boluses = course.boluses.iter().map(|(at, _)| (*at, 'B'));
        let syringes = course.syringes.iter().skip(1).map(|one| (one.since, 'S'));
        for (at, mark) in boluses.chain(syringes) {
            let column = self.since_start(at).times(Ratio::whole(COLUMNS.into()))?.over(self.hours)?;
            let column = column.numerator() / column.denominator();
            let column = usize::try_from(column).unwrap_or_default().min(marks.len() - 1);
            marks[column] = mark;
        }
        Ok(marks.into_iter().collect())
    }

    fn axis(&self, out: &mut String) -> Result<(), CaseError> {
        let mut line = format!("{:width$}+", "", width = MARGIN - 1);
        // The offset stands at the left: the clock times fill the line.
        let mut clock = format!("{:>width$} ", self.start.offset(), width = MARGIN - 2);
        for column in 0..=COLUMNS {
            if column < COLUMNS {
                line.push(if (column + 1) % TICK == 0 { '+' } else { '-' });
            }
            if column % TICK == 0 {
                let shown = self.start.after(self.begins(column)?).map(|moment| moment.to_string()).unwrap_or_default();
                let hour_and_minute = shown.split(' ').nth(1).unwrap_or_default().to_owned();
                let at = MARGIN - 1 + usize::try_from(column).unwrap_or_default();
                // The last one ends with the axis.
                let at = if column == COLUMNS { at + 1 - hour_and_minute.len() } else { at };
                while clock.chars().count() < at {
                    clock.push(' ');
                }
                clock.push_str(&hour_and_minute);
            }
        }
        let _ = writeln!(out, "{line}\n{clock}");
        Ok(())
    }
}
