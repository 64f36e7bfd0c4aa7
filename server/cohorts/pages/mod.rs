//! Pages of cohorts.

pub(super) mod bought;
pub(super) mod cohort;
pub(super) mod deed;
pub(super) mod holdbacks;
pub(super) mod labels;
pub(super) mod list;
pub(super) mod losses;
pub(super) mod recount;
pub(super) mod scorecard;
pub(super) mod scorecards;
pub(super) mod separated;
pub(super) mod survival;
pub(super) mod take_back;
mod window;

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::layout::Choice;
use crate::rooms;

/// The shelves of the house to choose from, and none.
async fn places(db: &mut SqliteConnection) -> Result<Vec<Choice>, AppError> {
    let shelves = rooms::store::shelves(db).await?;
    let none = Choice::new("", "no place yet");
    Ok(std::iter::once(none).chain(shelves.into_iter().map(|shelf| Choice::new(shelf.shelf_id, shelf.label))).collect())
}
