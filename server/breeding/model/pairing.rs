//! A pairing, and each time that the two were put together.

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, IntroductionId, MemberId, PairingId, SpeciesId};
use crate::house::text;
use crate::reckoning::breeding::{Insertion, IntroductionEnd, Pairing};

/// A pairing with its two, and how it stands by what happened.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct PairingRow {
    /// Its id.
    pub id: PairingId,
    /// The female.
    pub dam_id: AnimalId,
    /// Her tag.
    pub dam_tag: String,
    /// Whether she is in the house.
    pub dam_alive: bool,
    /// The male.
    pub sire_id: AnimalId,
    /// His tag.
    pub sire_tag: String,
    /// Whether he is in the house.
    pub sire_alive: bool,
    /// Their species.
    pub species_id: SpeciesId,
    /// Its name.
    pub species: String,
    /// The day it was planned; for one that was in the book before there were introductions, the day of that one.
    pub paired_on: NaiveDate,
    /// In what their lines differ, which follows their young; empty when they do not.
    pub mixed: String,
    /// What spoke against it when it was planned, one sentence a line.
    pub warnings: String,
    /// A note.
    pub note: String,
    /// How often the two were put together.
    pub introductions: i64,
    /// The first time.
    pub first_on: Option<NaiveDate>,
    /// The last time.
    pub last_on: Option<NaiveDate>,
    /// Whether an insertion was ever seen.
    pub insertion_seen: bool,
    /// The dam's first moult after the last time, which makes it void.
    pub void_since: Option<NaiveDate>,
    /// The day from which a sac is waited for; none when it is void or they were never put together.
    pub waited_from: Option<NaiveDate>,
}

impl PairingRow {
    /// How it stands, in words.
    #[must_use]
    pub fn standing(&self) -> String {
        match (self.introductions, self.void_since) {
            (0, _) => "planned, not introduced yet".to_owned(),
            (_, Some(moult)) => format!("void: she moulted on {}", text::day(&moult)),
            _ => "standing".to_owned(),
        }
    }

    /// The last introduction, or the day it was planned.
    #[must_use]
    pub fn latest(&self) -> NaiveDate {
        self.last_on.unwrap_or(self.paired_on)
    }

    /// Whether stored sperm of it may still be there.
    #[must_use]
    pub fn stands(&self) -> bool {
        self.introductions > 0 && self.void_since.is_none()
    }

    /// Whether an introduction can still be written down here: it has not been made void.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.void_since.is_none()
    }

    /// What spoke against it when it was planned.
    pub fn warned_of(&self) -> impl Iterator<Item = &str> {
        self.warnings.lines()
    }
}

/// A checked pairing.
#[derive(Debug, Clone)]
pub struct NewPairing {
    /// The female.
    pub dam: AnimalId,
    /// The male.
    pub sire: AnimalId,
    /// The day it is planned on.
    pub day: NaiveDate,
    /// A note; may be empty.
    pub note: String,
    /// Whether whoever plans it goes on although their lines differ.
    pub accept_mixed: bool,
}

/// One time that the two of a pairing were put together.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Introduction {
    /// Its id.
    pub id: IntroductionId,
    /// Its pairing.
    pub pairing_id: PairingId,
    /// The female.
    pub dam_id: AnimalId,
    /// The male.
    pub sire_id: AnimalId,
    /// His tag.
    pub sire_tag: String,
    /// The local day.
    pub day: NaiveDate,
    /// When it began, where somebody noted the hour.
    pub began_at: Option<DateTime<Utc>>,
    /// What was seen of his palps.
    pub insertion: Insertion,
    /// How it ended.
    pub outcome: IntroductionEnd,
    /// A note.
    pub note: String,
    /// Who did it.
    pub member_name: Option<String>,
    /// Who stood by.
    pub second_name: Option<String>,
    /// Why it was struck out, when it was.
    pub struck: Option<String>,
}

impl Introduction {
    /// As the reckoning takes it.
    #[must_use]
    pub fn as_pairing(&self) -> (Pairing, Insertion) {
        (Pairing { id: self.id.0, sire: self.sire_id.0, on: self.day }, self.insertion)
    }
}

/// A checked introduction.
#[derive(Debug, Clone)]
pub struct NewIntroduction {
    /// Its pairing.
    pub pairing: PairingId,
    /// The local day.
    pub day: NaiveDate,
    /// When it began.
    pub began_at: DateTime<Utc>,
    /// What was seen of his palps.
    pub insertion: Insertion,
    /// How it ended.
    pub outcome: IntroductionEnd,
    /// Who stood by, where it takes two.
    pub second: Option<MemberId>,
    /// A note; may be empty.
    pub note: String,
}

/// A male that may have sired a sac.
#[derive(Debug, Clone)]
pub struct SireCandidate {
    /// The male.
    pub id: AnimalId,
    /// His tag.
    pub tag: String,
    /// His first introduction that counts.
    pub first_on: NaiveDate,
    /// The most that was seen of him.
    pub insertion: Insertion,
    /// In what his line and the dam's differ; empty when they do not.
    pub mixed: String,
}

/// Young whose parents' lines differ, or may.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MixedLine {
    /// In what they differ: `Colima and not known`.
    pub words: String,
    /// Whether every male that may be the sire differs, so that it is sure.
    pub sure: bool,
}

impl MixedLine {
    /// As pages and papers say it.
    #[must_use]
    pub fn sentence(&self) -> String {
        let is = if self.sure { "Mixed lines" } else { "Perhaps mixed lines, as the sire is not sure" };
        format!("{is}: {}.", self.words)
    }
}

/// What a moult made void.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Voided {
    /// The female.
    pub dam: AnimalId,
    /// What to tell whoever records the moult, in sentences.
    pub words: String,
}

impl Voided {
    /// Where she is paired again.
    #[must_use]
    pub fn again(&self) -> String {
        crate::house::paths::pair_with(&self.dam)
    }
}

/// A female whose pairing a moult made void, and who was not paired again since.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct PairAgain {
    /// The female.
    pub dam_id: AnimalId,
    /// Her tag.
    pub dam_tag: String,
    /// Her species.
    pub species: String,
    /// The last male.
    pub sire_id: AnimalId,
    /// His tag.
    pub sire_tag: String,
    /// Whether he is in the house.
    pub sire_alive: bool,
    /// The moult.
    pub moulted_on: NaiveDate,
}
