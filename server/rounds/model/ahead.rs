//! The days ahead: what falls due, who would do it, and what can't be done.

use chrono::NaiveDate;

use crate::house::ids::{AnimalId, CohortId, MemberId, RackId, SacId};
use crate::house::paths;
use crate::reckoning::planner::{ComingDuty, SubjectKind};
use crate::reckoning::rota::ComingDay;

/// A duty of a coming day, with its subject and place in words.
#[derive(Debug, Clone)]
pub struct Coming {
    /// The duty.
    pub coming: ComingDuty,
    /// The tag, code or number of its subject.
    pub label: String,
    /// Its species.
    pub species: String,
    /// The rack.
    pub rack: Option<RackId>,
    /// Where it stands: room and rack.
    pub place: String,
}

impl Coming {
    /// The page of its subject.
    #[must_use]
    pub fn subject_path(&self) -> String {
        let subject = self.coming.duty.subject;
        match subject.kind {
            SubjectKind::Animal => paths::animal(&AnimalId(subject.id)),
            SubjectKind::Cohort => paths::cohort(&CohortId(subject.id)),
            SubjectKind::Sac => paths::sac(&SacId(subject.id)),
            SubjectKind::Room => paths::ROOMS.to_owned(),
        }
    }
}

/// Somebody on a coming day.
#[derive(Debug, Clone)]
pub struct OnComingDay {
    /// Who.
    pub member: MemberId,
    /// Their name.
    pub name: String,
    /// Minutes that they have for duties; none when they are not in.
    pub minutes: u32,
    /// Why they are not in; none when they are.
    pub why_not: Option<String>,
}

/// A coming day: its duties, who is in, and how it would be shared out.
#[derive(Debug, Clone)]
pub struct Ahead {
    /// The day.
    pub day: NaiveDate,
    /// Its duties.
    pub duties: Vec<Coming>,
    /// Everybody who looks after animals.
    pub people: Vec<OnComingDay>,
    /// How the rota would share it out.
    pub shared: ComingDay,
}

impl Ahead {
    /// Minutes of duties that somebody would have, and out of how many; nothing when they are not in.
    #[must_use]
    pub fn load(&self, member: &MemberId) -> Option<(u64, u64)> {
        let id = member.to_string();
        self.shared.loads.iter().find(|load| load.person == id).map(|load| (load.minutes, load.of))
    }
}
