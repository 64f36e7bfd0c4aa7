//! The survival of a cohort out of its count ledger, continued through its tagged animals to their own ends.

mod tagged;
mod watch;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use self::tagged::OwnEnds;
use self::watch::Watch;
use super::Followed;
use crate::reckoning::calendar::written;
use crate::reckoning::ledger::{Bucket, LedgerError, Line, replay, standing};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;

coded_enum! {
    /// What day 0 of a cohort's survival is.
    Origin, "day 0" {
        Laid = "laid", "egg sac laid";
        FirstInstar = "first-instar", "first instar";
        SecondInstar = "second-instar", "second instar";
        Separation = "separation", "separation";
    }
}

impl Origin {
    /// The stage from which animals are followed.
    fn stage(self) -> Stage {
        match self {
            Self::Laid | Self::Separation => Stage::Egg,
            Self::FirstInstar => Stage::Instar(1),
            Self::SecondInstar => Stage::Instar(2),
        }
    }
}

/// The days that a ledger does not tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct OriginDays {
    /// The day on which the egg sac was laid.
    pub laid: Option<NaiveDate>,
    /// The day on which the spiderlings were separated.
    pub separated: Option<NaiveDate>,
}

/// What became of one animal that a line of the ledger tagged; without either day it is alive in the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct TaggedEnd {
    /// The number of the line that tagged it.
    pub line: i64,
    /// The day it died or escaped, and why. An escape is no death: it left.
    pub died_on: Option<(NaiveDate, LossCause)>,
    /// The day it left alive.
    pub left_on: Option<NaiveDate>,
}

/// A cohort as it can be followed. `entered` = `lost` + `left`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CohortFollowed {
    /// The entries and ends, in days since day 0. The entries are always given, so that cohorts with the same origin can be
    /// put together row by row.
    pub followed: Followed,
    /// The date of day 0.
    pub day_zero: NaiveDate,
    /// How many were followed.
    pub entered: u32,
    /// How many of them died.
    pub lost: u32,
    /// How many of them left, those alive today included.
    pub left: u32,
    /// How many of those that left are alive in the house today.
    pub alive: u32,
    /// How many of those that left escaped.
    pub escaped: u32,
    /// How many were tagged and then followed to their own ends.
    pub tagged: u32,
    /// All of this in one sentence.
    pub explanation: String,
}

/// Why a cohort can't be followed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CohortError {
    /// The ledger does not add up.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// Day 0 is the laying, and it isn't known.
    #[error("the day the egg sac was laid isn't known; enter it, or choose another day 0")]
    LaidNotKnown,
    /// Day 0 is the separation, and it isn't known.
    #[error("the day of separation isn't known; enter it, or choose another day 0")]
    SeparationNotKnown,
    /// Day 0 is a stage that none has reached.
    #[error("none had reached {stage} by {day}; choose an earlier day 0", day = written(*today))]
    NotReached {
        /// The stage.
        stage: Stage,
        /// The last day looked at.
        today: NaiveDate,
    },
    /// Day 0 has not come yet.
    #[error("day 0 would be {day}, which is still to come", day = written(*.0))]
    StillToCome(NaiveDate),
    /// A line from before the egg sac was laid.
    #[error("line {line} is from before {day}, when the egg sac was laid; check the days", day = written(*laid))]
    BeforeLaid {
        /// The line.
        line: i64,
        /// The day of laying.
        laid: NaiveDate,
    },
    /// Nobody was alive on day 0 or came in later.
    #[error("nobody was alive on day 0 or came in later; choose an earlier day 0")]
    Nobody,
    /// An animal from a line that tagged none.
    #[error("line {0} stands in the ledger as no line that tagged animals")]
    NotATagging(i64),
    /// More animals than the line tagged.
    #[error("line {line} tagged {quantity}, but {given} animals name it")]
    TooManyTagged {
        /// The line.
        line: i64,
        /// How many it tagged.
        quantity: u32,
        /// How many name it.
        given: usize,
    },
    /// An animal that both died and left alive.
    #[error("an animal tagged by line {0} has both died and left alive; give one of the two days")]
    TwoEnds(i64),
    /// An animal whose end is before it was tagged.
    #[error("an animal tagged by line {line} would have ended on {day}, before it was tagged; check the days", day = written(*day))]
    EndBeforeTagging {
        /// The line.
        line: i64,
        /// The day of the end.
        day: NaiveDate,
    },
    /// Once lines that were taken back are left out, fewer were there than went.
    #[error("without the lines that were taken back, more had gone by {day} than came in; check the days", day = written(*.0))]
    Short(NaiveDate),
    /// More than can be counted.
    #[error("more than {most} animals altogether; follow fewer", most = u32::MAX)]
    TooMany,
}

/// Follows a cohort from day 0 to today.
///
/// - An animal comes in on the day it reaches the stage of the origin, or comes in at that stage or beyond it; found
///   again or received later it comes in on that day. From the laying on it comes in when it is first counted. On the
///   day of separation all that were alive come in, tagged ones too if they were alive then.
/// - It is lost on the day its death was entered, which is the day it was found.
/// - It leaves when sold, moved, escaped, or counted wrong; those alive leave today.
/// - A tagged animal goes on to its own end. One that nobody has told an end of (fewer `tagged` than the line tagged)
///   leaves on the day it was tagged. One tagged before it reached the stage of the origin is not followed: the ledger
///   does not say when it did.
/// - Lines that were taken back count for nothing, and neither do lines or ends dated after today.
///
/// # Errors
/// A ledger that does not add up, a day 0 that isn't known or still to come, nobody to follow, tagged animals that do
/// not fit the ledger.
pub fn followed_from_ledger(
    lines: &[Line],
    tagged: &[TaggedEnd],
    origin: Origin,
    days: OriginDays,
    today: NaiveDate,
) -> Result<CohortFollowed, CohortError> {
    replay(lines)?;
    let lines = standing(lines);
    let ends = OwnEnds::of(&lines, tagged, today)?;
    let lines: Vec<&Line> = lines.into_iter().filter(|line| line.day <= today).collect();
    let day_zero = day_zero(&lines, origin, days, today)?;
    if let Some(line) = lines.iter().find(|line| origin == Origin::Laid && line.day < day_zero) {
        return Err(CohortError::BeforeLaid { line: line.id, laid: day_zero });
    }
    let mut watch = Watch::new(origin, day_zero, today);
    for line in lines {
        watch.line(line, ends.of_line(line.id));
    }
    watch.close()
}

fn day_zero(lines: &[&Line], origin: Origin, days: OriginDays, today: NaiveDate) -> Result<NaiveDate, CohortError> {
    let stage = origin.stage();
    let reached = |line: &&&Line| matches!(line.to, Bucket::Stage(at) if at >= stage);
    let day = match origin {
        Origin::Laid => days.laid.ok_or(CohortError::LaidNotKnown)?,
        Origin::Separation => days.separated.ok_or(CohortError::SeparationNotKnown)?,
        Origin::FirstInstar | Origin::SecondInstar => {
            let first = lines.iter().filter(reached).map(|line| line.day).min();
            first.ok_or(CohortError::NotReached { stage, today })?
        }
    };
    if day > today { Err(CohortError::StillToCome(day)) } else { Ok(day) }
}
