//! The order in which a round is walked.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{RackId, RoomId, ShelfId};
use crate::house::write::Write;
use crate::rooms::model::order::{Step, WalkedRack, WalkedRoom, WalkedShelf, stepped};
use crate::rooms::store::{racks, rooms};

/// Every room, rack and shelf in walking order.
///
/// # Errors
/// The database can't be read.
pub async fn walk(db: &mut SqliteConnection) -> Result<Vec<WalkedRoom>, AppError> {
    let shelves: Vec<(RackId, ShelfId, i64)> =
        sqlx::query_as("SELECT rack_id, id, number FROM shelf ORDER BY walk_order, number").fetch_all(&mut *db).await?;
    let of_rack = |rack: RackId| {
        let own = shelves.iter().filter(move |(of, ..)| *of == rack);
        own.map(|(_, id, number)| WalkedShelf { id: *id, number: *number }).collect()
    };
    let all = racks(db).await?;
    let of_room = |room: RoomId| {
        let own = all.iter().filter(move |rack| rack.room_id == room);
        own.map(|rack| WalkedRack { id: rack.id, name: rack.name.clone(), shelves: of_rack(rack.id) }).collect()
    };
    Ok(rooms(db).await?.into_iter().map(|room| WalkedRoom { id: room.id, racks: of_room(room.id), name: room.name }).collect())
}

/// Moves a room one place among the rooms. Gives its name.
///
/// # Errors
/// A conflict when it stands at that end already.
pub async fn move_room(write: &mut Write, id: RoomId, step: Step) -> Result<String, AppError> {
    let name: String = sqlx::query_scalar("SELECT name FROM room WHERE id = ?").bind(id).fetch_one(write.db()).await?;
    let row: Vec<i64> = sqlx::query_scalar("SELECT id FROM room ORDER BY walk_order, name").fetch_all(write.db()).await?;
    for (place, one) in placed(&row, id.0, step, &name)? {
        sqlx::query("UPDATE room SET walk_order = ? WHERE id = ?").bind(place).bind(one).execute(write.db()).await?;
    }
    Ok(name)
}

/// Moves a rack one place among the racks of its room. Gives its name.
///
/// # Errors
/// A conflict when it stands at that end already.
pub async fn move_rack(write: &mut Write, id: RackId, step: Step) -> Result<String, AppError> {
    let (name, room): (String, RoomId) =
        sqlx::query_as("SELECT name, room_id FROM rack WHERE id = ?").bind(id).fetch_one(write.db()).await?;
    let row: Vec<i64> =
        sqlx::query_scalar("SELECT id FROM rack WHERE room_id = ? ORDER BY walk_order, name").bind(room).fetch_all(write.db()).await?;
    for (place, one) in placed(&row, id.0, step, &name)? {
        sqlx::query("UPDATE rack SET walk_order = ? WHERE id = ?").bind(place).bind(one).execute(write.db()).await?;
    }
    Ok(name)
}

/// Moves a shelf one place among the shelves of its rack. Gives its name.
///
/// # Errors
/// A conflict when it stands at that end already.
pub async fn move_shelf(write: &mut Write, id: ShelfId, step: Step) -> Result<String, AppError> {
    let (number, rack): (i64, RackId) =
        sqlx::query_as("SELECT number, rack_id FROM shelf WHERE id = ?").bind(id).fetch_one(write.db()).await?;
    let name = format!("Shelf {number}");
    let row: Vec<i64> =
        sqlx::query_scalar("SELECT id FROM shelf WHERE rack_id = ? ORDER BY walk_order, number").bind(rack).fetch_all(write.db()).await?;
    for (place, one) in placed(&row, id.0, step, &name)? {
        sqlx::query("UPDATE shelf SET walk_order = ? WHERE id = ?").bind(place).bind(one).execute(write.db()).await?;
    }
    Ok(name)
}

/// Places from 1 on for the new order.
fn placed(row: &[i64], one: i64, step: Step, name: &str) -> Result<Vec<(i64, i64)>, AppError> {
    let row = stepped(row, one, step).ok_or_else(|| AppError::conflict(format!("{name} can't be walked any {step} than it is.")))?;
    Ok((1..).zip(row).collect())
}
