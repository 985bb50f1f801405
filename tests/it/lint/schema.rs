//! The schemas are what the readers accept: field by field, in every place; and every file of the demonstration fits them,
//! as a validator sees it that is not ours.

use std::collections::{BTreeMap, BTreeSet};

use countersign::document::{DRUG_LIMIT, Node, Value, read_yaml};
use countersign::formulary::{Files, Formulary};
use countersign::pharmacy::lint::QUANTITIES;
use countersign::pharmacy::schema::{FileKind, text};
use serde_json::{Value as Json, json};

use crate::lint::small::Small;

const COMPLETE: &str = include_str!("complete.yaml");
const COMPLETE_PATH: &str = "drugs/complete.yaml";

fn kind_of(path: &str) -> Option<FileKind> {
    match path {
        "formulary.yaml" => Some(FileKind::Formulary),
        "areas.yaml" => Some(FileKind::Areas),
        "equipment.yaml" => Some(FileKind::Equipment),
        _ => path.starts_with("drugs/").then_some(FileKind::Drug),
    }
}

const KINDS: [(&str, FileKind); 4] = [
    ("drug", FileKind::Drug),
    ("areas", FileKind::Areas),
    ("equipment", FileKind::Equipment),
    ("formulary", FileKind::Formulary),
];

fn schema(kind: FileKind) -> Json {
    serde_json::from_str(text(kind)).expect("it is JSON")
}

fn read(text: &str) -> Node<'_> {
    let mut faults = Vec::new();
    read_yaml(text, DRUG_LIMIT, &mut faults).unwrap_or_else(|| panic!("{faults:?}"))
}

/// As most editors resolve plain texts: `true`, whole numbers and decimals are no texts to them.
fn as_editors_see(node: &Node<'_>) -> Json {
    match &node.value {
        Value::List(nodes) => nodes.iter().map(as_editors_see).collect(),
        Value::Map(members) => {
            members.iter().map(|member| (member.key.to_string(), as_editors_see(&member.node))).collect()
        }
        Value::Text(text) if node.range.len() > text.len() => json!(text),
        Value::Text(text) => match &**text {
            "true" => json!(true),
            "false" => json!(false),
            number => {
                let looks_so = number.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
                serde_json::from_str(number).ok().filter(|_| looks_so).unwrap_or_else(|| json!(number))
            }
        },
        Value::Nothing | Value::Bare => Json::Null,
    }
}

fn faults_by_schema(kind: FileKind, text: &str) -> Vec<String> {
    let validator = jsonschema::validator_for(&schema(kind)).expect("it is a schema");
    let seen = as_editors_see(&read(text));
    validator.iter_errors(&seen).map(|error| format!("{} {error}", error.instance_path())).collect()
}

#[test]
fn the_command_prints_the_schema_of_the_folder() {
    for (word, kind) in KINDS {
        let said = crate::common::run(["formulary", "schema", word]).said();
        assert_eq!((said.stdout.as_str(), said.code), (text(kind), 0));
    }
}

#[test]
fn every_file_of_the_demonstration_fits_its_schema() {
    let (files, mut seen) = (Files::demonstration(), 0);
    for (path, text) in files.iter() {
        let Some(kind) = kind_of(path) else { continue };
        assert_eq!(faults_by_schema(kind, text), [""; 0], "{path}");
        seen += 1;
    }
    assert!(seen >= 19, "{seen} files");
    assert_eq!(faults_by_schema(FileKind::Drug, COMPLETE), [""; 0]);
}

// A validator that lets everything pass would pass the test above.
#[test]
fn slips_do_not_fit_the_schema() {
    let slips = [
        ("dose_unit: mg/kg/h", "dose_units: mg/kg/h"),
        ("class: vasopressor\n", ""),
        ("mass_shown_as: mcg", "mass_shown_as: mg"),
        ("high_alert: true", "high_alert: yes"),
        ("dosing_weights: [actual, ideal]", "dosing_weights: [actual, lean body]"),
        ("dosing_weights: [actual, ideal]", "dosing_weights: actual"),
        ("time: 24 h", "time: .5 h"),
        ("time: 24 h", "time: 24"),
        ("time: 24 h", "time: \"1,5 h\""),
        ("longest: {from: 1 h, to: 24 h, source: label}", "longest: {from: 1 h, to: 24 h}"),
        ("amounts_as: the base", "amounts_as:"),
        ("by: 2099-12-31", "by: 31-12-2099"),
        ("strengths: [one]", "strengths: []"),
        ("        load:", "        loading:"),
        ("how: made up to", "how: filled up"),
    ];
    for (from, to) in slips {
        assert_eq!(COMPLETE.matches(from).count(), 1, "{from}");
        assert!(!faults_by_schema(FileKind::Drug, &COMPLETE.replace(from, to)).is_empty(), "{to} fits");
    }
}

/// A map of a file: where it stands, and the names that it may hold; none where people choose them.
type Maps = BTreeMap<String, Option<BTreeSet<String>>>;

/// By the schema: every map of this value, its fields by name.
fn by_schema(root: &Json, schema: &Json, value: &Json, path: &str, maps: &mut Maps) {
    let mut schema = schema;
    while let Some(name) = schema["$ref"].as_str() {
        schema = root.pointer(name.trim_start_matches('#')).unwrap_or_else(|| panic!("{name} is defined"));
    }
    match value {
        Json::Object(members) => {
            let fields = schema["properties"].as_object();
            maps.insert(path.to_owned(), fields.map(|fields| fields.keys().cloned().collect()));
            assert!(fields.is_none() || schema["additionalProperties"] == false, "{path} takes any field");
            for (key, member) in members {
                let inner = fields.map_or(&schema["additionalProperties"], |fields| &fields[key]);
                let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                by_schema(root, inner, member, &path, maps);
            }
        }
        Json::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                by_schema(root, &schema["items"], item, &format!("{path}[{index}]"), maps);
            }
        }
        _ => {}
    }
}

/// Every map of a text: its path, and where a field can be put in as its first.
fn maps_of(node: &Node<'_>, text: &str, path: &str, maps: &mut Vec<(String, usize, bool)>) {
    match &node.value {
        Value::Map(members) => {
            let is_flow = text[node.range.clone()].starts_with('{');
            let first = members.first().expect("no map here is empty").key_range.start;
            maps.push((path.to_owned(), first, is_flow));
            for member in members {
                let path = if path.is_empty() { member.key.to_string() } else { format!("{path}.{}", member.key) };
                maps_of(&member.node, text, &path, maps);
            }
        }
        Value::List(nodes) => {
            for (index, node) in nodes.iter().enumerate() {
                maps_of(node, text, &format!("{path}[{index}]"), maps);
            }
        }
        _ => {}
    }
}

/// The fields that the reader says it knows in a map, when it meets one that it does not.
fn by_reader(path: &str, text: &str, map: &(String, usize, bool)) -> Option<BTreeSet<String>> {
    let (field, at, is_flow) = map;
    let indent = text[..*at].rsplit('\n').next().map_or(0, |line| line.chars().count());
    let more = if *is_flow { "qqqq: 1, ".to_owned() } else { format!("qqqq: 1\n{}", " ".repeat(indent)) };
    let mut changed = text.to_owned();
    changed.insert_str(*at, &more);
    let house = Small::new().write(COMPLETE_PATH, COMPLETE).write(path, &changed);
    let faults: Vec<_> = match Formulary::of_files(house.files()) {
        Ok(formulary) => formulary.load_all().err().map(|faulty| faulty.0).unwrap_or_default(),
        Err((_, faulty)) => faulty.0,
    };
    let unknown = if field.is_empty() { "qqqq".to_owned() } else { format!("{field}.qqqq") };
    let found = faults.iter().flat_map(|(_, faults)| faults).find(|fault| fault.field == unknown)?;
    let help = found.help.as_deref().expect("it lists the fields");
    match found.code {
        "field-unknown" => Some(help.split('`').skip(1).step_by(2).map(str::to_owned).collect()),
        // Where the names are words of a closed list.
        "word-unknown" => Some(help.strip_prefix("write one of: ")?.split(", ").map(str::to_owned).collect()),
        _ => None,
    }
}

// A field that a reader learns must be learnt here too, and one that it forgets be forgotten.
#[test]
fn the_schema_knows_exactly_the_fields_that_the_readers_know() {
    let base = Small::new().write(COMPLETE_PATH, COMPLETE);
    let report = base.lint();
    assert_eq!(report.counts().errors, 0, "{}", report.text(countersign::diagnostic::terminal::Palette::Plain));
    let mut compared = 0;
    for (path, text) in base.files().iter() {
        let Some(kind) = kind_of(path).filter(|kind| *kind != FileKind::Drug || path == COMPLETE_PATH) else {
            continue;
        };
        let (schema, root) = (schema(kind), read(text));
        let (mut expected, mut maps) = (Maps::new(), Vec::new());
        by_schema(&schema, &schema, &as_editors_see(&root), "", &mut expected);
        maps_of(&root, text, "", &mut maps);
        assert_eq!(maps.len(), expected.len(), "{path}");
        for map in &maps {
            let known = by_reader(path, text, map);
            assert_eq!(known, expected[&map.0], "{path}: {}", map.0);
            compared += usize::from(known.is_some());
        }
    }
    assert!(compared > 60, "{compared} maps were compared");
    // And what is compared holds every map that the schema of a drug has.
    let schema = schema(FileKind::Drug);
    let fields = schema["$defs"]["Indication"]["properties"].as_object().expect("it has fields");
    let complete = as_editors_see(&read(COMPLETE));
    let both = ["everything", "by weight"].map(|name| complete["areas"]["adult theatre"][name].clone());
    for field in fields.keys() {
        assert!(both.iter().any(|one| one.get(field).is_some()), "{field} is not in complete.yaml");
    }
    for field in schema["properties"].as_object().expect("it has fields").keys() {
        assert!(complete.get(field).is_some(), "{field} is not in complete.yaml");
    }
}

// What the schema calls a quantity, the spelling of quantities looks at; and the other way round.
#[test]
fn every_quantity_is_looked_at_for_its_spelling() {
    let mut quantities = BTreeSet::new();
    for (_, kind) in KINDS {
        collect(&schema(kind), &mut quantities);
    }
    // Ages have words of their own.
    let known: BTreeSet<String> = QUANTITIES.iter().map(|name| (*name).to_owned()).collect();
    assert_eq!(quantities, known);
}

fn collect(schema: &Json, names: &mut BTreeSet<String>) {
    if let Some(fields) = schema["properties"].as_object() {
        for (name, field) in fields {
            if field["$ref"].as_str().is_some_and(|kind| kind.starts_with("#/$defs/quantity-")) {
                names.insert(name.clone());
            }
        }
    }
    match schema {
        Json::Object(members) => members.values().for_each(|member| collect(member, names)),
        Json::Array(items) => items.iter().for_each(|item| collect(item, names)),
        _ => {}
    }
}
