//! One stop of a round: a duty with what to know before opening, and the buttons that fit it.

use chrono::NaiveDate;

use crate::house::layout::Choice;
use crate::reckoning::hazard::cautions_text;
use crate::reckoning::planner::SubjectKind;
use crate::reckoning::words::{DutyKind, Exposure, LossCause, MoultState};
use crate::rounds::model::prey::UsualBook;
use crate::rounds::model::{Duty, Outcome};
use crate::rounds::store::Known;

/// A duty as a round shows it.
pub(super) struct Stop {
    pub(super) duty: Duty,
    pub(super) cautions: Vec<String>,
    pub(super) late: bool,
    pub(super) buttons: Vec<(Outcome, &'static str)>,
    /// What its own page is for, where one tap is not enough.
    pub(super) own_page: Option<&'static str>,
    /// The stages at which a cohort stands, with how many at each.
    pub(super) stages: Vec<Choice>,
    /// What it is usually given, for a feed.
    pub(super) prey: Option<String>,
}

impl Stop {
    pub(super) fn new(duty: Duty, known: &Known, today: NaiveDate) -> Self {
        let key = duty.subject();
        let stages = known.cohort(key).map_or_else(Vec::new, |facts| {
            facts.counts.iter().map(|(stage, count)| Choice::new(stage.code(), format!("{stage} ({count})"))).collect()
        });
        Self {
            cautions: known.hazard(key).map(cautions_text).unwrap_or_default(),
            late: duty.is_late(&today),
            buttons: buttons(&duty, known.moult_state(key)),
            own_page: own_page(&duty),
            stages,
            prey: None,
            duty,
        }
    }

    /// With what it is usually given, if it is to be fed.
    pub(super) fn fed(self, usual: &UsualBook) -> Self {
        let wanted = self.duty.kind == DutyKind::Feed && !usual.kinds.is_empty();
        let prey = wanted.then(|| match usual.of(self.duty.subject()) {
            Some(usual) => {
                let killed = if usual.offer.killed { ", pre-killed" } else { "" };
                format!("{} × {}{killed}", usual.offer.each, usual.label)
            }
            None => "nothing of the list is small enough".to_owned(),
        });
        Self { prey, ..self }
    }

    /// The causes that a death can have: not an escape, and “not known” first.
    pub(super) fn causes(&self) -> Vec<Choice> {
        causes()
    }

    /// Whether breaking off is one of its ends.
    pub(super) fn can_be_broken_off(&self) -> bool {
        self.duty.kind == DutyKind::Rehouse && self.is_animal()
    }

    pub(super) fn is_animal(&self) -> bool {
        self.duty.subject().kind == SubjectKind::Animal
    }

    /// Whether there is no spider in it that could die or threaten: a sac, or a room.
    pub(super) fn is_lifeless(&self) -> bool {
        matches!(self.duty.subject().kind, SubjectKind::Sac | SubjectKind::Room)
    }

    /// Where it is told why it is due; not for rooms.
    pub(super) fn why_path(&self) -> Option<String> {
        (self.duty.room_id.is_none()).then(|| format!("{}/due", self.duty.subject_path()))
    }

    pub(super) fn is_cohort(&self) -> bool {
        self.duty.subject().kind == SubjectKind::Cohort
    }

    /// Where an incident with it is recorded.
    pub(super) fn incident_path(&self) -> String {
        let subject = match (self.duty.animal_id, self.duty.cohort_id) {
            (Some(animal), _) => format!("animal={animal}&"),
            (None, Some(cohort)) => format!("cohort={cohort}&"),
            (None, None) => String::new(),
        };
        format!("/handling/incidents/new?{subject}duty={}", self.duty.id)
    }
}

/// The causes that a death can have, “not known” first; an escape is recorded as an incident.
pub(super) fn causes() -> Vec<Choice> {
    let other = LossCause::ALL.iter().filter(|cause| !matches!(cause, LossCause::Unknown | LossCause::Escape | LossCause::Infertile));
    std::iter::once(&LossCause::Unknown).chain(other).map(|cause| Choice::new(cause.code(), cause)).collect()
}

/// The one-tap ways to end a duty; none while it is held, or where it takes more than a tap.
fn buttons(duty: &Duty, state: MoultState) -> Vec<(Outcome, &'static str)> {
    if duty.held.is_some() || duty.needs_checklist() {
        return Vec::new();
    }
    let cohort = duty.cohort_id.is_some();
    match duty.kind {
        DutyKind::Feed if cohort => vec![(Outcome::Took, "All took it")],
        DutyKind::Feed => vec![(Outcome::Took, "Took it"), (Outcome::Refused, "Refused"), (Outcome::LeftIn, "Left in")],
        DutyKind::ClearUneaten => vec![(Outcome::Took, "Eaten meanwhile"), (Outcome::Refused, "Taken out")],
        DutyKind::MoultCheck if cohort => vec![(Outcome::Normal, "No change")],
        DutyKind::MoultCheck => match state {
            MoultState::Normal => {
                vec![(Outcome::Normal, "No change"), (Outcome::PreMoult, "Pre-moult"), (Outcome::Moulting, "Moulting now")]
            }
            MoultState::PreMoult => {
                vec![(Outcome::PreMoult, "Still in pre-moult"), (Outcome::Moulting, "Moulting now"), (Outcome::Normal, "Normal again")]
            }
            MoultState::Moulting => vec![(Outcome::Moulting, "Still moulting")],
        },
        DutyKind::Water | DutyKind::SpotClean | DutyKind::SacCheck => vec![(Outcome::Done, "Done")],
        DutyKind::SacTurn => vec![(Outcome::Done, "Turned")],
        DutyKind::Rehouse | DutyKind::CohortCount | DutyKind::RoomReading => Vec::new(),
    }
}

fn own_page(duty: &Duty) -> Option<&'static str> {
    if duty.held.is_some() {
        return None;
    }
    match duty.kind {
        DutyKind::Feed if duty.cohort_id.is_some() => Some("Enter the figures"),
        DutyKind::MoultCheck if duty.cohort_id.is_some() => Some("Moulted or dead"),
        DutyKind::MoultCheck => Some("Moulted"),
        DutyKind::Rehouse => Some("Rehouse"),
        DutyKind::CohortCount => Some("Count"),
        DutyKind::SacCheck if duty.exposure == Exposure::HandsIn => Some("Check or pull"),
        DutyKind::SacCheck if duty.exposure == Exposure::Open => Some("Legs are out"),
        DutyKind::SacTurn => Some("Legs are out"),
        DutyKind::RoomReading => Some("Read"),
        _ => None,
    }
}
