//! The end: given + left + in the line + discarded = drawn up, and who saw it.

use countersign::case::Balance;
use countersign::quantity::{Quantity, Volume};

use super::*;

/// A controlled drug with an ordered bolus: 50 mcg/mL, 80 kg, 9.6 mL/h on the card, 1.6 mL in a bolus.
pub(super) fn opioid() -> String {
    changed(
        SINGLE,
        &[
            ("noradrenaline", "remifentanil"),
            ("vasopressor", "anaesthesia"),
            ("dose: 0.08 mcg/kg/min", "dose: 0.1 mcg/kg/min"),
            (
                "titrate: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}",
                "bolus: {dose: 1 mcg/kg, over: 60 s}",
            ),
            ("amount: 4 mg, volume: 50 mL, strength: 80 mcg/mL", "amount: 2 mg, volume: 40 mL, strength: 50 mcg/mL"),
            (
                "ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %",
                "ampoules: 1, of: 2 mg in 2 mL, diluent: sodium chloride 0.9 %",
            ),
            ("fill: 50 mL", "fill: 40 mL"),
        ],
    )
}

impl Theatre {
    pub(super) fn closes(
        &mut self,
        code: SetUpCode,
        in_line: &str,
        left: &str,
        discarded: &str,
        witness: Option<bool>,
    ) -> Result<Balance, CaseError> {
        let closed = self.closes_somehow(code, (in_line, left, discarded), witness);
        closed.map(|balance| balance.expect("two people agreed"))
    }

    /// As [`Theatre::closes`], where perhaps nobody agreed on what was drawn up.
    pub(super) fn closes_somehow(
        &mut self,
        code: SetUpCode,
        (in_line, left, discarded): (&str, &str, &str),
        witness: Option<bool>,
    ) -> Result<Option<Balance>, CaseError> {
        let volume = |text| Quantity::<Volume>::parse_or_zero(text).expect("a volume");
        let (idowu, tamm) = (self.idowu, self.tamm);
        let witness = witness.map(|another| if another { (&tamm.0, &tamm.1) } else { (&idowu.0, &idowu.1) });
        let by = (&idowu.0, &idowu.1);
        let (in_line, left, discarded) = (volume(in_line), volume(left), volume(discarded));
        let when = When::default();
        self.cases.close(code, by, in_line, left, discarded, witness, &when, None, at(NOW)).map(|(balance, _)| balance)
    }
}

// hazard: H-RECORD
#[test]
fn a_controlled_drug_needs_a_witness_who_is_another_person() {
    let mut theatre = Theatre::new("witness");
    let code = theatre.agreed(&opioid());
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    assert_eq!(refused(theatre.closes(code, "0.9 mL", "0 mL", "29.5 mL", Some(true))), "record-order", "it runs");
    theatre.did(code, "09:00", ReportedAction::Stopped).expect("it runs");
    assert_eq!(refused(theatre.closes(code, "0.9 mL", "0 mL", "29.5 mL", None)), "witness-needed");
    assert_eq!(refused(theatre.closes(code, "0.9 mL", "0 mL", "29.5 mL", Some(false))), "same-person");
    assert_eq!(refused(theatre.closes(code, "0.9 mL", "0 mL", "20 mL", Some(true))), "balance-differs", "why?");
    let balance = theatre.closes(code, "0.9 mL", "0 mL", "29.5 mL", Some(true)).expect("another person saw it");
    assert!(!balance.differs(), "{balance:?}");
    let signers: Vec<String> = {
        let events =
            theatre.cases.journal().events(countersign::journal::Of::Scope(&code.case.scope())).expect("a journal");
        events.iter().rev().take(2).map(|event| event.by().to_owned()).collect()
    };
    assert_eq!(signers, [theatre.tamm.0.id.clone(), theatre.idowu.0.id.clone()], "both signed");
    assert_eq!(refused(theatre.closes(code, "0 mL", "0 mL", "0 mL", Some(true))), "record-order", "once only");
}

// hazard: H-RECORD
#[test]
fn a_drug_that_is_not_controlled_needs_none_but_nobody_is_their_own() {
    let mut theatre = Theatre::new("no-witness");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "08:30", ReportedAction::Stopped).expect("it runs");
    assert_eq!(refused(theatre.closes(code, "0.9 mL", "0 mL", "46.7 mL", Some(false))), "same-person");
    let balance = theatre.closes(code, "0.9 mL", "6 mL", "41 mL", None).expect("taken");
    assert_eq!((balance.drawn_up, balance.given), (Ratio::whole(50), ratio(24, 10)));
    assert_eq!((balance.too_much, balance.missing), (ratio(3, 10), Ratio::ZERO));
}

// hazard: H-RECORD
#[test]
fn what_is_written_down_after_the_closing_counts_in_it() {
    let mut theatre = Theatre::new("late-bolus");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "08:30", ReportedAction::Stopped).expect("it runs");
    let balance = theatre.closes(code, "0.9 mL", "0 mL", "44.7 mL", None).expect("taken");
    assert_eq!(balance.missing, Ratio::whole(2));
    let closing = theatre.last();
    theatre.did(code, "08:20", ReportedAction::BolusGiven(bolus("2 mL"))).expect("nobody had written it down");
    let course = theatre.course(code, NOW);
    let balance = Balance::of(&course, course.found.as_ref().expect("it was closed")).expect("small parts");
    assert!(!balance.as_ref().is_some_and(countersign::case::Balance::differs), "{balance:?}");
    // A closing is taken back, never changed: it has a signature of its own.
    let pause = countersign::case::Otherwise { what: Some(Box::new(ReportedAction::Paused)), happened: None };
    let changed = ReportedAction::Corrected { event: closing, otherwise: Some(pause) };
    assert_eq!(refused(theatre.writes(code, &changed, &When::default(), true)), "correct-by-not");
    let back = ReportedAction::Corrected { event: closing, otherwise: None };
    theatre.writes(code, &back, &When::default(), false).expect("taken back");
    assert!(!theatre.course(code, NOW).closed);
    theatre.closes(code, "0.9 mL", "0 mL", "44.7 mL", None).expect("closed anew");
}

// hazard: H-RECORD
#[test]
fn two_syringes_are_accounted_for_together() {
    let mut theatre = Theatre::new("two-syringes");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.next(code, &double(), "08:10");
    theatre
        .did(code, "09:00", ReportedAction::SyringeChanged { rate: None, reading: None, said: Default::default() })
        .expect("it is there");
    theatre.did(code, "10:00", ReportedAction::Stopped).expect("it runs");
    // 4.8 mL of the first, 2.4 mL of the second: 100 - 7.2 mL.
    let balance = theatre.closes(code, "0.9 mL", "0 mL", "91.9 mL", None).expect("taken");
    assert!(!balance.differs(), "{balance:?}");
    let totals = theatre.course(code, "10:00").totals().expect("small parts");
    // Both strengths give 0.384 mg in the hour: 4.8 mL of 80 mcg/mL and 2.4 mL of 160 mcg/mL.
    assert_eq!((totals.len(), totals[0].given, totals[0].last_hour), (1, ratio(768, 1000), ratio(384, 1000)));
}

// hazard: H-RECORD
#[test]
fn a_closing_that_does_not_add_up_owes_its_reason() {
    let mut theatre = Theatre::new("closing-owes");
    let code = theatre.agreed(SINGLE);
    theatre.did(code, "08:00", ReportedAction::Started(None, Default::default())).expect("as agreed");
    theatre.did(code, "08:30", ReportedAction::Stopped).expect("it runs");
    theatre.closes(code, "0.9 mL", "0 mL", "40 mL", None).expect("taken, and marked");
    let event = theatre.last();
    let owed = |theatre: &Theatre| theatre.says(NOW, &[], &["case", "list", "--owed"]).stdout;
    assert!(owed(&theatre).contains(&format!("a reason for event {event}: 6.7 mL of")), "{}", owed(&theatre));
    let when = When::default();
    let by = (&theatre.idowu.0, &theatre.idowu.1);
    let explained = ReportedAction::Explained { event };
    theatre
        .cases
        .record(code, by, &explained, &when, Some("a syringe broke"), Confirmed::default(), at(NOW))
        .expect("it is known");
    assert!(!owed(&theatre).contains("a reason"), "{}", owed(&theatre));
}
