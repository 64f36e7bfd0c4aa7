//! What to order: what the coming days will use at most, against what is on hand.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::stock::days_of_stock;
use super::{PlannedFeed, PreyError, period_need};
use crate::reckoning::calendar::{days_after, written};

/// How the house orders. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Policy {
    /// Days from an order to its delivery.
    pub lead_days: u32,
    /// Days that an order is to last after it has come.
    pub cover_days: u32,
}

impl Policy {
    /// How many days from today on an order must reach.
    pub fn days(self) -> u32 {
        self.lead_days.saturating_add(self.cover_days)
    }
}

/// What to order of one kind and size.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Order {
    /// The most that the days will use, nine times in ten.
    pub upper: u64,
    /// How many are missing.
    pub missing: u64,
    /// How many packs that makes, rounded up.
    pub packs: u64,
    /// The last day to order so that it comes before the stock may be used up; none if the stock lasts.
    pub order_by: Option<NaiveDate>,
    /// The result in words.
    pub summary: String,
}

/// What to order of one kind and size today: what is missing to last through the days of the order at the upper end of
/// the range of 80 %, in whole packs. Feeds on later days are left out.
///
/// # Errors
/// As for [`days_of_stock`].
pub fn order(today: NaiveDate, on_hand: u32, per_pack: u32, feeds: &[PlannedFeed], policy: Policy) -> Result<Order, PreyError> {
    let end = days_after(today, policy.days());
    let lasts = days_of_stock(on_hand, feeds)?;
    let within: Vec<PlannedFeed> = feeds.iter().filter(|feed| feed.day < end).cloned().collect();
    let upper = period_need(&within)?.first().map_or(0, |need| need.p90);
    let missing = upper.saturating_sub(u64::from(on_hand));
    let packs = missing.div_ceil(u64::from(per_pack.max(1)));
    let order_by = lasts.possible.map(|day| day.checked_sub_days(chrono::Days::new(policy.lead_days.into())).unwrap_or(day).max(today));
    let by = order_by.map_or_else(String::new, |day| if day <= today { " today".to_owned() } else { format!(" by {}", written(day)) });
    let summary = match packs {
        0 => format!("enough for {} days", policy.days()),
        1 => format!("order 1 pack{by}"),
        packs => format!("order {packs} packs{by}"),
    };
    Ok(Order { upper, missing, packs, order_by, summary })
}
