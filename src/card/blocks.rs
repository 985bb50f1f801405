//! What a card of either kind holds, and every form of it. In: blocks in reading order; out: text, a page, a sheet, data.

use serde::{Deserialize, Serialize};

use super::block::{Block, FactRow, Ladder, LadderRow, Lead};
use super::{NoPage, html, json, page, text};

/// What a card begins with whose entry is in no journal.
const NOT_RECORDED: &str = "NOT RECORDED: THE JOURNAL CANNOT BE WRITTEN";

const UNSIGNED: &str = "UNSIGNED: in no journal. It has no code: if this card was altered, no check can show it.";

/// How an earlier card named the one rate in its other rows.
const THE_RATE_ABOVE: &str = "the rate above";

/// How a card is drawn for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rendering {
    /// 80 columns of plain characters.
    Text,
    /// A page for a browser.
    Html,
    /// A sheet as SVG.
    Svg,
    /// A sheet as PDF.
    #[cfg(feature = "pdf")]
    Pdf,
}

/// Blocks in reading order: what both kinds of card are drawn from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Blocks(Vec<Block>);

impl Blocks {
    pub(super) const fn of(blocks: Vec<Block>) -> Self {
        Self(blocks)
    }

    /// With the signed code of its data, [`Self::json`], which does not hold it.
    #[must_use]
    pub fn with_code(mut self, code: String) -> Self {
        self.0.push(Block::Code(code));
        self
    }

    /// The same for a set-up that is in no journal: that stands above everything else.
    #[must_use]
    pub fn not_recorded(&self, lines: Vec<String>) -> Self {
        let mut blocks = vec![Block::Banner(NOT_RECORDED.to_owned())];
        let banners = self.0.iter().take_while(|block| matches!(block, Block::Banner(_)));
        blocks.extend(banners.cloned());
        let rest = self.0.iter().skip(blocks.len() - 1).map(|block| match block {
            // It was not made from files either.
            Block::Text { key, heading, .. } if key == "unsigned" => {
                Block::Text { key: key.clone(), heading: heading.clone(), lines: vec![UNSIGNED.to_owned()] }
            }
            other => other.clone(),
        });
        blocks.push(Block::text("not_recorded", "Not recorded", lines));
        blocks.extend(rest);
        Self(blocks)
    }

    /// The same with one more banner, below those that it has.
    #[must_use]
    pub fn with_banner(&self, says: String) -> Self {
        let banners = self.0.iter().take_while(|block| matches!(block, Block::Banner(_))).count();
        let mut blocks = self.0.clone();
        blocks.insert(banners, Block::Banner(says));
        Self(blocks)
    }

    /// The same with what runs in its largest letters, below its banners. An agreed rate that does not run is then one fact
    /// among others, and what was drawn for a start at that rate is left out: it is not what happens.
    #[must_use]
    pub fn led_by(&self, lead: Lead) -> Self {
        let (is_the_cards, line_runs, started) = (lead.is_the_cards, lead.line_runs, lead.started);
        let weighs_otherwise = lead.weighs_otherwise;
        // Only of this syringe does the ladder tell which of its rates runs.
        let runs = lead.started.then(|| lead.value.clone());
        let mut blocks = Vec::with_capacity(self.0.len() + 1);
        let mut lead = Some(Block::Lead(lead));
        for block in &self.0 {
            if !matches!(block, Block::Banner(_)) {
                blocks.extend(lead.take());
            }
            match block {
                Block::Arrives(_) if line_runs || !is_the_cards => {}
                Block::Emptying(_) if started || !is_the_cards => {}
                // What is set up already is not set up once more.
                Block::Steps { .. } if started => {}
                Block::Scale(_) if weighs_otherwise || !is_the_cards => {}
                Block::Facts { key, .. } if weighs_otherwise && matches!(&**key, "dose" | "bolus" | "other_rates") => {}
                Block::Ladder(_) if weighs_otherwise => {}
                Block::Ladder(ladder) if !is_the_cards => {
                    blocks.push(Block::Ladder(Box::new(ladder.as_running(runs.as_deref()))));
                }
                // What follows from the card's own rate is not what happens.
                Block::Facts { key, .. } if !is_the_cards && key == "dose" => {}
                Block::Rate { value, unit, .. } if !is_the_cards => blocks.push(agreed_rate(value, unit)),
                Block::Facts { key, heading, rows } if key == "course" && (started || line_runs || !is_the_cards) => {
                    let by_start = ["lasts", "planned_for", "planned_for_second", "change_by"];
                    let at_start = ["left", "starts_at", "starts_at_second"];
                    let tells = |row: &&FactRow| {
                        let of_start = by_start.contains(&&*row.key) && (started || !is_the_cards);
                        let of_rate = of_start
                            || (at_start.contains(&&*row.key) && started)
                            || (row.key == "blocked" && !is_the_cards);
                        let of_first_line = row.key == "through" && line_runs;
                        !(of_rate || of_first_line)
                    };
                    let rows = rows.iter().filter(tells).cloned().collect();
                    blocks.push(Block::Facts { key: key.clone(), heading: heading.clone(), rows });
                }
                // The rate above them is another one now.
                Block::Facts { key, heading, rows } if matches!(&**key, "other_rates" | "bolus") && !is_the_cards => {
                    let agreed = match &**key {
                        "bolus" => "the rate that ran before it".to_owned(),
                        _ => self.rate().unwrap_or_default(),
                    };
                    let named =
                        |row: &FactRow| FactRow { value: row.value.replace(THE_RATE_ABOVE, &agreed), ..row.clone() };
                    let rows = rows.iter().map(named).collect();
                    blocks.push(Block::Facts { key: key.clone(), heading: heading.clone(), rows });
                }
                other => blocks.push(other.clone()),
            }
        }
        Self(blocks)
    }

    /// The one rate with its unit.
    fn rate(&self) -> Option<String> {
        self.0.iter().find_map(|block| match block {
            Block::Rate { value, unit, .. } => Some(format!("{value} {unit}")),
            _ => None,
        })
    }

    /// The blocks, in reading order.
    #[must_use]
    pub fn blocks(&self) -> &[Block] {
        &self.0
    }

    /// For a terminal or a printer of 80 columns.
    #[must_use]
    pub fn text(&self) -> String {
        text::render(&self.0)
    }

    /// One page for a browser or a printer: no script, nothing fetched.
    #[must_use]
    pub fn html(&self) -> String {
        html::render(&self.0)
    }

    /// Its code; one from two files has none.
    #[must_use]
    pub fn code(&self) -> Option<&str> {
        self.0.iter().find_map(|block| match block {
            Block::Code(code) => Some(code.as_str()),
            _ => None,
        })
    }

    /// In one of these forms.
    ///
    /// # Errors
    /// [`NoPage`], where a sheet is asked for and one cannot hold it, or the font lacks a character.
    pub fn drawn(&self, form: Rendering) -> Result<Vec<u8>, NoPage> {
        match form {
            Rendering::Text => Ok(self.text().into_bytes()),
            Rendering::Html => Ok(self.html().into_bytes()),
            Rendering::Svg => self.svg().map(String::into_bytes),
            #[cfg(feature = "pdf")]
            Rendering::Pdf => self.pdf(),
        }
    }

    /// One sheet of A5, or of A4 where there is more to say, as an SVG file: nothing fetched.
    ///
    /// # Errors
    /// [`NoPage`], where one sheet cannot hold it.
    pub fn svg(&self) -> Result<String, NoPage> {
        page::svg(&self.0)
    }

    /// The same as a PDF file.
    ///
    /// # Errors
    /// [`NoPage`], where one sheet cannot hold it, or the font lacks a character.
    #[cfg(feature = "pdf")]
    pub fn pdf(&self) -> Result<Vec<u8>, NoPage> {
        page::pdf(&self.0)
    }

    /// The same as data.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        json::render(&self.0)
    }
}

impl Ladder {
    /// With the mark at the rate that runs, where this syringe runs at one of the list.
    fn as_running(&self, rate: Option<&str>) -> Self {
        let marked = |row: &LadderRow| LadderRow { is_set: rate == Some(row.rate.as_str()), ..row.clone() };
        Self { rows: self.rows.iter().map(marked).collect(), ..self.clone() }
    }
}

fn agreed_rate(value: &str, unit: &str) -> Block {
    let value = format!("{value} {unit}, when the card was made: NOT the rate that runs");
    let rows = vec![FactRow { key: "rate".into(), label: "This card".into(), value }];
    Block::facts("agreed_rate", "Rate of this card", rows)
}
