//! Animals as they are given from outside.

use std::fmt;

use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::reckoning::pedigree::Individual;

/// An id as text or as a whole number. The number 7 and the text "7" are one id.
#[derive(Debug, Clone, Default)]
pub(super) struct Id {
    text: String,
    is_number: bool,
}

impl PartialEq for Id {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

impl Eq for Id {}

impl PartialOrd for Id {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Id {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.text.cmp(&other.text)
    }
}

impl std::hash::Hash for Id {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.text.hash(state);
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl Serialize for Id {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.text.parse::<i64>() {
            Ok(number) if self.is_number => serializer.serialize_i64(number),
            _ => serializer.serialize_str(&self.text),
        }
    }
}

impl<'de> Deserialize<'de> for Id {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(IdVisitor)
    }
}

struct IdVisitor;

impl Visitor<'_> for IdVisitor {
    type Value = Id;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an id: text or a whole number")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Id, E> {
        Ok(Id { text: text.to_owned(), is_number: false })
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Id, E> {
        Ok(Id { text: number.to_string(), is_number: true })
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<Id, E> {
        i64::try_from(number).map_err(|_| E::custom("is too large for an id")).and_then(|number| self.visit_i64(number))
    }
}

/// An animal of a pedigree.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Animal {
    id: Id,
    dam: Option<Id>,
    sire: Option<Id>,
}

impl From<Animal> for Individual<Id> {
    fn from(animal: Animal) -> Self {
        Self { id: animal.id, dam: animal.dam, sire: animal.sire }
    }
}

/// The animals of a pedigree.
pub(super) fn individuals(animals: Vec<Animal>) -> Vec<Individual<Id>> {
    animals.into_iter().map(Individual::from).collect()
}
