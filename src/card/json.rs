//! The card as data: the same blocks, each under its key, every value with its unit as text.

use serde_json::{Map, Value, json};

use super::block::{Arrives, Block, CardFinding, Emptying, FactRow, Ladder, LadderRow, Reached, Scale};
use crate::quantity::{Ratio, duration, plain};

pub(super) fn render(blocks: &[Block]) -> Value {
    let mut data = Map::new();
    for block in blocks {
        match block {
            Block::Banner(text) => {
                let before = data.get("notice").and_then(Value::as_str).map(|notice| format!("{notice}; "));
                data.insert("notice".to_owned(), json!(format!("{}{text}", before.unwrap_or_default())));
            }
            Block::Title { text, at } => {
                data.insert("title".to_owned(), json!(text));
                data.insert("at".to_owned(), json!(at));
            }
            Block::Facts { key, rows, .. } => drop(data.insert(key.to_string(), facts(rows))),
            Block::Rate { value, unit, beyond } => {
                // Grouping is for people.
                let plain: String = value.split(' ').collect();
                let mut rate = json!({"value": plain, "unit": unit});
                if !beyond.is_empty() {
                    rate["beyond"] = json!(beyond);
                }
                data.insert("rate".to_owned(), rate);
            }
            Block::Ladder(ladder) => drop(data.insert("ladder".to_owned(), ladder_data(ladder))),
            Block::Scale(scale) => drop(data.insert("scale".to_owned(), scale_data(scale))),
            Block::Emptying(emptying) => drop(data.insert("emptying".to_owned(), emptying_data(emptying))),
            Block::Arrives(arrives) => drop(data.insert("arrives".to_owned(), arrives_data(arrives))),
            // They are about this very data, and stand beside it.
            Block::Code(_) | Block::Lead(_) => {}
            Block::Findings(found) => drop(data.insert("findings".to_owned(), found.iter().map(finding).collect())),
            Block::Steps { key, steps, .. } => drop(data.insert(key.to_string(), json!(steps))),
            Block::Text { key, lines, .. } => drop(data.insert(key.to_string(), json!(lines))),
        }
    }
    Value::Object(data)
}

fn facts(rows: &[FactRow]) -> Value {
    rows.iter().map(|row| (row.key.to_string(), json!(row.value))).collect::<Map<_, _>>().into()
}

fn finding(found: &CardFinding) -> Value {
    let reasons: Vec<Value> =
        found.reasons.iter().map(|(name, reason)| json!({"by": name, "reason": reason})).collect();
    json!({
        "code": found.code,
        "severity": found.severity,
        "message": found.message,
        "help": found.help,
        "source": found.source,
        "reasons": reasons,
    })
}

fn ladder_data(ladder: &Ladder) -> Value {
    let row = |row: &LadderRow| json!({"dose": row.dose, "rate": row.rate, "set": row.is_set});
    let bolus = ladder.bolus.as_ref().map(|bolus| json!({"dose": bolus.dose, "rate": bolus.rate}));
    json!({
        "counted_by": ladder.counted_by,
        "step": ladder.step,
        "dose_unit": ladder.dose_unit,
        "rate_unit": ladder.rate_unit,
        "rows": ladder.rows.iter().map(row).collect::<Vec<_>>(),
        "bolus": bolus,
    })
}

fn scale_data(scale: &Scale) -> Value {
    let mark = |mark: Option<super::ScaleMark>| mark.map(|mark| mark.0.to_string());
    json!({
        "unit": scale.unit,
        "dose": scale.dose.0.to_string(),
        "hard": {"from": mark(scale.hard_from), "to": mark(scale.hard_to)},
        "soft": {"from": mark(scale.soft_from), "to": mark(scale.soft_to)},
        "usual": {"from": mark(scale.usual_from), "to": mark(scale.usual_to)},
    })
}

fn emptying_data(emptying: &Emptying) -> Value {
    let ml = |volume: Ratio| format!("{} mL", plain(volume));
    json!({
        "holds": ml(emptying.holds),
        "bolus": emptying.bolus.map(ml),
        "stays_behind": ml(emptying.stays_behind),
        "lasts": duration(emptying.lasts),
        "change_over": duration(emptying.change_over),
        "discarded_at": emptying.discarded_at.map(|discarded| discarded.to_string()),
    })
}

fn arrives_data(arrives: &Arrives) -> Value {
    let band = arrives.band.as_ref().ok().map(|band| {
        let share = |reached: &Reached| (format!("{} %", reached.percent), json!(reached.says));
        json!({"none_before": band.earliest.says, "share_after": Value::Object(band.shares.iter().map(share).collect())})
    });
    json!({"band": band, "not_said": arrives.band.as_ref().err(), "taken_for_granted": arrives.assumed})
}
