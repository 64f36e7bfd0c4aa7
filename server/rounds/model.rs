//! Duties, sign-offs and what they ask of people.

pub mod ahead;
pub mod apart;
pub mod arrival;
pub mod finding;
pub mod list;
pub mod passing;
pub mod prey;
pub mod share;
mod signoff;
pub mod why;

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, CohortId, DutyId, MemberId, RackId, RoomId, SacId, ShelfId};
use crate::house::paths;
use crate::reckoning::hazard::Requirement;
use crate::reckoning::planner::{SubjectKey, SubjectKind};
use crate::reckoning::words::{DutyKind, Exposure, MealOutcome, MoultState};

pub use prey::FromStock;
pub use signoff::{Assessed, Detail, Group, NewSignoff, RackReading, Signed, Signoff};

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
