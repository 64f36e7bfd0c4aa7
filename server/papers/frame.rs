//! The frame that every paper but the first edition's sheets is set in: head, house, number, and the place of the strip.

use chrono::NaiveDate;

use super::model::PaperKind;
use crate::house::site::Site;
use crate::house::text;

/// What a paper's template takes as `frame`; the template begins with `{% extends "papers/frame.html" %}`.
#[derive(Debug, Clone)]
pub struct Frame {
    /// The house's name.
    pub house: String,
    /// The house's address, a line each.
    pub address: Vec<String>,
    /// What the paper is, as its title says it.
    pub what: String,
    /// Its number.
    pub number: String,
    /// What the head of every page says beside the number, such as the species; names no person.
    pub running: String,
    /// The local day.
    pub day: NaiveDate,
    /// The language it is written in, as BCP 47 says it.
    pub language: String,
}

impl Frame {
    /// The frame of an English paper of the house.
    #[must_use]
    pub fn of(site: &Site, kind: PaperKind, number: &str, day: NaiveDate, running: String) -> Self {
        Self {
            house: site.name.clone(),
            address: site.address.lines().map(str::to_owned).collect(),
            what: text::capitalised(kind.label()),
            number: number.to_owned(),
            running,
            day,
            language: "en-GB".to_owned(),
        }
    }
}
