//! Sign-offs: what is to be written, with what goes with each outcome, and what stands in the book.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};

use super::arrival::Arrival;
use super::prey::FromStock;
use super::{Duty, Outcome};
use crate::animals::model::{Enclosure, NewSpan};
use crate::handling::model::AssessmentOutcome;
use crate::house::ids::{DutyId, MemberId, RackId, ShelfId, SignoffId};
use crate::reckoning::stage::Stage;
use crate::reckoning::who_may::Part;
use crate::reckoning::words::{DutyKind, LossCause};

/// A sign-off to be written. Who signs is who writes.
#[derive(Debug, Clone)]
pub struct NewSignoff {
    /// The duty.
    pub duty: DutyId,
    /// How it ended.
    pub outcome: Outcome,
    /// Why it could not be done, or what else was seen.
    pub note: String,
    /// The second person, who has confirmed with their PIN.
    pub second: Option<MemberId>,
    /// The tools and steps that were ticked.
    pub checklist: Vec<String>,
    /// What goes with the outcome.
    pub detail: Detail,
    /// How it reached the book.
    pub arrival: Arrival,
}

impl NewSignoff {
    /// A sign-off with nothing but its outcome.
    #[must_use]
    pub fn plain(duty: DutyId, outcome: Outcome) -> Self {
        Self { duty, outcome, note: String::new(), second: None, checklist: Vec::new(), detail: Detail::None, arrival: Arrival::Live }
    }

    /// With what goes with the outcome.
    #[must_use]
    pub fn with(self, detail: Detail) -> Self {
        Self { detail, ..self }
    }

    /// That came otherwise than live from a signed-in person's page.
    #[must_use]
    pub fn by(self, arrival: Arrival) -> Self {
        Self { arrival, ..self }
    }
}

/// What goes with an outcome.
#[derive(Debug, Clone)]
pub enum Detail {
    /// Nothing.
    None,
    /// The prey that was offered, in words; from stock it took what is usual.
    Prey(String),
    /// The prey that was offered: a kind of the list, or none of it; with more in words.
    Offered {
        /// Where it came from.
        from_stock: FromStock,
        /// More about it.
        prey: String,
    },
    /// The moult that was found.
    Moult {
        /// Its local day.
        day: NaiveDate,
        /// Whether the shed skin was kept.
        skin_kept: bool,
        /// A length taken after it.
        span: Option<NewSpan>,
    },
    /// The new enclosure and place.
    Rehouse {
        /// Its measures.
        enclosure: Enclosure,
        /// Its shelf.
        shelf: Option<ShelfId>,
        /// Its position on the shelf.
        position: Option<i64>,
        /// Why it is used although it breaks a rule of size; empty when it breaks none that the person knows of.
        despite: String,
        /// Whether one of the two was assessed by the other.
        assessed: Option<Assessed>,
    },
    /// What an animal died of.
    Death(LossCause),
    /// What was found in a cohort's vials.
    Group(Group),
    /// A cohort's full count, stage by stage.
    Count(BTreeMap<Stage, u32>),
    /// The sac was taken from its dam.
    Pulled,
    /// Legs are out: what is in the sac is no longer eggs.
    LegsOut,
    /// What the instruments of a room's racks show.
    Readings(Vec<RackReading>),
}

/// What a rack's thermometer and hygrometer show; at least one of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RackReading {
    /// The rack.
    pub rack: RackId,
    /// Temperature in tenths of a degree Celsius.
    pub decicelsius: Option<i64>,
    /// Relative humidity, %.
    pub humidity: Option<i64>,
}

/// How one of the two people of a rehouse did under the eyes of the other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assessed {
    /// Which of the two was assessed.
    pub who: Part,
    /// How it went.
    pub outcome: AssessmentOutcome,
    /// What was seen.
    pub note: String,
}

/// What was found in a cohort's vials.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Group {
    /// What was offered, in words.
    pub prey: String,
    /// From stock: as is usual for them, or as somebody chose.
    pub from_stock: FromStock,
    /// How many took it.
    pub took: u32,
    /// How many refused it, the prey taken out.
    pub refused: u32,
    /// In how many vials it was left.
    pub left_in: u32,
    /// How many were dead, at which stage, and why.
    pub dead: Vec<(Stage, u32, LossCause)>,
    /// How many moulted on from a stage to the next.
    pub moulted: Vec<(Stage, u32)>,
}

/// What a sign-off wrote.
#[derive(Debug, Clone)]
pub struct Signed {
    /// Its id.
    pub id: SignoffId,
    /// The duty as it stood before.
    pub duty: Duty,
    /// How it ended.
    pub outcome: Outcome,
    /// What to know now, such as when it may be fed or opened again.
    pub told: Option<String>,
}

impl Signed {
    /// In words: `Feed T-5: took it`.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{}: {}", self.duty.name(), self.outcome)
    }

    /// Whether whoever signed can take it back.
    #[must_use]
    pub fn can_be_undone(&self) -> bool {
        !is_for_good(self.duty.kind, self.duty.animal_id.is_some(), self.outcome)
    }
}

/// A sign-off as it stands in the book.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Signoff {
    /// Its id.
    pub id: SignoffId,
    /// Its duty.
    pub duty_id: DutyId,
    /// Who signed.
    pub member_id: MemberId,
    /// Their name.
    pub member_name: String,
    /// When it reached the book.
    pub at: DateTime<Utc>,
    /// When it was made, if it waited for the wireless.
    pub made_at: Option<DateTime<Utc>>,
    /// How the duty ended.
    pub outcome: Outcome,
    /// What the duty was.
    pub kind: DutyKind,
    /// The tag, code or number of its subject.
    pub label: String,
    /// Whether it is about one animal.
    pub of_animal: bool,
    /// Whether it was taken back.
    pub taken_back: bool,
}

impl Signoff {
    /// Whether it can be taken back at all.
    #[must_use]
    pub fn can_be_undone(&self) -> bool {
        !(self.taken_back || is_for_good(self.kind, self.of_animal, self.outcome))
    }
}

/// A death and a new enclosure can't be taken back: they are put right on the animal's page.
fn is_for_good(kind: DutyKind, of_animal: bool, outcome: Outcome) -> bool {
    (kind == DutyKind::Rehouse && outcome == Outcome::Done) || (of_animal && outcome == Outcome::FoundDead)
}
