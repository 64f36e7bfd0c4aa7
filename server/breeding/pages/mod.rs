//! Pages of pairings and sacs.

pub(super) mod begin;
pub(super) mod fail;
pub(super) mod introduce;
pub(super) mod kinship;
pub(super) mod line_form;
pub(super) mod lineage;
pub(super) mod lines;
pub(super) mod list;
pub(super) mod log;
pub(super) mod membership;
pub(super) mod new_sac;
pub(super) mod open;
pub(super) mod pairing;
pub(super) mod planned;
pub(super) mod pull;
pub(super) mod sac;
pub(super) mod seen;

use sqlx::SqliteConnection;

use super::model::Parent;
use super::store;
use crate::house::errors::AppError;
use crate::house::layout::Choice;
use crate::reckoning::words::Sex;
use crate::rooms;

/// The shelves of the house to choose from, and none.
async fn places(db: &mut SqliteConnection) -> Result<Vec<Choice>, AppError> {
    let shelves = rooms::store::shelves(db).await?;
    let none = Choice::new("", "no place of its own");
    Ok(std::iter::once(none).chain(shelves.into_iter().map(|shelf| Choice::new(shelf.shelf_id, shelf.label))).collect())
}

/// The animals that can be dams or sires, after a first choice of none.
async fn parents(db: &mut SqliteConnection, sex: Sex, none: &str) -> Result<Vec<Choice>, AppError> {
    let found = store::parents(db, sex).await?;
    let label = |parent: &Parent| {
        let sexed = if parent.sex == Sex::Unknown { ", unsexed" } else { "" };
        format!("{} · {}{sexed}", parent.tag, parent.species)
    };
    Ok(std::iter::once(Choice::new("", none)).chain(found.iter().map(|parent| Choice::new(parent.id, label(parent)))).collect())
}
