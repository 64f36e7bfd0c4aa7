//! Which of the open duties a list shows, and what it says of itself.

use chrono::NaiveDate;

use crate::house::ids::{MemberId, RackId};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::Duty;

coded_enum! {
    /// What a list of duties is narrowed to.
    Only, "list of duties" {
        Late = "late", "late ones";
        Held = "held", "those on hold";
        Unassigned = "unassigned", "those that nobody has";
        Two = "two", "those for two people";
    }
}

/// Whose duties.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// Nobody's.
    Nobody,
    /// One person's, as the first or the second.
    Member(MemberId),
}

impl std::str::FromStr for Who {
    type Err = std::num::ParseIntError;
    fn from_str(given: &str) -> Result<Self, Self::Err> {
        if given == "nobody" { Ok(Self::Nobody) } else { given.parse().map(Self::Member) }
    }
}

/// What a list is narrowed to.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// Whose.
    pub who: Option<Who>,
    /// In one rack; 0 for what stands nowhere.
    pub rack: Option<RackId>,
    /// Of one kind.
    pub kind: Option<DutyKind>,
    /// Only some.
    pub only: Option<Only>,
}

impl Filter {
    /// Whether a duty is on the list.
    #[must_use]
    pub fn takes(&self, duty: &Duty, today: &NaiveDate) -> bool {
        let theirs = match self.who {
            None => true,
            Some(Who::Nobody) => duty.assigned_to.is_none(),
            Some(Who::Member(id)) => [duty.assigned_to, duty.second_to].contains(&Some(id)),
        };
        let one_of = match self.only {
            None => true,
            Some(Only::Late) => duty.is_late(today),
            Some(Only::Held) => duty.held.is_some(),
            Some(Only::Unassigned) => duty.assigned_to.is_none(),
            Some(Only::Two) => duty.takes_two(),
        };
        let there = self.rack.is_none_or(|rack| duty.rack_id.unwrap_or(RackId(0)) == rack);
        theirs && one_of && there && self.kind.is_none_or(|kind| kind == duty.kind)
    }

    /// What the list shows, in words: `Late duties: feed, of Bo, in Quiet room · B`.
    #[must_use]
    pub fn heading(&self, who: Option<&str>, rack: Option<&str>) -> String {
        let base = match self.only {
            None => "Open duties",
            Some(Only::Late) => "Late duties",
            Some(Only::Held) => "Duties on hold",
            Some(Only::Unassigned) => "Duties that nobody has",
            Some(Only::Two) => "Duties for two people",
        };
        let whose = match self.who {
            None => None,
            Some(Who::Nobody) => Some("with nobody".to_owned()),
            Some(Who::Member(_)) => Some(format!("of {}", who.unwrap_or("somebody who is not here"))),
        };
        let kind = self.kind.map(|kind| kind.label().to_lowercase());
        let place = self.rack.map(|_| rack.map_or_else(|| "in a rack with nothing due".to_owned(), |rack| format!("in {rack}")));
        let parts: Vec<String> = [kind, whose, place].into_iter().flatten().collect();
        if parts.is_empty() { base.to_owned() } else { format!("{base}: {}", parts.join(", ")) }
    }
}
