//! A card that was counted again: what changed stands above its rate, and which card it replaces.

use super::block::{Block, FactRow, RECOUNT};
use super::blocks::Blocks;

/// What stands above the rate, before the rate of the card before and the one of now.
const COUNTED_AGAIN: &str = "COUNTED AGAIN";

impl Blocks {
    /// The same card after a recount: `rates` as `64 -> 62.7 mL/h`, nothing where the rate stays.
    #[must_use]
    pub(crate) fn counted_again(&self, rates: Option<&str>, because: &str, replaces: u64) -> Self {
        let row = |key: &'static str, label: &'static str, value: String| FactRow {
            key: key.into(),
            label: label.into(),
            value,
        };
        let mut rows = vec![row("because", "Changed", because.to_owned())];
        rows.push(row("replaces", "Replaces", format!("the card of event {replaces}, which is void")));
        if let Some(rates) = rates {
            rows.insert(0, row("rates", "Rate", format!("{COUNTED_AGAIN}: {rates}")));
        }
        let mut blocks = self.blocks().to_vec();
        let after = blocks.iter().position(|block| matches!(block, Block::Title { .. })).map_or(0, |title| title + 1);
        blocks.insert(after, Block::facts(RECOUNT, "Counted again", rows));
        Self::of(blocks)
    }
}
