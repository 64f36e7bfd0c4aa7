//! What the cells of a file refer to: species by any name, shelves by room, rack and number. Each name is looked up once.

use std::collections::{BTreeSet, HashMap};

use sqlx::SqliteConnection;

use super::store;
use crate::house::errors::AppError;
use crate::house::ids::{ShelfId, SpeciesId};
use crate::species;
use crate::species::names::{KnownName, NameKind, NameMatch, find};

/// A species that a cell named, with a remark when it was not by its accepted name.
#[derive(Debug, Clone)]
pub struct NamedSpecies {
    /// Its id.
    pub id: SpeciesId,
    /// Its accepted name.
    pub name: String,
    /// How the cell's name was taken.
    pub remark: Option<String>,
}

/// Everything that cells can refer to.
pub struct Lookups {
    known: Vec<KnownName>,
    accepted: HashMap<SpeciesId, String>,
    species: HashMap<String, Result<NamedSpecies, String>>,
    shelves: HashMap<(String, String, i64), ShelfId>,
}

impl Lookups {
    /// Reads them from the book.
    ///
    /// # Errors
    /// The database can't be read.
    pub async fn read(db: &mut SqliteConnection) -> Result<Self, AppError> {
        let known = species::store::known_names(db).await?;
        let accepted =
            known.iter().filter(|name| name.kind == NameKind::Accepted).map(|name| (name.species_id, name.name.clone())).collect();
        let shelves = store::shelves(db).await?;
        let shelves = shelves.into_iter().map(|shelf| ((fold(&shelf.room), fold(&shelf.rack), shelf.number), shelf.id)).collect();
        Ok(Self { known, accepted, species: HashMap::new(), shelves })
    }

    /// The species that a cell names.
    ///
    /// # Errors
    /// What to ask or change, in words: a name that is ambiguous or unknown.
    pub fn species(&mut self, typed: &str) -> Result<NamedSpecies, String> {
        if let Some(answer) = self.species.get(typed) {
            return answer.clone();
        }
        let answer = self.look_up(typed);
        self.species.insert(typed.to_owned(), answer.clone());
        answer
    }

    fn look_up(&self, typed: &str) -> Result<NamedSpecies, String> {
        let named = |id: SpeciesId, remark| NamedSpecies { id, name: self.name(id), remark };
        match find(typed, &self.known) {
            NameMatch::Accepted(id) => Ok(named(id, None)),
            NameMatch::Former { id, name, kind: NameKind::Former } => {
                Ok(named(id, Some(format!("“{name}” is now called {}", self.name(id)))))
            }
            NameMatch::Former { id, name, kind } => Ok(named(id, Some(format!("“{name}”, a {kind}, is taken as {}", self.name(id))))),
            NameMatch::Ambiguous { candidates, note } => Err(format!(
                "“{}” may mean more than one species ({note}). Find out which one is meant and write its accepted name; in this book it \
                 may be {}.",
                shortened(typed),
                self.names(&candidates)
            )),
            NameMatch::Unknown { near } if near.is_empty() => {
                Err(format!("No species in this book goes by “{}”. Check the spelling, or add the species first.", shortened(typed)))
            }
            NameMatch::Unknown { near } => {
                Err(format!("No species in this book goes by “{}”. Near it: {}.", shortened(typed), self.names(&near)))
            }
        }
    }

    fn name(&self, id: SpeciesId) -> String {
        self.accepted.get(&id).cloned().unwrap_or_default()
    }

    fn names(&self, ids: &[SpeciesId]) -> String {
        ids.iter().map(|id| self.name(*id)).collect::<Vec<_>>().join(", ")
    }

    /// The shelf of a room and a rack.
    ///
    /// # Errors
    /// The cell's column and what to change: which rooms, racks or shelves there are.
    pub fn shelf(&self, room: &str, rack: &str, number: i64) -> Result<ShelfId, (&'static str, String)> {
        let (room_key, rack_key) = (fold(room), fold(rack));
        if let Some(id) = self.shelves.get(&(room_key.clone(), rack_key.clone(), number)) {
            return Ok(*id);
        }
        let list =
            |names: BTreeSet<&str>| if names.is_empty() { "none".to_owned() } else { names.into_iter().collect::<Vec<_>>().join(", ") };
        let in_room = self.shelves.keys().filter(|(known, _, _)| *known == room_key);
        if in_room.clone().next().is_none() {
            let rooms = list(self.shelves.keys().map(|(known, _, _)| known.as_str()).collect());
            return Err(("room", format!("No room with a rack is called “{}”. There are: {rooms}.", shortened(room))));
        }
        let in_rack = in_room.clone().filter(|(_, known, _)| *known == rack_key).count();
        if in_rack == 0 {
            let racks = list(in_room.map(|(_, known, _)| known.as_str()).collect());
            return Err(("rack", format!("No rack of this room is called “{}”. There are: {racks}.", shortened(rack))));
        }
        Err(("shelf", format!("This rack has {in_rack} shelves, and none is number {number}.")))
    }
}

fn fold(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

fn shortened(typed: &str) -> String {
    typed.chars().take(60).collect()
}
