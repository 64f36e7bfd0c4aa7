//! All SQL of rooms, racks, shelves and readings.

pub mod climate;
pub mod order;

use sqlx::SqliteConnection;

use super::model::{NewRack, NewRoom, Rack, Room, Shelf, Standing};
use crate::house::errors::AppError;
use crate::house::ids::{RackId, RoomId, ShelfId};
use crate::house::write::Write;

/// All rooms in walking order.
///
/// # Errors
/// The database can't be read.
pub async fn rooms(db: &mut SqliteConnection) -> Result<Vec<Room>, AppError> {
    Ok(sqlx::query_as("SELECT id, name, walk_order FROM room ORDER BY walk_order, name").fetch_all(db).await?)
}

/// One room.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_room(db: &mut SqliteConnection, id: RoomId) -> Result<Room, AppError> {
    Ok(sqlx::query_as("SELECT id, name, walk_order FROM room WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// All racks in walking order, with how much stands in each.
///
/// # Errors
/// The database can't be read.
pub async fn racks(db: &mut SqliteConnection) -> Result<Vec<Rack>, AppError> {
    Ok(sqlx::query_as(
        "SELECT rack.id, rack.room_id, room.name AS room_name, rack.name,
                (SELECT COUNT(*) FROM shelf WHERE shelf.rack_id = rack.id) AS shelves,
                (SELECT COUNT(*) FROM animal JOIN shelf ON shelf.id = animal.shelf_id WHERE shelf.rack_id = rack.id) AS animals,
                (SELECT COUNT(*) FROM cohort JOIN shelf ON shelf.id = cohort.shelf_id WHERE shelf.rack_id = rack.id) AS cohorts
         FROM rack JOIN room ON room.id = rack.room_id
         ORDER BY room.walk_order, room.name, rack.walk_order, rack.name",
    )
    .fetch_all(db)
    .await?)
}

/// One rack.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_rack(db: &mut SqliteConnection, id: RackId) -> Result<Rack, AppError> {
    racks(db).await?.into_iter().find(|rack| rack.id == id).ok_or(AppError::NotFound)
}

/// All shelves in walking order, for lists of places.
///
/// # Errors
/// The database can't be read.
pub async fn shelves(db: &mut SqliteConnection) -> Result<Vec<Shelf>, AppError> {
    Ok(sqlx::query_as("SELECT shelf_id, label FROM place ORDER BY room_order, room_name, rack_order, rack_name, shelf_order, shelf_number")
        .fetch_all(db)
        .await?)
}

/// A shelf's place in words, as moves record it.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn shelf_label(db: &mut SqliteConnection, id: ShelfId) -> Result<String, AppError> {
    Ok(sqlx::query_scalar("SELECT label FROM place WHERE shelf_id = ?").bind(id).fetch_one(db).await?)
}

/// What stands in a rack, in walking order.
///
/// # Errors
/// The database can't be read.
pub async fn standing(db: &mut SqliteConnection, rack: RackId) -> Result<Vec<Standing>, AppError> {
    Ok(sqlx::query_as(
        "SELECT shelf.walk_order, shelf.number AS shelf_number, animal.position, animal.id AS animal_id, NULL AS cohort_id,
                animal.tag AS label, species.accepted_name AS species
         FROM animal JOIN shelf ON shelf.id = animal.shelf_id JOIN species ON species.id = animal.species_id
         WHERE shelf.rack_id = ?1
         UNION ALL
         SELECT shelf.walk_order, shelf.number, cohort.position, NULL, cohort.id, cohort.code, species.accepted_name
         FROM cohort JOIN shelf ON shelf.id = cohort.shelf_id JOIN species ON species.id = cohort.species_id
         WHERE shelf.rack_id = ?1
         ORDER BY 1, 2, 3, 6",
    )
    .bind(rack)
    .fetch_all(db)
    .await?)
}

/// Adds a room.
///
/// # Errors
/// A name that is taken.
pub async fn insert_room(write: &mut Write, new: &NewRoom) -> Result<RoomId, AppError> {
    Ok(sqlx::query_scalar("INSERT INTO room (name, walk_order) VALUES (?, ?) RETURNING id")
        .bind(&new.name)
        .bind(new.walk_order)
        .fetch_one(write.db())
        .await?)
}

/// Adds a rack with its shelves.
///
/// # Errors
/// A name that is taken in that room.
pub async fn insert_rack(write: &mut Write, room: RoomId, new: &NewRack) -> Result<RackId, AppError> {
    let rack: RackId = sqlx::query_scalar("INSERT INTO rack (room_id, name, walk_order) VALUES (?, ?, ?) RETURNING id")
        .bind(room)
        .bind(&new.name)
        .bind(new.walk_order)
        .fetch_one(write.db())
        .await?;
    for number in 1..=new.shelves {
        sqlx::query("INSERT INTO shelf (rack_id, number) VALUES (?, ?)").bind(rack).bind(number).execute(write.db()).await?;
    }
    Ok(rack)
}
