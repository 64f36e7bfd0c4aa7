//! What is typed when the climate of a room is read: a line for each of its racks.

use serde::Deserialize;

use crate::house::forms::{Check, Mistakes};
use crate::house::ids::RackId;
use crate::rounds::model::{Detail, Duty, NewSignoff, Outcome, RackReading};

/// One line for each rack; lines left empty are racks that were not read.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct ReadingsForm {
    rack: Vec<String>,
    celsius: Vec<String>,
    humidity: Vec<String>,
}

impl ReadingsForm {
    pub(super) fn check(&self, duty: &Duty) -> Result<NewSignoff, Mistakes> {
        let mut check = Check::new();
        let mut readings = Vec::new();
        for (line, rack) in self.rack.iter().enumerate() {
            let Some(rack) = check.choice::<RackId>("celsius", rack) else { continue };
            let decicelsius = check.optional_tenths("celsius", at(&self.celsius, line), -200..=600);
            let humidity = check.optional_whole("humidity", at(&self.humidity, line), 1..=100);
            if decicelsius.is_some() || humidity.is_some() {
                readings.push(RackReading { rack, decicelsius, humidity });
            }
        }
        if check.ok() && readings.is_empty() {
            check.add("celsius", "Enter what at least one instrument of the room shows.");
        }
        if !check.ok() {
            return Err(check.mistakes());
        }
        Ok(NewSignoff::plain(duty.id, Outcome::Done).with(Detail::Readings(readings)))
    }

    pub(super) fn typed_celsius(&self, line: &usize) -> &str {
        at(&self.celsius, *line)
    }

    pub(super) fn typed_humidity(&self, line: &usize) -> &str {
        at(&self.humidity, *line)
    }
}

fn at(column: &[String], line: usize) -> &str {
    column.get(line).map_or("", String::as_str)
}
