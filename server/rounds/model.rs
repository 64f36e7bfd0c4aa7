//! Duties, sign-offs and what they ask of people.

pub mod ahead;
pub mod apart;
pub mod arrival;
pub mod finding;
pub mod list;
pub mod passing;
pub mod prey;
pub mod share;
pub mod why;

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};

use crate::animals::model::{Enclosure, NewSpan};
use crate::handling::model::AssessmentOutcome;
use crate::house::ids::{AnimalId, CohortId, DutyId, MemberId, RackId, RoomId, SacId, ShelfId, SignoffId};
use crate::house::paths;
use crate::reckoning::hazard::Requirement;
use crate::reckoning::planner::{SubjectKey, SubjectKind};
use crate::reckoning::stage::Stage;
use crate::reckoning::who_may::Part;
use crate::reckoning::words::{DutyKind, Exposure, LossCause, MealOutcome, MoultState};
use crate::rounds::model::arrival::Arrival;

pub use prey::FromStock;

coded_enum! {
    /// How a duty ended.
    Outcome, "outcome" {
        Took = "took", "took it";
        Refused = "refused", "refused, prey taken out";
        LeftIn = "left-in", "prey left in";
        Normal = "normal", "no change";
        PreMoult = "pre-moult", "pre-moult";
        Moulting = "moulting", "moulting now";
        Moulted = "moulted", "moulted";
        Done = "done", "done";
        Counts = "counts", "counted";
        CouldNot = "could-not", "could not be done";
        FoundDead = "found-dead", "found dead";
        Threat = "threat", "showed threat";
        Aborted = "aborted", "broken off";
        Undone = "undone", "taken back";
    }
}

coded_enum! {
    /// Where a duty stands.
    DutyState, "state" {
        Open = "open", "open";
        Done = "done", "done";
        Dropped = "dropped", "no longer due";
    }
}

crate::text_columns! { Outcome, DutyState }

impl Outcome {
    /// Whether it says that the work was done: not that it could not be, nor what else was found.
    #[must_use]
    pub fn is_work(self) -> bool {
        !matches!(self, Self::CouldNot | Self::FoundDead | Self::Threat | Self::Aborted | Self::Undone)
    }

    /// What became of the prey, if that is what it says.
    #[must_use]
    pub fn meal(self) -> Option<MealOutcome> {
        match self {
            Self::Took => Some(MealOutcome::Took),
            Self::Refused => Some(MealOutcome::Refused),
            Self::LeftIn => Some(MealOutcome::LeftIn),
            _ => None,
        }
    }

    /// What was seen of a moult that is not over, if that is what it says.
    #[must_use]
    pub fn sign(self) -> Option<MoultState> {
        match self {
            Self::Normal => Some(MoultState::Normal),
            Self::PreMoult => Some(MoultState::PreMoult),
            Self::Moulting => Some(MoultState::Moulting),
            _ => None,
        }
    }

    /// Whether a duty of this kind for such a subject can end so.
    #[must_use]
    pub fn fits(self, kind: DutyKind, subject: SubjectKind) -> bool {
        let animal = subject == SubjectKind::Animal;
        match self {
            Self::CouldNot => true,
            Self::FoundDead | Self::Threat => animal || subject == SubjectKind::Cohort,
            Self::Took | Self::Refused => matches!(kind, DutyKind::Feed | DutyKind::ClearUneaten),
            Self::LeftIn => kind == DutyKind::Feed,
            Self::Normal => kind == DutyKind::MoultCheck,
            Self::PreMoult | Self::Moulting | Self::Moulted => kind == DutyKind::MoultCheck && animal,
            Self::Done => matches!(
                kind,
                DutyKind::Water | DutyKind::SpotClean | DutyKind::SacCheck | DutyKind::SacTurn | DutyKind::RoomReading | DutyKind::Rehouse
            ),
            Self::Counts => subject == SubjectKind::Cohort && matches!(kind, DutyKind::Feed | DutyKind::MoultCheck | DutyKind::CohortCount),
            Self::Aborted => kind == DutyKind::Rehouse && animal,
            Self::Undone => false,
        }
    }
}

/// A duty, with its subject and place in words.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Duty {
    /// Its id.
    pub id: DutyId,
    /// What is to be done.
    pub kind: DutyKind,
    /// The animal, when it is about one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, when it is about one.
    pub cohort_id: Option<CohortId>,
    /// The sac, when it is about one.
    pub sac_id: Option<SacId>,
    /// The room, when it is about one.
    pub room_id: Option<RoomId>,
    /// The tag, code or number of its subject.
    pub label: String,
    /// The accepted name of its species.
    pub species: String,
    /// Where it stands: room, rack and shelf.
    pub place: Option<String>,
    /// The shelf.
    pub shelf_id: Option<ShelfId>,
    /// The rack.
    pub rack_id: Option<RackId>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// The local day it fell due.
    pub due_on: NaiveDate,
    /// The last local day on which it is not late.
    pub late_after: NaiveDate,
    /// The instant it is due by, where hours matter.
    pub due_at: Option<DateTime<Utc>>,
    /// How long it takes each person, in seconds.
    pub seconds: i64,
    /// How near it brings hands.
    pub exposure: Exposure,
    /// The hazard band, 0 to 3.
    pub band: i64,
    /// The clearance needed, 0 to 3.
    pub clearance: i64,
    /// How many people.
    pub persons: i64,
    /// Why it is due, with figures.
    pub reason: String,
    /// Why it must wait, and until when.
    pub held: Option<String>,
    /// Where it stands.
    pub state: DutyState,
    /// Whose it is.
    pub assigned_to: Option<MemberId>,
    /// Their name.
    pub assigned_name: Option<String>,
    /// The second person, where it takes two and somebody has been named.
    pub second_to: Option<MemberId>,
    /// Their name.
    pub second_name: Option<String>,
}

impl Duty {
    /// What it is about.
    #[must_use]
    pub fn subject(&self) -> SubjectKey {
        let key = |kind, id| SubjectKey { kind, id };
        match (self.animal_id, self.cohort_id, self.sac_id) {
            (Some(animal), _, _) => key(SubjectKind::Animal, animal.0),
            (None, Some(cohort), _) => key(SubjectKind::Cohort, cohort.0),
            (None, None, Some(sac)) => key(SubjectKind::Sac, sac.0),
            (None, None, None) => key(SubjectKind::Room, self.room_id.map_or(0, |room| room.0)),
        }
    }

    /// Its subject as the audit trail names it: `animal 7`.
    #[must_use]
    pub fn subject_words(&self) -> String {
        let subject = self.subject();
        format!("{} {}", subject.kind.code(), subject.id)
    }

    /// The page of its subject.
    #[must_use]
    pub fn subject_path(&self) -> String {
        match (&self.animal_id, &self.cohort_id, &self.sac_id) {
            (Some(animal), _, _) => paths::animal(animal),
            (None, Some(cohort), _) => paths::cohort(cohort),
            (None, None, Some(sac)) => paths::sac(sac),
            (None, None, None) => paths::ROOMS.to_owned(),
        }
    }

    /// Whether it is late on a day.
    #[must_use]
    pub fn is_late(&self, today: &NaiveDate) -> bool {
        self.late_after < *today
    }

    /// What it asks of people.
    #[must_use]
    pub fn asked(&self) -> Requirement {
        let small = |number: i64| u8::try_from(number).unwrap_or(u8::MAX);
        Requirement { clearance: small(self.clearance), persons: small(self.persons) }
    }

    /// Whether it takes a second person and a list of tools.
    #[must_use]
    pub fn takes_two(&self) -> bool {
        self.persons >= 2
    }

    /// The work of everybody whom it takes, in seconds.
    #[must_use]
    pub fn work(&self) -> i64 {
        self.seconds * self.persons
    }

    /// Whether the list of tools must be ticked through: hands in at the highest band, or two people.
    #[must_use]
    pub fn needs_checklist(&self) -> bool {
        self.takes_two() || (self.exposure == Exposure::HandsIn && self.band >= 3)
    }

    /// Whether its sign-off may wait for the wireless: not what brings hands in, which needs a live answer.
    #[must_use]
    pub fn may_wait(&self) -> bool {
        self.exposure != Exposure::HandsIn
    }

    /// As messages name it: `Feed T-5`.
    #[must_use]
    pub fn name(&self) -> String {
        format!("{} {}", self.kind, self.label)
    }
}

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
        let rehoused = self.duty.kind == DutyKind::Rehouse && self.outcome == Outcome::Done;
        let died = self.duty.animal_id.is_some() && self.outcome == Outcome::FoundDead;
        !(rehoused || died)
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
    /// Whether it can be taken back at all: a death and a new enclosure can't be, they are put right on the animal's page.
    #[must_use]
    pub fn can_be_undone(&self) -> bool {
        let rehoused = self.kind == DutyKind::Rehouse && self.outcome == Outcome::Done;
        let died = self.of_animal && self.outcome == Outcome::FoundDead;
        !(self.taken_back || rehoused || died)
    }
}

/// A duty that somebody was not given, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// The duty as messages name it.
    pub name: String,
    /// Why.
    pub why: String,
}

/// What sharing out a rack did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Shared {
    /// How many duties the person has been given.
    pub given: usize,
    /// Those they have not.
    pub left_out: Vec<LeftOut>,
}

/// What planning changed: numbers of duties.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Planned {
    /// New ones.
    pub opened: usize,
    /// Those that stand open with another day, reason, band or hold than before.
    pub changed: usize,
    /// Those that are no longer due.
    pub dropped: usize,
}

impl Planned {
    /// Whether nothing changed, so that there is nothing to keep a record of.
    #[must_use]
    pub fn is_nothing(self) -> bool {
        self == Self::default()
    }

    pub(super) fn add(&mut self, other: Self) {
        self.opened += other.opened;
        self.changed += other.changed;
        self.dropped += other.dropped;
    }
}

impl std::fmt::Display for Planned {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} duties opened, {} changed, {} no longer due", self.opened, self.changed, self.dropped)
    }
}
