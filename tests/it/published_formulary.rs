//! The demonstration formulary against the sources that it names: every value with a source is the printed figure, every
//! strength is one of the published lists, and no limit is a decimal place away from its neighbours.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use crate::published::{exact, table};
use countersign::formulary::{Band, Drug, Formulary, Indication, Lookup, Stocked};
use countersign::quantity::{
    Amount, BodyMass, BolusDose, DoseRate, FlowRate, Quantity, Ratio, Strength, Time, Volume, exact_or_about,
};
use rstest::rstest;
use serde::Deserialize;

/// One printed figure and the place in the formulary that it belongs to.
#[derive(Debug, Clone, Deserialize)]
struct Figure {
    id: String,
    drug: String,
    area: String,
    indication: String,
    /// `maintenance usual from`, `bolus hard to`, `life`, `strength single`, and so on.
    place: String,
    /// How the formulary's value stands to it: `is`, `just below` (rounded down), `at most`, `at least`.
    holds: String,
    figure: String,
    #[expect(dead_code, reason = "shown with a failure")]
    cite: String,
}

/// Drug, area, indication, place.
type Key = (String, String, String, String);

/// What a value means, whatever the unit it is written in: its kind, and an exact number.
type Meaning = (String, Ratio);

#[derive(Debug, Clone)]
struct Stated {
    text: String,
    meaning: Meaning,
    source: String,
}

static FORMULARY: LazyLock<Formulary> =
    LazyLock::new(|| Formulary::demonstration().expect("a test of its own lints it"));
static FIGURES: LazyLock<Vec<Figure>> = LazyLock::new(|| table("dose_ranges"));

/// Uses for which no figure was read: every one of their limits is chosen, and the README says so.
const CHOSEN: &[(&str, &str, &str)] = &[
    ("insulin", "adult theatre", "variable rate"),
    ("remifentanil", "adult intensive care", "analgesia"),
    ("rocuronium", "adult theatre", "muscle relaxation"),
];

/// The phases in which ten times a dose asks for no reason where the dose itself asks for none, as `upper / lower` of
/// the soft range. Noradrenaline has a narrow start before it; for insulin somebody answers by name.
const TENFOLD: &[(&str, &str)] = &[
    ("insulin, adult theatre, variable rate, maintenance", "25"),
    ("noradrenaline, adult theatre, vasopressor, maintenance", "35"),
];

/// The phases in which ten times the highest usual dose is not stopped: for each somebody answers by name.
const UNSTOPPED: &[&str] = &[
    "noradrenaline, adult intensive care, vasopressor, maintenance",
    "noradrenaline, adult theatre, vasopressor, maintenance",
];

macro_rules! drugs {
    ($($name:tt),+ $(,)?) => {
        const DRUGS: &[&str] = &[$($name),+];

        // hazard: H-LIMITS
        #[rstest]
        fn every_printed_figure_stands_in_the_drug_file(#[values($($name),+)] drug: &str) {
            let stated = stated(found(drug));
            let figures: Vec<&Figure> = FIGURES.iter().filter(|figure| figure.drug == drug).collect();
            assert!(figures.len() > 1, "{drug} has {} figures", figures.len());
            let wrong: Vec<String> = figures.into_iter().filter_map(|figure| misses(figure, &stated)).collect();
            assert!(wrong.is_empty(), "{}", wrong.join("\n"));
        }

        // hazard: H-LIMITS
        #[rstest]
        fn every_value_with_a_source_has_its_figure(#[values($($name),+)] drug: &str) {
            let known: BTreeSet<Key> = FIGURES.iter().map(Figure::key).collect();
            let without: Vec<String> = stated(found(drug))
                .into_iter()
                .filter(|(key, value)| value.is_read() && !known.contains(key) && !is_proved_below(&key.3, &value.source))
                .map(|(key, value)| format!("{key:?} {} rests on {}", value.text, value.source))
                .collect();
            assert!(without.is_empty(), "{}", without.join("\n"));
        }

        // hazard: H-LIMITS
        #[rstest]
        fn a_point_misplaced_in_any_limit_is_found(#[values($($name),+)] drug: &str) {
            let right = stated(found(drug));
            assert_eq!(slips(drug, &right), [""; 0]);
            let unseen: Vec<String> = right
                .keys()
                .filter(|key| is_dose_limit(&key.3) && !stands_apart(key))
                .flat_map(|key| [Ratio::whole(10), exact("0.1")].map(|factor| (key, factor)))
                .filter(|(key, factor)| {
                    let mut slipped = right.clone();
                    let value = slipped.get_mut(*key).expect("it is one of them");
                    value.meaning.1 = value.meaning.1.times(*factor).expect("a limit is small");
                    slips(drug, &slipped).is_empty()
                })
                .map(|(key, factor)| format!("{key:?} x {}", exact_or_about(factor)))
                .collect();
            assert!(unseen.is_empty(), "{}", unseen.join("\n"));
        }
    };
}

drugs! {
    "adrenaline", "alfentanil", "alprostadil", "aminophylline", "amiodarone", "atracurium", "cisatracurium",
    "clevidipine", "dexmedetomidine", "dobutamine", "dopamine", "esmolol", "fentanyl", "furosemide",
    "glyceryl trinitrate", "heparin", "hydromorphone", "insulin", "isoprenaline", "ketamine", "labetalol", "lidocaine",
    "magnesium sulfate", "midazolam", "milrinone", "morphine", "naloxone", "nicardipine", "noradrenaline", "oxytocin",
    "phenylephrine", "potassium chloride", "propofol", "remifentanil", "rocuronium", "salbutamol",
    "sodium nitroprusside", "vasopressin", "vecuronium",
}

#[test]
fn every_drug_and_every_use_is_held_against_its_sources() {
    let drugs = FORMULARY.load_all().expect("a test of its own lints it");
    assert_eq!(drugs.iter().map(|drug| drug.name.as_str()).collect::<BTreeSet<_>>(), DRUGS.iter().copied().collect());
    let uses: BTreeSet<(&str, &str, &str)> =
        drugs.iter().flat_map(|drug| drug.indications.iter().map(|one| use_of(drug, one))).collect();
    let read = FIGURES.iter().filter(|figure| !figure.area.is_empty());
    let read: BTreeSet<_> = read.map(|figure| (&*figure.drug, &*figure.area, &*figure.indication)).collect();
    assert_eq!(read.difference(&uses).collect::<Vec<_>>(), [&("", "", ""); 0], "figures of uses that are not there");
    assert_eq!(uses.difference(&read).copied().collect::<Vec<_>>(), CHOSEN, "uses without a figure");
    let ids: BTreeSet<&str> = FIGURES.iter().map(|figure| figure.id.as_str()).collect();
    assert_eq!((FIGURES.len(), ids.len()), (467, 467), "figures checked");
}

// What the README of the formulary says of the slip that happens most, measured.
// hazard: H-LIMITS
#[test]
fn a_tenfold_slip_is_silent_in_two_phases_and_unstopped_in_two() {
    let (mut silent, mut unstopped, mut phases) = (BTreeMap::new(), Vec::new(), 0);
    for drug in FORMULARY.load_all().expect("a test of its own lints it") {
        for one in &drug.indications {
            for (phase, limits) in &one.phases {
                let place = format!("{}, {}, {}, {phase}", drug.name, one.area, one.name);
                let soft = limits.beyond.soft.as_ref().expect("the reader asks for it");
                let ratio =
                    |dose: Option<DoseRate>| dose.map(|dose| dose.number().ratio()).expect("the lint asks for it");
                let fold = ratio(soft.to).over(ratio(soft.from)).expect("limits are small");
                let hard = limits.beyond.hard.as_ref().expect("the reader asks for it");
                if fold >= Ratio::whole(10) {
                    silent.insert(place.clone(), fold);
                }
                if ratio(hard.to) >= ratio(limits.usual.to).times(Ratio::whole(10)).expect("limits are small") {
                    unstopped.push(place);
                }
                phases += 1;
            }
        }
    }
    unstopped.sort();
    assert_eq!(silent, TENFOLD.iter().map(|(place, fold)| ((*place).to_owned(), exact(fold))).collect());
    assert_eq!((unstopped, phases), (UNSTOPPED.iter().map(|place| (*place).to_owned()).collect(), 193));
}

#[derive(Debug, Deserialize)]
struct Standard {
    drug: String,
    state: String,
    composition: String,
    cite: String,
}

impl Standard {
    fn holds(&self, drug: &Drug, stocked: &Stocked) -> bool {
        // Amiodarone stands in the list as a load and as its continuation.
        let name = self.drug.split(" (").next().unwrap_or_default();
        name == drug.name && self.composition.split("; ").any(|one| one == stocked.to_string())
    }
}

/// The words with which the source of a strength in the formulary, and the cite of the list, begin.
const LISTS: &[(&str, &str)] =
    &[("Intensive Care Society", "Intensive Care Society"), ("Scottish intensive care", "Scottish ICU")];

// hazard: H-STRENGTH
#[test]
fn every_strength_of_a_list_stands_in_it() {
    let list: Vec<Standard> = table("standard_concentrations");
    let mut found = 0;
    for drug in FORMULARY.load_all().expect("a test of its own lints it") {
        for stocked in &drug.strengths {
            let source = &stocked.origin.source;
            let Some((_, cite)) = LISTS.iter().find(|(begins, _)| source.starts_with(begins)) else { continue };
            let row = list.iter().any(|row| row.cite.starts_with(cite) && row.holds(drug, stocked));
            assert!(row, "{} {stocked} is not in the list of {cite}", drug.name);
            found += 1;
        }
        // Where a list has compositions of a drug, the house stocks at least one of them.
        let of_the_drug = |row: &&Standard| row.state == "checked" && row.drug.split(" (").next() == Some(&*drug.name);
        let listed = list.iter().filter(of_the_drug).count();
        let stocks = |row: &Standard| drug.strengths.iter().any(|stocked| row.holds(drug, stocked));
        assert!(
            listed == 0 || list.iter().any(stocks),
            "{} stocks none of the {listed} published strengths",
            drug.name
        );
    }
    assert_eq!(found, 23, "strengths checked");
}

// Standard atomic weights, abridged (IUPAC 2021), in g/mol.
#[rstest]
#[case("magnesium sulfate", "magnesium", &[("24.305", 1), ("32.06", 1), ("15.999", 11), ("1.008", 14)], "0.01")]
#[case("potassium chloride", "potassium", &[("39.098", 1), ("35.45", 1)], "0.1")]
fn a_gram_holds_what_its_molar_mass_says(
    #[case] drug: &str,
    #[case] what: &str,
    #[case] atoms: &[(&str, u64)],
    #[case] step: &str,
) {
    let molar =
        atoms.iter().try_fold(Ratio::ZERO, |sum, (weight, count)| sum.plus(exact(weight).times(Ratio::whole(*count))?));
    let gram = Quantity::<Amount>::parse_dose("1 g").expect("an amount");
    let equivalent = found(drug).equivalents.iter().find(|one| one.what == what).expect("it is in the file");
    // In micromoles, of which mmol has a thousand.
    let held = equivalent.held_in(gram).and_then(|held| held.over(Ratio::whole(1000)).ok());
    let by_mass = molar.and_then(|molar| Ratio::whole(1000).over(molar)?.to_nearest(exact(step)));
    assert_eq!(held, by_mass.ok(), "{equivalent}");
    assert_eq!(equivalent.held_in(Quantity::parse_dose("1 unit").expect("an amount")), None);
}

#[test]
fn what_a_salt_holds_follows_its_amount() {
    let dobutamine = &found("dobutamine").equivalents[0];
    assert_eq!(dobutamine.to_string(), "1.12 mcg of dobutamine hydrochloride holds 1 mcg of dobutamine base");
    let held = |amount| dobutamine.held_in(Quantity::parse_dose(amount).expect("an amount"));
    assert_eq!(held("280 mg"), Some(Quantity::<Amount>::parse_dose("250 mg").expect("an amount").value()));
}

#[test]
fn controlled_drugs_are_marked() {
    let drugs = FORMULARY.load_all().expect("a test of its own lints it");
    let marked: Vec<&str> = drugs.iter().filter(|drug| drug.controlled).map(|drug| drug.name.as_str()).collect();
    assert_eq!(
        marked,
        ["alfentanil", "fentanyl", "hydromorphone", "ketamine", "midazolam", "morphine", "remifentanil"]
    );
    let opioids = drugs.iter().filter(|drug| drug.class == "opioid");
    assert!(opioids.clone().count() == 5 && opioids.into_iter().all(|drug| drug.controlled && drug.high_alert));
}

impl Figure {
    fn key(&self) -> Key {
        (self.drug.clone(), self.area.clone(), self.indication.clone(), self.place.clone())
    }
}

impl Stated {
    fn is_read(&self) -> bool {
        self.source != "demonstration value"
    }
}

fn found(name: &str) -> &'static Drug {
    match FORMULARY.drug(name) {
        Lookup::Found(drug) => drug,
        other => panic!("{name}: {other:?}"),
    }
}

fn use_of<'d>(drug: &'d Drug, one: &'d Indication) -> (&'d str, &'d str, &'d str) {
    (&drug.name, &one.area, &one.name)
}

/// What is wrong with a figure, in words.
fn misses(figure: &Figure, stated: &BTreeMap<Key, Stated>) -> Option<String> {
    let Some(value) = stated.get(&figure.key()) else { return Some(format!("nothing stands there: {figure:?}")) };
    let printed = meaning(&figure.place, &figure.figure);
    let (kind, number) = &value.meaning;
    let twentieth = printed.1.times(exact("0.95")).expect("a figure is small");
    let right = match figure.holds.as_str() {
        "is" => *number == printed.1,
        "just below" => *number <= printed.1 && *number >= twentieth,
        "at most" => *number <= printed.1,
        "at least" => *number >= printed.1,
        other => panic!("{other}: {figure:?}"),
    };
    (!right || *kind != printed.0).then(|| format!("{}, and printed is {figure:?}", value.text))
}

/// Strengths of the two lists, and what a gram holds, have tests of their own.
fn is_proved_below(place: &str, source: &str) -> bool {
    let listed = LISTS.iter().any(|(begins, _)| source.starts_with(begins));
    (place.starts_with("strength ") && listed)
        || (place.starts_with("equivalent ") && source.contains("atomic weights"))
}

fn is_dose_limit(place: &str) -> bool {
    let group = place.split(' ').next().unwrap_or_default();
    !["life", "longest", "strength", "equivalent", "peripheral", "flow", "weight"].contains(&group)
        && !place.starts_with("bolus over")
}

/// These lie tenfold apart and more: the order really spans so much.
fn stands_apart((drug, area, _, place): &Key) -> bool {
    let phase = place.split(' ').next().unwrap_or_default();
    match (drug.as_str(), area.as_str()) {
        ("noradrenaline", "adult theatre") => phase == "maintenance",
        ("insulin", "adult theatre") => phase == "maintenance",
        _ => false,
    }
}

/// What is wrong with the figures and the order of a drug's limits: each at least as large as the one before it, and less
/// than ten times as large.
fn slips(drug: &str, stated: &BTreeMap<Key, Stated>) -> Vec<String> {
    const ORDER: [&str; 6] = ["hard from", "soft from", "usual from", "usual to", "soft to", "hard to"];
    let figures = FIGURES.iter().filter(|figure| figure.drug == drug);
    let mut wrong: Vec<String> = figures.filter_map(|figure| misses(figure, stated)).collect();
    let groups: BTreeSet<(&str, &str, &str)> = stated
        .keys()
        .filter(|key| is_dose_limit(&key.3) && !stands_apart(key))
        .map(|(_, area, indication, place)| (&**area, &**indication, place.split(' ').next().unwrap_or_default()))
        .collect();
    for (area, indication, group) in groups {
        let at = |name| stated.get(&(drug.into(), area.into(), indication.into(), format!("{group} {name}")));
        let row: Vec<&Stated> = ORDER.into_iter().filter_map(at).collect();
        for pair in row.windows(2) {
            let (one, next) = (pair[0].meaning.1, pair[1].meaning.1);
            if next < one || next >= one.times(Ratio::whole(10)).expect("a limit is small") {
                wrong
                    .push(format!("{drug}, {area}, {indication}, {group}: {} and then {}", pair[0].text, pair[1].text));
            }
        }
    }
    wrong
}

/// Every value of a drug that may rest on a source.
fn stated(drug: &Drug) -> BTreeMap<Key, Stated> {
    let mut all = BTreeMap::new();
    let mut add = |one: Option<&Indication>, place: String, text: String, source: &str| {
        let (area, indication) = one.map_or(("", ""), |one| (&*one.area, &*one.name));
        let meaning = meaning(&place, &text);
        let key = (drug.name.clone(), area.to_owned(), indication.to_owned(), place);
        assert!(all.insert(key, Stated { text, meaning, source: source.to_owned() }).is_none());
    };
    add(None, "life".into(), drug.life.to_string(), &drug.life_origin.source);
    for stocked in &drug.strengths {
        add(None, format!("strength {}", stocked.key), stocked.to_string(), &stocked.origin.source);
    }
    for one in &drug.equivalents {
        let text = format!("{} holds {}", one.amount, one.holds);
        add(None, format!("equivalent {}", one.what), text, &one.origin.source);
    }
    let peripheral = &drug.peripheral_maximum;
    ends(None, "peripheral soft", peripheral.soft.as_ref(), &mut add);
    ends(None, "peripheral hard", peripheral.hard.as_ref(), &mut add);
    for one in &drug.indications {
        let of = Some(one);
        for (phase, limits) in &one.phases {
            ends(of, &format!("{phase} usual"), Some(&limits.usual), &mut add);
            ends(of, &format!("{phase} soft"), limits.beyond.soft.as_ref(), &mut add);
            ends(of, &format!("{phase} hard"), limits.beyond.hard.as_ref(), &mut add);
        }
        if let Some(bolus) = &one.bolus {
            ends(of, "bolus usual", bolus.usual.as_ref(), &mut add);
            ends(of, "bolus soft", bolus.beyond.soft.as_ref(), &mut add);
            ends(of, "bolus hard", bolus.beyond.hard.as_ref(), &mut add);
            ends(of, "bolus over", Some(&bolus.over), &mut add);
        }
        ends(of, "flow soft", one.flow.soft.as_ref(), &mut add);
        ends(of, "flow hard", one.flow.hard.as_ref(), &mut add);
        ends(of, "weight soft", one.weight.soft.as_ref(), &mut add);
        ends(of, "weight hard", one.weight.hard.as_ref(), &mut add);
        ends(of, "longest", one.longest.as_ref(), &mut add);
    }
    all
}

fn ends<T: ToString + Copy>(
    one: Option<&Indication>,
    place: &str,
    band: Option<&Band<T>>,
    add: &mut impl FnMut(Option<&Indication>, String, String, &str),
) {
    let Some(band) = band else { return };
    for (side, end) in [("from", band.from), ("to", band.to)] {
        if let Some(end) = end {
            add(one, format!("{place} {side}"), end.to_string(), &band.origin.source);
        }
    }
}

/// Reads a value by the place where it stands.
fn meaning(place: &str, text: &str) -> Meaning {
    let amount =
        |text: &str| Quantity::<Amount>::parse_dose(text).unwrap_or_else(|refused| panic!("{text}: {refused}"));
    let rate = |text: &str| DoseRate::parse(text).unwrap_or_else(|refused| panic!("{text}: {refused}"));
    let strength = |text: &str| Strength::parse(text).unwrap_or_else(|refused| panic!("{text}: {refused}"));
    let mut words = place.split(' ');
    match (words.next().unwrap_or_default(), words.next().unwrap_or_default()) {
        ("life" | "longest", _) | ("bolus", "over") => {
            ("time".into(), Quantity::<Time>::parse(text).expect("a time").value())
        }
        ("strength", _) if text.contains("/kg in ") => {
            let (each, volume) = text.split_once(" in ").expect("looked for above");
            let volume = Quantity::<Volume>::parse(volume).expect("a volume").value();
            let each = BolusDose::parse(each).expect("an amount per kg");
            (format!("{:?} per kg and mL", each.unit().kind()), each.amount().over(volume).expect("small"))
        }
        ("strength" | "peripheral", _) => {
            let found = strength(text).concentration();
            (format!("{:?} per mL", found.kind), found.per_ml)
        }
        ("equivalent", _) => {
            let (of, holds) = text.split_once(" holds ").expect("both sides");
            let (of, holds) = (amount(of), amount(holds));
            (format!("{:?} in {:?}", holds.kind(), of.kind()), holds.value().over(of.value()).expect("small"))
        }
        ("flow", _) => match text.split_once(" of ") {
            // A cap on the dose, through a strength that is the only one.
            Some((dose, of)) => {
                ("flow".into(), rate(dose).amount_per_hour().over(strength(of).concentration().per_ml).expect("small"))
            }
            None => ("flow".into(), FlowRate::parse(text).expect("a rate").value()),
        },
        ("weight", _) => match text.split_once(" at ") {
            // The weight from which a cap counts.
            Some((cap, each)) => {
                ("weight".into(), rate(cap).amount_per_hour().over(rate(each).amount_per_hour()).expect("small"))
            }
            None => ("weight".into(), Quantity::<BodyMass>::parse(text).expect("a weight").value()),
        },
        ("bolus", _) => {
            let dose = BolusDose::parse(text).unwrap_or_else(|refused| panic!("{text}: {refused}"));
            (format!("{:?} {:?}", dose.unit().kind(), dose.unit().per()), dose.amount())
        }
        _ => {
            let dose = rate(text);
            let unit = dose.unit().dose();
            (format!("{:?} {:?} per h", unit.kind(), unit.per()), dose.amount_per_hour())
        }
    }
}
