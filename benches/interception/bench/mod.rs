//! How many slips the program stops before there is a card. In: a seed and how many. Out: a [`Report`], the same bytes for
//! the same seed. Correct set-ups are drawn from printed doses, slips are made by the table in `slips.rs`, and everything runs
//! through the program's own path; nothing is asked of the limits that are tried.

mod draw;
mod orders;
mod path;
pub(crate) mod picture;
mod report;
mod slips;

use countersign::check::RunningInfusion;
use countersign::formulary::Formulary;
use countersign::pharmacy::sample::Lot;
use countersign::quantity::{Moment, Ratio};
use serde_json::Value;

use draw::Correct;
pub(crate) use report::{Class, Report};
use report::{Ended, One};

/// How many of each class.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sizes {
    pub(crate) correct: usize,
    pub(crate) one_entry: usize,
    pub(crate) both_entries: usize,
    pub(crate) next_syringes: usize,
    pub(crate) preparation: usize,
    pub(crate) driver: usize,
}

impl Sizes {
    /// Nothing of any class.
    #[allow(dead_code, reason = "for the benchmark")]
    pub(crate) const NONE: Self =
        Self { correct: 0, one_entry: 0, both_entries: 0, next_syringes: 0, preparation: 0, driver: 0 };
}

/// In each lot one part is drawn and judged, so that any number of threads gives the same.
const LOTS: usize = 64;

/// The whole of it, on this many threads.
pub(crate) fn run(seed: u64, sizes: Sizes, threads: usize) -> Report {
    let formulary = Formulary::demonstration().expect("the one inside the program");
    formulary.load_all().expect("the one inside the program");
    let now = Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment");
    let (ways, unused) = draw::ways(&formulary);
    let next = std::sync::atomic::AtomicUsize::new(0);
    let parts: Vec<std::sync::Mutex<Report>> = (0..LOTS).map(|_| std::sync::Mutex::default()).collect();
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    let Some(part) = parts.get(at) else { return };
                    let mut lot = Lot::of(seed.wrapping_mul(1009).wrapping_add(at as u64));
                    let share = |all: usize| all / LOTS + usize::from(at < all % LOTS);
                    let bench = Bench { formulary: &formulary, ways: &ways, now };
                    let report = bench.part(&mut lot, sizes, share);
                    *part.lock().expect("nobody panicked") = report;
                }
            });
        }
    });
    let mut whole = Report::default();
    for part in parts {
        whole.add(part.into_inner().expect("nobody panicked"));
    }
    whole.unused = unused.iter().map(|order| format!("{}: {}", order.drug, order.source)).collect();
    whole.drugs_with_printed_doses = {
        let mut drugs: Vec<&str> = orders::ORDERS.iter().map(|order| order.drug).collect();
        drugs.sort_unstable();
        drugs.dedup();
        drugs.len()
    };
    whole
}

struct Bench<'f> {
    formulary: &'f Formulary,
    ways: &'f [draw::Way<'f>],
    now: Moment,
}

impl Bench<'_> {
    fn part(&self, lot: &mut Lot, sizes: Sizes, share: impl Fn(usize) -> usize) -> Report {
        let mut report = Report::default();
        for _ in 0..share(sizes.correct) {
            self.correct(lot, &mut report);
        }
        for (class, count) in [
            (Class::OneEntry, sizes.one_entry),
            (Class::BothEntries, sizes.both_entries),
            (Class::NextSyringe, sizes.next_syringes),
            (Class::Preparation, sizes.preparation),
            (Class::Driver, sizes.driver),
        ] {
            for _ in 0..share(count) {
                // A slip that cannot be made there is drawn anew.
                while !self.slipped(class, lot, &mut report) {}
            }
        }
        report
    }

    fn draw(&self, lot: &mut Lot) -> Correct {
        loop {
            if let Some(correct) = draw::draw(self.formulary, self.ways, lot, self.now) {
                return correct;
            }
        }
    }

    fn correct(&self, lot: &mut Lot, report: &mut Report) {
        let correct = self.draw(lot);
        let came = self.judge(&correct.entry, &correct.entry);
        let goes_on = matches!(came, path::Came::Card(..));
        report.correct(&correct, came);
        // The same as a next syringe, beside what runs: a reason only where the order lies far from what runs.
        if let Some(runs) = self.runs(&correct.entry, lot).filter(|_| goes_on) {
            report.correct_next_syringe(&self.judge_beside(&correct.entry, &correct.entry, Some(&runs)));
        }
    }

    fn judge(&self, first: &Value, other: &Value) -> path::Came {
        self.judge_beside(first, other, None)
    }

    fn judge_beside(&self, first: &Value, other: &Value, runs: Option<&RunningInfusion>) -> path::Came {
        path::judge(&first.to_string(), &path::second(other).to_string(), runs, self.formulary, self.now)
    }

    /// What runs when the next syringe is entered as ordered: the ordered dose, or a quarter less, or a third more, since the
    /// order on the chart is a step behind what runs (common practice, no source).
    fn runs(&self, ordered: &Value, lot: &mut Lot) -> Option<RunningInfusion> {
        let runs = path::runs(&ordered.to_string(), self.formulary, self.now)?;
        let (above, below) = [(1, 1), (1, 1), (3, 4), (4, 3)][lot.below(4)];
        let step = Ratio::new(above, below).ok()?;
        Some(RunningInfusion { dose: runs.dose.times(step).ok()?, rate: runs.rate.times(step).ok()?, ..runs })
    }

    /// Makes one slip and counts it; false where it cannot be made.
    fn slipped(&self, class: Class, lot: &mut Lot, report: &mut Report) -> bool {
        let (correct, other) = (self.draw(lot), self.draw(lot));
        let right = match self.judge(&correct.entry, &correct.entry) {
            path::Came::Card(rate, _) => rate,
            _ => return false,
        };
        if class == Class::Driver {
            return self.at_the_driver(&correct, right, lot, report);
        }
        let table = if class == Class::Preparation { slips::MADE_OTHERWISE } else { slips::SLIPS };
        let slip = drawn(table, lot);
        if matches!(class, Class::BothEntries | Class::NextSyringe) && !slip.shared {
            return false;
        }
        let made =
            slips::Made { correct: &correct, other: &other, formulary: self.formulary, both: class != Class::OneEntry };
        let Some(entry) = (slip.make)(&made, lot).filter(|entry| *entry != correct.entry) else { return false };
        // Of a patient whom two people have agreed on nothing is typed again.
        if class == Class::NextSyringe && entry["patient"] != correct.entry["patient"] {
            return false;
        }
        let came = match class {
            Class::OneEntry if lot.one_in(2) => self.judge(&entry, &correct.entry),
            Class::OneEntry => self.judge(&correct.entry, &entry),
            Class::NextSyringe => {
                let Some(runs) = self.runs(&correct.entry, lot) else { return false };
                self.judge_beside(&entry, &entry, Some(&runs))
            }
            _ => self.judge(&entry, &entry),
        };
        let rate = path::rate(&entry.to_string(), self.formulary, self.now);
        let identity = matches!(slip.id, "D1" | "D3");
        let ratio =
            slips::beside_the_dose(&correct.entry, &entry).or_else(|| rate.and_then(|rate| rate.over(right).ok()));
        let (hard, soft) = path::dose_limits_alone(&entry.to_string(), self.formulary, self.now);
        report.one(One {
            class,
            slip: slip.id,
            says: slip.says,
            tells: slip.tells,
            drug: correct.drug,
            phase: correct.phase,
            narrow: self.narrow(&correct.entry),
            ratio: if class == Class::Preparation { None } else { ratio },
            identity: identity || class == Class::Preparation,
            ended: Ended::of(&came),
            differs: matches!(came, path::Came::Differ(..)),
            causes: match &came {
                path::Came::Differ(_, causes) => causes.clone(),
                _ => Vec::new(),
            },
            by: came.rules(),
            alone: (hard, soft),
            entry: &entry,
            field: changed(&correct.entry, &entry),
        })
    }

    /// The display shows something else than was agreed on.
    fn at_the_driver(&self, correct: &Correct, right: Ratio, lot: &mut Lot, report: &mut Report) -> bool {
        let (first, second) = (correct.entry.to_string(), path::second(&correct.entry).to_string());
        let rate = countersign::quantity::plain(right);
        let (id, says, value, shown) = match lot.below(4) {
            0 | 1 => {
                let Some(slipped) = slips::any_number(&rate, lot) else { return false };
                ("R1", "the card's rate misread", "rate", format!("{slipped} mL/h"))
            }
            2 => {
                let other = self.draw(lot);
                let path::Came::Card(old, _) = self.judge(&other.entry, &other.entry) else { return false };
                ("R2", "another rate left in the driver", "rate", format!("{} mL/h", countersign::quantity::plain(old)))
            }
            _ => {
                let container = ["syringe 20 mL", "syringe 10 mL", "syringe 5 mL"][lot.below(3)];
                if correct.entry["container"] == container {
                    return false;
                }
                ("R3", "another size of syringe chosen in the driver", "syringe", container.to_owned())
            }
        };
        if value == "rate" && shown == format!("{rate} mL/h") {
            return false;
        }
        let found = path::read_back(&first, &second, &[(value, shown.clone())], self.formulary, self.now) == Some(true);
        let wrong: Option<Ratio> =
            shown.strip_suffix(" mL/h").and_then(slips::exact).and_then(|wrong| wrong.over(right).ok());
        report.one(One {
            class: Class::Driver,
            slip: id,
            says,
            tells: false,
            drug: correct.drug,
            phase: correct.phase,
            narrow: false,
            ratio: wrong,
            identity: value == "syringe",
            ended: if found { Ended::Stopped } else { Ended::Missed },
            differs: false,
            causes: Vec::new(),
            by: vec!["read-back"],
            alone: (false, false),
            entry: &correct.entry,
            field: value.to_owned(),
        })
    }

    /// Whether the soft range of the phase is six-fold or narrower.
    fn narrow(&self, entry: &Value) -> bool {
        let text = |key: &str| entry[key].as_str().unwrap_or_default();
        let countersign::formulary::Lookup::Found(drug) = self.formulary.drug(text("drug")) else { return false };
        let indication = drug.indications.iter().find(|one| one.area == text("area") && one.name == text("indication"));
        let phase = countersign::formulary::Phase::written(text("phase"));
        let Some(limits) = indication.zip(phase).and_then(|(indication, phase)| indication.limits(phase)) else {
            return false;
        };
        let soft = limits.beyond.soft.as_ref();
        let number = |end: Option<countersign::quantity::DoseRate>| end.map(|end| end.number().ratio());
        match (soft.and_then(|band| number(band.from)), soft.and_then(|band| number(band.to))) {
            (Some(from), Some(to)) => to.over(from).is_ok_and(|fold| fold <= Ratio::whole(6)),
            _ => false,
        }
    }
}

/// The fields that a slip changed.
fn changed(correct: &Value, slipped: &Value) -> String {
    let fields = slipped.as_object().into_iter().flatten();
    let fields: Vec<&str> =
        fields.filter(|(key, value)| correct.get(key.as_str()) != Some(value)).map(|(key, _)| key.as_str()).collect();
    fields.join(" and ")
}

fn drawn<'s>(table: &'s [slips::Slip], lot: &mut Lot) -> &'s slips::Slip {
    let mut at = lot.below(table.iter().map(|slip| slip.weight).sum());
    for slip in table {
        if at < slip.weight {
            return slip;
        }
        at -= slip.weight;
    }
    &table[0]
}
