//! How long a stock of prey lasts.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::eaten::{Eaten, MOST_STEPS};
use super::{Method, PlannedFeed, PreyError};
use crate::reckoning::calendar::written;

/// How long a stock lasts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StockLasts {
    /// How many are on hand.
    pub on_hand: u32,
    /// The first day by whose end the stock is used up with a chance over 50 %; none if it lasts.
    pub likely: Option<NaiveDate>,
    /// The first day by whose end the stock is used up with a chance over 5 %; none if it lasts.
    pub possible: Option<NaiveDate>,
    /// The last day with a feeding.
    pub planned_to: Option<NaiveDate>,
    /// How the chances were reckoned.
    pub method: Method,
    /// The result in words.
    pub summary: String,
}

/// How long a stock of one kind and size lasts through its planned feedings. It is used up once as many prey have been
/// eaten as were on hand; prey that is offered and not eaten goes back.
///
/// # Errors
/// Chances that are not from 0 to 1; fewer prey offered than eaten; feedings of more than one kind or size.
pub fn days_of_stock(on_hand: u32, feeds: &[PlannedFeed]) -> Result<StockLasts, PreyError> {
    for (at, feed) in feeds.iter().enumerate() {
        feed.check(at)?;
        if feeds.first().is_some_and(|first| (&first.kind, &first.size) != (&feed.kind, &feed.size)) {
            return Err(PreyError::Mixed { at });
        }
    }
    let mut in_order: Vec<&PlannedFeed> = feeds.iter().collect();
    in_order.sort_by_key(|feed| feed.day);
    let planned_to = in_order.last().map(|feed| feed.day);
    let mut eaten = Eaten::none(MOST_STEPS);
    let (mut likely, mut possible) = (None, None);
    for of_one_day in in_order.chunk_by(|one, other| one.day == other.day) {
        of_one_day.iter().for_each(|feed| eaten.add(feed.feeding()));
        let day = of_one_day.first().map(|feed| feed.day);
        let chance = eaten.chance_of(on_hand.into());
        possible = possible.or(day.filter(|_| chance > 0.05));
        likely = day.filter(|_| chance > 0.5);
        if likely.is_some() {
            break;
        }
    }
    let summary = in_words(on_hand, likely, possible, planned_to);
    Ok(StockLasts { on_hand, likely, possible, planned_to, method: eaten.method(), summary })
}

fn in_words(on_hand: u32, likely: Option<NaiveDate>, possible: Option<NaiveDate>, planned_to: Option<NaiveDate>) -> String {
    let Some(last) = planned_to.map(written) else {
        return format!("{on_hand} on hand; no feeding is planned");
    };
    match (likely.map(written), possible.map(written)) {
        (Some(day), Some(first)) if day == first => format!("{on_hand} on hand: used up on {day} (chance over 50 %)"),
        (Some(day), first) => {
            let first = first.map_or_else(String::new, |first| format!(", perhaps on {first} (over 5 %)"));
            format!("{on_hand} on hand: used up by {day} (chance over 50 %){first}")
        }
        (None, Some(first)) => {
            format!("{on_hand} on hand: lasts to the last feeding on {last}, but may be used up on {first} (chance over 5 %)")
        }
        (None, None) => format!("{on_hand} on hand: lasts to the last feeding on {last}"),
    }
}
