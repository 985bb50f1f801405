//! Where each section stands: what is to be seen first over the whole width, everything between in two columns of about
//! the same height.

use super::piece::Piece;
use super::section::Section;
use crate::card::block::Block;
use crate::card::layout::{CardPart, SECOND_SIDE};

/// Between columns, and between sections, in heights of the letters.
const BETWEEN: f64 = 4.0;
const APART: f64 = 0.65;

/// The sections of a card in a width.
pub(super) struct Flow {
    width: f64,
    groups: Vec<Group>,
}

/// Sections over the whole width, or in two columns.
enum Group {
    Whole(Box<Section>),
    Columns(Vec<Section>),
}

impl Flow {
    pub(super) fn new(parts: &[&CardPart], width: f64) -> Self {
        let column = (width - BETWEEN) / 2.0;
        let mut groups = Vec::new();
        for part in parts {
            let section = match part {
                CardPart::Face(face) => {
                    groups.push(Group::Whole(Box::new(Section::of_face(face, width))));
                    continue;
                }
                CardPart::Block(block) if is_wide(block) => {
                    groups.push(Group::Whole(Box::new(Section::of(block, width))));
                    continue;
                }
                CardPart::Block(block) => Section::of(block, column),
            };
            match groups.last_mut() {
                Some(Group::Columns(sections)) => sections.push(section),
                _ => groups.push(Group::Columns(vec![section])),
            }
        }
        Self { width, groups }
    }

    /// How high it all is with letters of a height.
    pub(super) fn height(&mut self, size: f64) -> f64 {
        self.groups.iter().map(|group| group.height(size) + APART * size).sum()
    }

    /// Every piece, in reading order.
    pub(super) fn pieces(&self, size: f64, from: (f64, f64)) -> Vec<Piece> {
        let mut pieces = Vec::new();
        let (x, mut y) = from;
        for group in &self.groups {
            match group {
                Group::Whole(section) => section.place(size, (x, y), &mut pieces),
                Group::Columns(sections) => {
                    let right = x + (self.width + BETWEEN) / 2.0;
                    let split = split(&heights(sections, size), APART * size);
                    for (column, x) in [(&sections[..split], x), (&sections[split..], right)] {
                        let mut y = y;
                        for section in column {
                            section.place(size, (x, y), &mut pieces);
                            y += section.height(size) + APART * size;
                        }
                    }
                }
            }
            y += group.height(size) + APART * size;
        }
        pieces
    }
}

fn is_wide(block: &Block) -> bool {
    match block {
        Block::Banner(_) | Block::Title { .. } | Block::Emptying(_) | Block::Code(_) => true,
        Block::Text { key, .. } => key == SECOND_SIDE,
        _ => false,
    }
}

impl Group {
    fn height(&self, size: f64) -> f64 {
        match self {
            Self::Whole(section) => section.height(size),
            Self::Columns(sections) => {
                let heights = heights(sections, size);
                higher(&heights, split(&heights, APART * size), APART * size)
            }
        }
    }
}

fn heights(sections: &[Section], size: f64) -> Vec<f64> {
    sections.iter().map(|section| section.height(size)).collect()
}

/// How many go into the first column, so that the higher of the two is as low as can be.
fn split(heights: &[f64], apart: f64) -> usize {
    let of = |count: &usize| higher(heights, *count, apart);
    (1..=heights.len()).min_by(|one, other| of(one).total_cmp(&of(other))).unwrap_or(0)
}

fn higher(heights: &[f64], count: usize, apart: f64) -> f64 {
    let sum = |part: &[f64]| part.iter().map(|height| height + apart).sum::<f64>() - apart;
    let (first, second) = heights.split_at(count);
    sum(first).max(sum(second))
}
