//! Exact sums against sums of another kind: minute by minute, in fractions of whole numbers of any length.

use std::cell::RefCell;

use countersign::case::{Course, ReportedAction};
use num_bigint::BigInt;
use num_rational::BigRational;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};

use super::*;
use crate::common::tools::thorough;

fn big(value: Ratio) -> BigRational {
    BigRational::new(BigInt::from(value.numerator()), BigInt::from(value.denominator()))
}

fn fraction(numerator: u64, denominator: u64) -> BigRational {
    BigRational::new(BigInt::from(numerator), BigInt::from(denominator))
}

fn nothing() -> BigRational {
    fraction(0, 1)
}

#[derive(Debug, Clone, Copy)]
enum Did {
    Rate(u64),
    Bolus(u64),
    Pause,
    Resume,
    ResumeAt(u64),
    Syringe(u64),
    Stop,
}

/// Both ways of telling the same: tenths of a mL, and of a mL/h.
fn happening(did: Did) -> ReportedAction {
    let tenths = |value: u64| format!("{}.{}", value / 10, value % 10);
    let flow = |value| rate(&format!("{} mL/h", tenths(value)));
    let given = |value: u64| {
        let text = tenths(value);
        bolus(&format!("{} mL", text.strip_suffix(".0").unwrap_or(&text)))
    };
    match did {
        Did::Rate(to) => ReportedAction::RateChanged(flow(to)),
        Did::Bolus(volume) => ReportedAction::BolusGiven(given(volume)),
        Did::Pause => ReportedAction::Paused,
        Did::Resume => ReportedAction::Resumed(None),
        Did::ResumeAt(to) => ReportedAction::Resumed(Some(flow(to))),
        Did::Syringe(to) => {
            ReportedAction::SyringeChanged { rate: Some(flow(to)), reading: Some(2), said: Default::default() }
        }
        Did::Stop => ReportedAction::Stopped,
    }
}

/// What a person with pencil and paper would have after so many minutes.
#[derive(Debug, PartialEq)]
struct ByHand {
    given: Vec<BigRational>,
    left: BigRational,
    last_hour: BigRational,
    beyond: BigRational,
}

fn by_hand(start: u64, course: &[(u64, Did)], until: u64) -> ByHand {
    let (mut set, mut before, mut stopped) = (Some(start), start, false);
    let (mut given, mut left) = (vec![nothing()], fraction(49, 1));
    let (mut last_hour, mut beyond) = (nothing(), nothing());
    for minute in 0..=until {
        for (_, did) in course.iter().filter(|(at, _)| *at == minute) {
            match *did {
                Did::Rate(to) => set = Some(to),
                Did::Bolus(volume) => {
                    let volume = fraction(volume, 10);
                    let held = volume.clone().min(left.clone());
                    beyond += &volume - &held;
                    left -= held;
                    *given.last_mut().expect("the first syringe") += &volume;
                    if until - minute <= 60 {
                        last_hour += volume;
                    }
                }
                Did::Pause => before = set.take().expect("it ran"),
                Did::Resume => set = Some(before),
                Did::ResumeAt(to) => set = Some(to),
                Did::Syringe(to) => {
                    set = Some(to);
                    given.push(nothing());
                    // The line was full: only what stays behind in the syringe cannot be pushed out.
                    left = fraction(499, 10);
                    beyond = nothing();
                }
                Did::Stop => (set, stopped) = (None, true),
            }
        }
        if let (Some(tenths), true, false) = (set, minute < until, stopped) {
            let flowed = fraction(tenths, 600).min(left.clone());
            left -= &flowed;
            *given.last_mut().expect("the first syringe") += &flowed;
            if until - minute <= 60 {
                last_hour += flowed;
            }
        }
    }
    ByHand { given, left, last_hour, beyond }
}

fn by_the_program(course: &Course) -> ByHand {
    ByHand {
        given: course.syringes.iter().map(|syringe| big(syringe.volume)).collect(),
        left: big(course.syringe().left_known().expect("it was read")),
        last_hour: big(course.last_hour().expect("small parts")),
        beyond: big(course.syringe().beyond),
    }
}

/// Steps that can follow each other: how many minutes later, and what.
fn steps() -> impl Strategy<Value = Vec<(u64, Did)>> {
    proptest::collection::vec((0..45_u64, 0..8_u8, 1..=400_u64), 0..9).prop_map(|drawn| {
        let (mut minute, mut runs, mut changed, mut over, mut course) = (0, true, false, false, Vec::new());
        for (later, kind, tenths) in drawn {
            minute += later;
            let did = match kind {
                _ if over => break,
                0 | 1 if runs => Did::Rate(tenths),
                2 | 3 => Did::Bolus(tenths / 2 + 1),
                4 if !changed => Did::Syringe(tenths),
                5 if minute > 200 => Did::Stop,
                _ if runs => Did::Pause,
                _ if kind % 2 == 0 => Did::Resume,
                _ => Did::ResumeAt(tenths),
            };
            match did {
                Did::Pause => runs = false,
                Did::Resume | Did::ResumeAt(_) => runs = true,
                Did::Syringe(_) => (runs, changed) = (true, true),
                Did::Stop => over = true,
                _ => {}
            }
            course.push((minute, did));
        }
        course
    })
}

fn after_eight(minutes: u64) -> String {
    format!("{:02}:{:02}", 8 + minutes / 60, minutes % 60)
}

// hazard: H-RECORD
#[test]
fn what_was_given_and_is_left_is_what_a_sum_by_hand_gives() {
    let theatre = RefCell::new(Theatre::new("sums"));
    let config = Config { cases: thorough(24, 6), failure_persistence: None, ..Config::default() };
    let drawn = (1..=400_u64, steps(), 0..90_u64);
    TestRunner::new(config)
        .run(&drawn, |(start, course, more)| {
            let mut theatre = theatre.borrow_mut();
            let code = theatre.agreed(SINGLE);
            let begun =
                ReportedAction::Started(Some(rate(&format!("{}.{} mL/h", start / 10, start % 10))), Default::default());
            theatre.did(code, "08:00", begun).expect("the first");
            theatre.next(code, &double(), "08:00");
            for (minute, did) in &course {
                theatre.did(code, &after_eight(*minute), happening(*did)).expect("it follows");
            }
            let until = course.last().map_or(0, |(minute, _)| *minute) + more;
            let worked_out = theatre.course(code, &after_eight(until));
            prop_assert_eq!(by_the_program(&worked_out), by_hand(start, &course, until));
            // Whatever happened: what was loaded is given or left, but for what was given beyond it.
            for syringe in &worked_out.syringes {
                let loaded = big(syringe.basis.left) + big(syringe.beyond);
                prop_assert_eq!(big(syringe.volume) + big(syringe.left_known().expect("it was read")), loaded);
                prop_assert!(syringe.last_hour <= syringe.volume);
            }
            // A syringe of 80 and one of 160 mcg/mL, in the unit of the last label: mg.
            let strengths = [fraction(80, 1000), fraction(160, 1000)];
            let hand = by_hand(start, &course, until).given.into_iter().zip(strengths);
            let amount = hand.fold(nothing(), |sum, (volume, strength)| sum + volume * strength);
            let totals = worked_out.totals().expect("small parts");
            prop_assert_eq!(totals.len(), 1);
            prop_assert_eq!(big(totals[0].given), amount.clone());
            prop_assert_eq!(big(totals[0].given_per_kg), amount * fraction(1000, 80));
            Ok(())
        })
        .unwrap_or_else(|failed| panic!("{failed}"));
}

// hazard: H-RECORD
#[test]
fn the_order_of_writing_does_not_matter() {
    let theatre = RefCell::new(Theatre::new("order-of-writing"));
    let config = Config { cases: thorough(12, 4), failure_persistence: None, ..Config::default() };
    let some = proptest::collection::btree_map(1..200_u64, (any::<bool>(), 1..=300_u64), 2..7);
    let drawn = some.prop_map(|some| some.into_iter().collect::<Vec<_>>());
    let both = drawn.prop_flat_map(|some| (Just(some.clone()), Just(some).prop_shuffle()));
    TestRunner::new(config)
        .run(&both, |(in_order, shuffled)| {
            let mut theatre = theatre.borrow_mut();
            let mut courses = Vec::new();
            for written in [in_order, shuffled] {
                let code = theatre.agreed(SINGLE);
                theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("the first");
                for (minute, (is_bolus, tenths)) in written {
                    let did = if is_bolus { Did::Bolus(tenths / 10 + 1) } else { Did::Rate(tenths) };
                    theatre.did(code, &after_eight(minute), happening(did)).expect("it follows");
                }
                courses.push(theatre.course(code, "12:00"));
            }
            let [one, other] = courses.as_slice() else { unreachable!("two were written") };
            prop_assert_eq!(by_the_program(one), by_the_program(other));
            prop_assert_eq!((&one.segments, &one.boluses), (&other.segments, &other.boluses));
            prop_assert_eq!((one.rate, one.since, one.empty_at), (other.rate, other.since, other.empty_at));
            Ok(())
        })
        .unwrap_or_else(|failed| panic!("{failed}"));
}

// hazard: H-RECORD
#[test]
fn an_empty_syringe_gives_nothing_and_the_next_one_is_owed_at_once() {
    let mut theatre = Theatre::new("empty");
    let code = theatre.agreed(SINGLE);
    // 49 mL at 70 mL/h last 42 min.
    theatre.did(code, "08:00", ReportedAction::Started(Some(rate("70 mL/h")), Default::default())).expect("marked");
    let nearly = theatre.course(code, "08:41");
    assert_eq!(
        (nearly.empty_at, nearly.syringe().left_known().expect("it was read")),
        (Some(at("08:42")), ratio(7, 6))
    );
    assert_eq!(nearly.next_ready_by(), Some(at("08:41")), "half an hour before would be over");
    let empty = theatre.course(code, "09:10");
    assert_eq!((empty.syringe().ran_empty, empty.flowing()), (Some(at("08:42")), None));
    assert_eq!((empty.volume(), empty.next_ready_by()), (Ok(Ratio::whole(49)), Some(at("09:10"))));
    // In the hour before 09:21 it flowed from 08:21 to 08:42.
    assert_eq!(theatre.course(code, "09:21").last_hour(), Ok(ratio(49, 2)));
    assert_eq!(theatre.course(code, "09:42").last_hour(), Ok(Ratio::ZERO));
    let said = theatre.says("09:10", &[], &["dose", "--case", &code.to_string()]);
    assert!(said.code == 0 && said.stdout.contains("SHOULD BE EMPTY since 2026-03-14 08:42"), "{said:?}");
}
