//! The rooms of the made-up house.

use std::collections::BTreeMap;

use super::Building;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::ShelfId;
use crate::rooms::model::{NewRack, NewRoom};
use crate::rooms::store;

/// The shelves, by rack and number.
pub(super) struct Places(BTreeMap<(&'static str, i64), ShelfId>);

impl Places {
    /// A shelf; none when the house has no such one.
    pub fn shelf(&self, rack: &'static str, number: i64) -> Option<ShelfId> {
        self.0.get(&(rack, number)).copied()
    }
}

const ROOMS: [(&str, &[(&str, i64)]); 3] = [
    ("Warm room", &[("Birch", 5), ("Cedar", 5)]),
    ("Quiet room", &[("Elm", 4), ("Fir", 4)]),
    ("Nursery", &[("Incubator", 2), ("Vials", 6), ("Hazel", 3)]),
];

/// Puts up rooms and racks, and the settings of the house.
pub(super) async fn furnish(building: &Building) -> Result<Places, AppError> {
    let mut write = building.app.write(Some(building.named("ilka"))).await?;
    let mut places = BTreeMap::new();
    for (order, (room, racks)) in (1_i64..).zip(ROOMS) {
        let room_id = store::insert_room(&mut write, &NewRoom { name: room.to_owned(), walk_order: order }).await?;
        for (order, (rack, shelves)) in (1_i64..).zip(racks) {
            let new = NewRack { name: (*rack).to_owned(), walk_order: order, shelves: *shelves };
            store::insert_rack(&mut write, room_id, &new).await?;
        }
    }
    for shelf in store::shelves(write.db()).await? {
        let found = ROOMS.iter().flat_map(|(_, racks)| racks.iter()).find_map(|(rack, shelves)| {
            (1..=*shelves).find(|number| shelf.label.ends_with(&format!("{rack} · shelf {number}"))).map(|number| (*rack, number))
        });
        if let Some(place) = found {
            places.insert(place, shelf.shelf_id);
        }
    }
    write.commit(Change::new("rooms.furnished", "house", "three rooms, seven racks"), "/rooms").await?;
    Ok(Places(places))
}
