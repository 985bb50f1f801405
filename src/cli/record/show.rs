//! `record show`: what happened, what was given, what is left, what is owed, and a picture of it.

use std::fmt::Write as _;

use clap::Args;

use crate::card::DEMONSTRATION;
use crate::case::data::{GivenNow, RecordShown, owed_for};
use crate::case::{
    self, Balance, CaseError, Course, DeliveryChange, NextSyringe, Owed, People, Reaches, Recorded, SetUp, SetUpCode,
    Signed, shown_moment,
};
use crate::cli::answer::Answer;
use crate::cli::desk::{CaseArgs, Current, note_read, one_set_up};
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};
use crate::journal::AccessKind;
use crate::quantity::{Moment, duration, exact_or_about};

use super::close;
use super::now::{BY_THE_RECORD, now_in_words, owed_in_words};
use super::words::{marks_in_words, paragraph};

#[derive(Debug, Args)]
pub(in crate::cli) struct ShowArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn show(args: &ShowArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    let current = args.current.open()?;
    let code = one_set_up(&cases, &args.code)?;
    let case = cases.case(code.case)?;
    if let Some(forgotten) = case.forgotten_at {
        let says =
            format!("case {} was forgotten at {}: what happened in it cannot be read", code.case, forgotten.local());
        let fault = crate::diagnostic::Fault::new("case-forgotten", says)
            .help(format!("`countersign journal show {}` tells what is left", code.case));
        return Err(crate::cli::input::Refused::one(&args.code, fault).into());
    }
    let set_up = case.set_up(code.number)?;
    let course = case.course(set_up, now)?;
    let people = cases.people()?;
    let owed = owed_for(&cases, code, current.as_ref(), now)?;
    let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
    note_read(cases.journal(), now, AccessKind::Record, Some(code.case));
    // What it gives would tell a second person what the first one read.
    let open = course.as_ref().filter(|course| !course.syringe().basis.sealed);
    let next = course.as_ref().map(|course| case.next_syringe(set_up, course)).transpose()?.flatten();
    let next = next.as_ref();
    let shown =
        Shown { next, code, set_up, runs: course.as_ref(), course: open, people: &people, owed: &owed, notice, now };
    Ok(match args.desk.format() {
        Format::Json => {
            let data = RecordShown::of(&cases, set_up, (open, next), &people, &owed, now)?;
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => Answer::text(shown.in_words()?, Exit::Proceed),
    })
}

struct Shown<'s> {
    next: Option<&'s NextSyringe>,
    code: SetUpCode,
    set_up: &'s SetUp,
    /// As it runs.
    runs: Option<&'s Course>,
    /// What it gives; nothing before two people agree.
    course: Option<&'s Course>,
    people: &'s People,
    owed: &'s [Owed],
    notice: Option<&'static str>,
    now: Moment,
}

/// Where the numbers begin.
const FIRST: usize = 16;

impl Shown<'_> {
    fn in_words(&self) -> Result<String, CaseError> {
        let mut text = self.notice.map(|notice| format!("{notice}\n")).unwrap_or_default();
        let _ = writeln!(text, "{}, as of {}\n", self.code, self.now);
        for signed in self.set_up.record_in_order() {
            self.line(&mut text, signed);
        }
        if self.set_up.record.is_empty() {
            text.push_str("Nothing is recorded.\n");
        }
        text.push('\n');
        now_in_words(&mut text, self.runs.map(GivenNow::of).transpose()?.as_ref());
        if let Some(next) = self.next {
            paragraph(&mut text, "Next syringe: ", &format!("{}.", next.keeps_in_words()));
            if next.entered_changes_dose() {
                paragraph(&mut text, "NOT THE RUNNING DOSE: ", &format!("{}.", next.entered_in_words()));
            }
            if let Some(line) = &next.line {
                paragraph(&mut text, "With it, ", &format!("{}.", line.says()));
            }
        }
        if let Some(course) = self.course {
            text.push('\n');
            self.sums(&mut text, course)?;
            if let Some(found) = &course.found {
                text.push('\n');
                close::in_words(&mut text, Balance::of(course, found)?.as_ref());
            }
            text.push('\n');
            text.push_str(&case::drawn(course)?);
        }
        if !self.owed.is_empty() {
            text.push('\n');
            owed_in_words(&mut text, self.owed);
        }
        let _ = writeln!(text, "\n{BY_THE_RECORD} Times are kept to the minute.");
        Ok(text)
    }

    fn line(&self, out: &mut String, signed: &Signed<Recorded>) {
        let recorded = &signed.what;
        let first = format!("{:>4}  {}  ", signed.seq, shown_moment(&recorded.happened));
        let indent = " ".repeat(first.chars().count());
        let what = self.set_up.line_in_words(signed, self.people);
        paragraph(out, &first, &format!("{what} ({})", self.people.name(&signed.by)));
        match self.set_up.correction(signed.seq) {
            Some(correction) if correction.instead.is_none() => {
                paragraph(out, &indent, &format!("DID NOT HAPPEN: event {} says so", correction.by));
            }
            Some(correction) => paragraph(out, &indent, &format!("WAS OTHERWISE: event {} says how", correction.by)),
            None => {}
        }
        if let Some(late) = &recorded.late {
            paragraph(out, &indent, &format!("written down at {}: {late}", self.written_at(signed)));
        }
        if let Some(reason) = &recorded.reason {
            paragraph(out, &indent, &format!("reason: {reason}"));
        }
        if let Some(clock) = &signed.clock {
            paragraph(out, &indent, &format!("clock: {clock}"));
        }
        marks_in_words(out, &indent, &recorded.marks);
    }

    /// In the offset in which it happened: the two are compared at a glance.
    fn written_at(&self, signed: &Signed<Recorded>) -> Moment {
        signed.what.happened().map_or(signed.at, |happened| signed.at.shown_as(happened))
    }

    fn sums(&self, out: &mut String, course: &Course) -> Result<(), CaseError> {
        let syringe = course.syringe();
        let basis = &syringe.basis;
        let unchecked = if basis.agreed { "" } else { "; NOT DOUBLE-CHECKED" };
        let mut row = |name: &str, text: &str| paragraph(out, &format!("{name:<FIRST$}"), text);
        row(
            "In the driver",
            &format!(
                "{}, {}, {} in driver {}, since {}{unchecked}",
                basis.drug,
                basis.strength_on_label,
                basis.container(),
                basis.driver(),
                syringe.since
            ),
        );
        for (number, one) in course.syringes.iter().enumerate().filter(|_| course.syringes.len() > 1) {
            let basis = &one.basis;
            let strength = &basis.strength_on_label;
            let amount = exact_or_about(basis.amount(one.volume)?);
            let given = exact_or_about(one.volume);
            let unit = basis.amount_unit().shown();
            row(
                &format!("Syringe {}", number + 1),
                &format!("{strength}, since {}: {given} mL given, {amount} {unit}", one.since),
            );
        }
        let volumes = [("Given", course.volume()?), ("Last hour", course.last_hour()?)];
        for (name, volume) in volumes {
            let mut says = vec![format!("{} mL", exact_or_about(volume))];
            for total in course.totals()? {
                let amount = if name == "Given" { total.given } else { total.last_hour };
                says.push(format!("{} {}", exact_or_about(amount), total.unit.shown()));
                if name == "Given" {
                    let per_kg = exact_or_about(total.given_per_kg);
                    says.push(format!("{per_kg} {}/kg at {}", total.per_kg_unit.shown(), basis.weight));
                }
            }
            if course.syringes.iter().any(|one| one.basis.sealed) {
                says.push("WITHOUT the drug of a syringe that nobody agreed on".to_owned());
            }
            row(name, &says.join(", "));
        }
        let last = course.boluses.last().map(|(at, volume)| {
            let ago = self.now.hours_since(*at).map(|hours| format!(", {} ago", duration(hours))).unwrap_or_default();
            format!("{} mL at {at}{ago}", exact_or_about(*volume))
        });
        row("Last bolus", last.as_deref().unwrap_or("none"));
        let left = syringe.left_known().map(|left| format!("{} mL", exact_or_about(left)));
        row("Left to infuse", left.as_deref().unwrap_or("not known: nobody read the volume in the syringe"));
        if !syringe.beyond.is_zero() {
            row(
                "Beyond",
                &format!("{} mL more are recorded as given than it should have held", exact_or_about(syringe.beyond)),
            );
        }
        for reaches in course.reaches() {
            row("At the patient", &reaches_in_words(&reaches, course));
        }
        if course.is_running() {
            if let Some(empty) = course.empty_at {
                row("Empty at", &shown_in(empty, course));
            }
            if let Some(ready) = course.next_ready_by() {
                row("Next syringe by", &shown_in(ready, course));
            }
        }
        if let Some(discard) = basis.discard_after {
            row("Discard after", &shown_in(discard, course));
        }
        Ok(())
    }
}

/// An estimate, said as one.
fn reaches_in_words(reaches: &Reaches, course: &Course) -> String {
    let at = shown_in(reaches.at, course);
    let says = reaches.change.says();
    match &reaches.after {
        Ok(range) if reaches.change == DeliveryChange::Rate => {
            let latest = range.text.rsplit(" to ").next().unwrap_or_default();
            format!("{says} {latest} after {at} (an estimate, `countersign delivery`)")
        }
        Ok(range) => format!("{says} {} after {at} (an estimate, `countersign delivery`)", range.text),
        Err(why) => format!("{says}: not told, {why}; changed at {at}"),
    }
}

/// In the offset in which it was started.
fn shown_in(moment: Moment, course: &Course) -> String {
    moment.shown_as(course.started).to_string()
}
