//! Where the boxes of a lineage chart stand: ancestors to the left of the one that is asked about, descendants to the right,
//! a column a generation. The chart is a tree: whoever is met again along another way is drawn again.

use super::cells::Cells;

/// The width of a box, in units of the drawing.
pub const BOX_WIDTH: u32 = 160;
/// The height of a box.
pub const BOX_HEIGHT: u32 = 62;
/// From one column to the next.
const COLUMN: u32 = BOX_WIDTH + 40;
/// From the top of one box to the top of the next below it.
const ROW: u32 = BOX_HEIGHT + 12;
/// Around the whole.
const MARGIN: u32 = 4;

/// On which side of the one that is asked about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Ancestors.
    Up,
    /// Descendants.
    Down,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    /// The neighbour that is nearer to the one that is asked about; itself for that one.
    toward: usize,
    side: Side,
    /// How many steps from it.
    depth: u32,
}

/// The boxes to place. The first, number 0, is the one that is asked about.
#[derive(Debug, Clone)]
pub struct Tree {
    nodes: Vec<Node>,
}

/// Where a box stands: its left upper corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Place {
    /// From the left.
    pub x: u32,
    /// From the top.
    pub y: u32,
}

/// A line between two boxes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// The box of the parent.
    pub parent: usize,
    /// The box of the young.
    pub young: usize,
    /// Where it leaves the parent's box.
    pub from: (u32, u32),
    /// Where it turns.
    pub turn: u32,
    /// Where it comes to the young's box.
    pub to: (u32, u32),
}

/// A placed tree.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    /// By the numbers of the boxes.
    pub places: Vec<Place>,
    /// A line for every box but the first.
    pub edges: Vec<Edge>,
    /// The width of the whole.
    pub width: u32,
    /// Its height.
    pub height: u32,
}

impl Default for Tree {
    fn default() -> Self {
        Self::new()
    }
}

impl Tree {
    /// The one that is asked about, alone.
    #[must_use]
    pub fn new() -> Self {
        Self { nodes: vec![Node { toward: 0, side: Side::Up, depth: 0 }] }
    }

    /// Adds a box next to another and gives its number. Only next to the first does the side matter: further out a box
    /// stands on the side of its neighbour. A neighbour that is not there counts as the first.
    pub fn add(&mut self, next_to: usize, side: Side) -> usize {
        let first = Node { toward: 0, side, depth: 0 };
        let (toward, near) = self.nodes.get(next_to).map_or((0, first), |node| (next_to, *node));
        let side = if toward == 0 { side } else { near.side };
        self.nodes.push(Node { toward, side, depth: near.depth + 1 });
        self.nodes.len() - 1
    }

    /// How many boxes there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Never: the first box is always there.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Places the boxes: each column from the first one outwards, each box beside the middle of those that hang on it, the
    /// branches one below the other in the order in which they were added. No two boxes touch.
    #[must_use]
    pub fn layout(&self) -> Layout {
        let (up, down) = (self.middles(Side::Up), self.middles(Side::Down));
        // Both sides hang on the first box, so the shorter side is let down to it.
        let (first_up, first_down) = (up.at(0), down.at(0));
        let first = first_up.max(first_down);
        let deepest = |side| self.nodes.iter().filter(|node| node.side == side).map(|node| node.depth).max().unwrap_or(0);
        let (ups, downs) = (deepest(Side::Up), deepest(Side::Down));
        let place = |(number, node): (usize, &Node)| {
            let (middles, own_first, column) = match node.side {
                Side::Up => (&up, first_up, ups - node.depth),
                Side::Down => (&down, first_down, ups + node.depth),
            };
            // Middles are kept in halves of a row.
            Place { x: MARGIN + column * COLUMN, y: MARGIN + (middles.at(number) + first - own_first) * ROW / 2 }
        };
        let places: Vec<Place> = self.nodes.iter().enumerate().map(place).collect();
        let lowest = places.iter().map(|place| place.y).max().unwrap_or(0);
        Layout {
            edges: self.edges(&places),
            width: 2 * MARGIN + (ups + downs) * COLUMN + BOX_WIDTH,
            height: lowest + BOX_HEIGHT + MARGIN,
            places,
        }
    }

    /// Where the boxes of a side stand from top to bottom, in halves of a row; others at 0.
    fn middles(&self, side: Side) -> Vec<u32> {
        let mut branches: Vec<Vec<usize>> = vec![Vec::new(); self.nodes.len()];
        for (number, node) in self.nodes.iter().enumerate().skip(1).filter(|(_, node)| node.side == side) {
            if let Some(branch) = branches.get_mut(node.toward) {
                branch.push(number);
            }
        }
        let mut order = Vec::new();
        let mut waiting = vec![0];
        while let Some(number) = waiting.pop() {
            order.push(number);
            waiting.extend(branches.get(number).into_iter().flatten().rev());
        }
        let mut middles = vec![0; self.nodes.len()];
        let mut rows = 0;
        for number in &order {
            if branches.get(*number).is_some_and(Vec::is_empty) {
                middles.put(*number, 2 * rows);
                rows += 1;
            }
        }
        for number in order.iter().rev() {
            if let Some((first, last)) = branches.get(*number).and_then(|of| of.first().zip(of.last())) {
                middles.put(*number, (middles.at(*first) + middles.at(*last)) / 2);
            }
        }
        middles
    }

    fn edges(&self, places: &[Place]) -> Vec<Edge> {
        let edge = |(number, node): (usize, &Node)| {
            let (parent, young) = if node.side == Side::Up { (number, node.toward) } else { (node.toward, number) };
            let (left, right) = (places.at(parent), places.at(young));
            let from = (left.x + BOX_WIDTH, left.y + BOX_HEIGHT / 2);
            Edge { parent, young, from, turn: from.0 + (COLUMN - BOX_WIDTH) / 2, to: (right.x, right.y + BOX_HEIGHT / 2) }
        };
        self.nodes.iter().enumerate().skip(1).map(edge).collect()
    }
}
