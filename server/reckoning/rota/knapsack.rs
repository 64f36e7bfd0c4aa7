//! What can be left out for so much urgency.

use crate::reckoning::cells::Cells;

/// The greatest weight up to which sums are exact; beyond it, a fraction of a job may be left out.
const MOST_WEIGHT: u64 = 500;

/// Something that can be left out: its number, its weight (urgency) and the minutes that this saves.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Item {
    pub(super) number: usize,
    pub(super) weight: u64,
    pub(super) minutes: u64,
}

/// Items, those that save most for their weight first.
pub(super) struct Knapsack {
    /// Items of no weight.
    free: Vec<Item>,
    free_minutes: u64,
    items: Vec<Item>,
}

impl Knapsack {
    pub(super) fn new(items: impl Iterator<Item = Item>) -> Self {
        let (free, mut items): (Vec<Item>, Vec<Item>) = items.filter(|item| item.minutes > 0).partition(|item| item.weight == 0);
        items.sort_by(|one, other| {
            let (ours, theirs) = (u128::from(one.minutes) * u128::from(other.weight), u128::from(other.minutes) * u128::from(one.weight));
            theirs.cmp(&ours).then(other.minutes.cmp(&one.minutes)).then(one.number.cmp(&other.number))
        });
        Self { free_minutes: free.iter().map(|item| item.minutes).sum(), free, items }
    }

    /// All items.
    pub(super) fn items(&self) -> impl Iterator<Item = Item> {
        self.free.iter().chain(&self.items).copied()
    }

    /// A weight below which so many minutes can't be saved. Exact for small weights.
    pub(super) fn least_weight(&self, minutes: u64) -> u64 {
        let (mut saved, mut weight) = (self.free_minutes, 0_u64);
        let mut relaxed = 0;
        for item in &self.items {
            if saved >= minutes {
                break;
            }
            let part = u128::from(item.weight) * u128::from((minutes - saved).min(item.minutes));
            relaxed = weight + u64::try_from(part.div_ceil(u128::from(item.minutes))).unwrap_or(u64::MAX);
            saved += item.minutes;
            weight += item.weight;
        }
        if saved < minutes || weight > MOST_WEIGHT {
            return relaxed;
        }
        let most = self.most(weight);
        most.iter().position(|most| *most >= minutes).map_or(relaxed, |weight| weight as u64)
    }

    /// A number of minutes that can't be saved for more than this weight. Exact for small weights.
    pub(super) fn most_minutes(&self, weight: u64) -> u64 {
        if weight <= MOST_WEIGHT {
            return self.most(weight).last().copied().unwrap_or_default();
        }
        let (mut left, mut saved) = (weight, self.free_minutes);
        for item in &self.items {
            if item.weight > left {
                let part = u128::from(item.minutes) * u128::from(left) / u128::from(item.weight.max(1));
                return saved + u64::try_from(part).unwrap_or(u64::MAX);
            }
            left -= item.weight;
            saved += item.minutes;
        }
        saved
    }

    /// For each weight from 0, the most minutes that can be saved for no more than it.
    fn most(&self, weight: u64) -> Vec<u64> {
        let mut most = vec![self.free_minutes; weight as usize + 1];
        for item in self.useful(weight) {
            take(&mut most, item);
        }
        most
    }

    /// The items that can matter: of each weight, no more than fit.
    fn useful(&self, weight: u64) -> Vec<Item> {
        let mut counts = vec![0; weight as usize + 1];
        let mut useful = Vec::new();
        for item in self.items.iter().filter(|item| item.weight <= weight) {
            let at = item.weight as usize;
            if counts.at(at) < weight / item.weight {
                counts.put(at, counts.at(at) + 1);
                useful.push(*item);
            }
        }
        useful
    }

    /// Items that save so many minutes for the least weight, and for that weight the most minutes. For great weights
    /// those that save most for their weight, which may be more than needed. All of them if there are too few.
    pub(super) fn choose(&self, minutes: u64) -> Vec<usize> {
        let greedy = self.greedy(minutes);
        let weight: u64 = greedy.iter().map(|item| item.weight).sum();
        let items = if weight <= MOST_WEIGHT { self.useful(weight) } else { Vec::new() };
        let mut most = vec![self.free_minutes; items.len().min(1) * weight as usize + 1];
        let taken: Vec<Vec<bool>> = items.iter().map(|item| take(&mut most, *item)).collect();
        let mut chosen: Vec<usize> = self.free.iter().map(|item| item.number).collect();
        if let Some(mut at) = most.iter().position(|most| *most >= minutes) {
            for (item, taken) in items.iter().zip(&taken).rev() {
                if taken.at(at) {
                    chosen.push(item.number);
                    at -= item.weight as usize;
                }
            }
        } else {
            chosen.extend(greedy.into_iter().map(|item| item.number));
        }
        chosen
    }

    /// The items of most minutes for their weight, until so many minutes are saved.
    fn greedy(&self, minutes: u64) -> Vec<Item> {
        let mut saved = self.free_minutes;
        let needed = self.items.iter().take_while(|item| {
            let needed = saved < minutes;
            saved += item.minutes;
            needed
        });
        needed.copied().collect()
    }
}

/// Adds an item to the table of the most minutes by weight; says for which weights it was taken.
fn take(most: &mut [u64], item: Item) -> Vec<bool> {
    let weight = item.weight as usize;
    let mut taken = vec![false; most.len()];
    for at in (weight..most.len()).rev() {
        let with = most.at(at - weight) + item.minutes;
        if with > most.at(at) {
            most.put(at, with);
            taken.put(at, true);
        }
    }
    taken
}
