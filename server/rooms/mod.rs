//! Rooms: where things stand. Rooms hold racks, racks hold shelves; their order is the order of a round.

pub mod model;
mod pages;
pub mod store;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/rooms", May::Member, pages::list)
        .get("/rooms/order", May::Lead, pages::order::show)
        .post("/rooms/{room}/move", May::Lead, pages::order::move_room)
        .post("/racks/{rack}/move", May::Lead, pages::order::move_rack)
        .post("/shelves/{shelf}/move", May::Lead, pages::order::move_shelf)
        .get("/rooms/new", May::Lead, pages::new_room)
        .post("/rooms/new", May::Lead, pages::create_room)
        .get("/rooms/{room}/racks/new", May::Lead, pages::new_rack)
        .post("/rooms/{room}/racks/new", May::Lead, pages::create_rack)
        .get("/racks/{rack}", May::Member, pages::rack::rack)
        .get("/racks/{rack}/temperature.csv", May::Member, pages::rack::temperature_csv)
        .get("/racks/{rack}/humidity.csv", May::Member, pages::rack::humidity_csv)
        .get("/racks/{rack}/read", May::Keep, pages::reading::read)
        .post("/racks/{rack}/read", May::Keep, pages::reading::save_reading)
        .post("/racks/{rack}/readings/{reading}/struck", May::Keep, pages::reading::strike)
}
