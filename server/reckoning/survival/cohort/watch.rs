//! Following the animals of a cohort through its lines.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::tagged::OwnEnd;
use super::{CohortError, CohortFollowed, Origin};
use crate::reckoning::calendar::{days_between, written};
use crate::reckoning::ledger::{Bucket, Line};
use crate::reckoning::survival::{End, Entry, Followed, Observation};
use crate::reckoning::words::LossCause;

/// Who is being followed.
pub(super) struct Watch {
    origin: Origin,
    day_zero: NaiveDate,
    today: NaiveDate,
    /// By day, how many more (or fewer) stand in the cohort at a stage that is followed.
    standing: BTreeMap<NaiveDate, i64>,
    entries: BTreeMap<u32, u64>,
    ends: BTreeMap<(u32, End), u64>,
    /// Of those that left.
    alive: u64,
    escaped: u64,
    /// Tagged animals followed to their own ends, those with no end told, and those tagged before the stage.
    tagged: u64,
    untold: u64,
    too_early: u64,
}

impl Watch {
    pub(super) fn new(origin: Origin, day_zero: NaiveDate, today: NaiveDate) -> Self {
        Self {
            origin,
            day_zero,
            today,
            standing: BTreeMap::new(),
            entries: BTreeMap::new(),
            ends: BTreeMap::new(),
            alive: 0,
            escaped: 0,
            tagged: 0,
            untold: 0,
            too_early: 0,
        }
    }

    /// Follows one line that stands, with the known ends of the animals it tagged.
    pub(super) fn line(&mut self, line: &Line, ends: &[OwnEnd]) {
        let stage = self.origin.stage();
        let followed = |bucket: Bucket| matches!(bucket, Bucket::Stage(at) if at >= stage);
        let quantity = i64::from(line.quantity);
        match (followed(line.from), followed(line.to)) {
            (false, true) => {
                *self.standing.entry(line.day).or_default() += quantity;
                self.came_in(line.day, line.quantity.into());
            }
            (true, false) => {
                *self.standing.entry(line.day).or_default() -= quantity;
                self.went(line, ends);
            }
            (false, false) if line.to == Bucket::Tagged => self.too_early += u64::from(line.quantity),
            _ => {}
        }
    }

    /// From day 0 on. What came in before it is followed by those standing on day 0: see `close`.
    fn came_in(&mut self, day: NaiveDate, count: u64) {
        if let Some(day) = self.since_zero(day).filter(|_| count > 0) {
            *self.entries.entry(day).or_default() += count;
        }
    }

    fn went(&mut self, line: &Line, ends: &[OwnEnd]) {
        let count = u64::from(line.quantity);
        match (line.to, line.cause) {
            (Bucket::Tagged, _) => self.went_on_tagged(line, ends),
            (Bucket::Lost, Some(LossCause::Escape)) => self.escaped += self.end(line.day, End::Left, count),
            (Bucket::Lost, _) => _ = self.end(line.day, End::Lost, count),
            _ => _ = self.end(line.day, End::Left, count),
        }
    }

    /// Animals that were tagged before day 0 come in on it if they were alive then.
    fn went_on_tagged(&mut self, line: &Line, ends: &[OwnEnd]) {
        let before = self.since_zero(line.day).is_none();
        for own_end in ends {
            let (day, event) = match *own_end {
                OwnEnd::Died(day) => (day, End::Lost),
                OwnEnd::Left(day) | OwnEnd::Escaped(day) => (day, End::Left),
                OwnEnd::Alive => (self.today, End::Left),
            };
            let noted = self.end(day, event, 1);
            self.tagged += noted;
            match own_end {
                OwnEnd::Alive => self.alive += noted,
                OwnEnd::Escaped(_) => self.escaped += noted,
                OwnEnd::Died(_) | OwnEnd::Left(_) => {}
            }
            if before {
                self.came_in(self.day_zero, noted);
            }
        }
        let told = u64::try_from(ends.len()).unwrap_or(u64::MAX);
        let untold = u64::from(line.quantity).saturating_sub(told);
        self.untold += self.end(line.day, End::Left, untold);
    }

    /// Notes an end, unless it was before day 0; how many it noted.
    fn end(&mut self, day: NaiveDate, event: End, count: u64) -> u64 {
        let Some(day) = self.since_zero(day).filter(|_| count > 0) else {
            return 0;
        };
        *self.ends.entry((day, event)).or_default() += count;
        count
    }

    fn since_zero(&self, day: NaiveDate) -> Option<u32> {
        u32::try_from(days_between(self.day_zero, day)).ok()
    }

    /// Lets those alive leave today, and adds up.
    pub(super) fn close(mut self) -> Result<CohortFollowed, CohortError> {
        let (mut standing, mut on_day_zero) = (0_i64, 0_i64);
        for (day, change) in &self.standing {
            standing += change;
            if standing < 0 {
                return Err(CohortError::Short(*day));
            }
            if *day < self.day_zero {
                on_day_zero = standing;
            }
        }
        let positive = |count: i64| u64::try_from(count).unwrap_or(0);
        self.came_in(self.day_zero, positive(on_day_zero));
        self.alive += self.end(self.today, End::Left, positive(standing));
        self.told()
    }

    fn told(self) -> Result<CohortFollowed, CohortError> {
        let of = |event: End| self.ends.iter().filter(|((_, ended), _)| *ended == event).map(|(_, count)| count).sum::<u64>();
        let (lost, left) = (of(End::Lost), of(End::Left));
        let entered: u64 = self.entries.values().sum();
        if entered == 0 {
            return Err(CohortError::Nobody);
        }
        let entries = self.entries.iter().map(|(day, count)| Ok(Entry { day: *day, count: whole(*count)? }));
        let ends = self.ends.iter().map(|((day, event), count)| Ok(Observation { day: *day, count: whole(*count)?, event: *event }));
        let followed = Followed { entries: entries.collect::<Result<_, CohortError>>()?, ends: ends.collect::<Result<_, CohortError>>()? };
        Ok(CohortFollowed {
            followed,
            day_zero: self.day_zero,
            entered: whole(entered)?,
            lost: whole(lost)?,
            left: whole(left)?,
            alive: whole(self.alive)?,
            escaped: whole(self.escaped)?,
            tagged: whole(self.tagged)?,
            explanation: self.explained(entered, lost, left),
        })
    }

    fn explained(&self, entered: u64, lost: u64, left: u64) -> String {
        let what = match self.origin {
            Origin::Laid => "when the egg sac was laid".to_owned(),
            Origin::Separation => "the day of separation".to_owned(),
            Origin::FirstInstar | Origin::SecondInstar => format!("when the first reached {}", self.origin.stage()),
        };
        let (zero, today, gone) = (written(self.day_zero), written(self.today), left.saturating_sub(self.alive));
        let mut said = format!("day 0 is {zero}, {what}; {entered} followed, {lost} lost, {gone} left, {} alive on {today}", self.alive);
        let mut add = |count: u64, words: &str| {
            if count > 0 {
                said.push_str(&format!("; {count} {words}"));
            }
        };
        add(self.escaped, "of those that left escaped");
        add(self.tagged, "tagged ones followed to their own ends");
        add(self.untold, "left when they were tagged, as no more is known of them");
        add(self.too_early, "tagged before that stage are not followed");
        said
    }
}

fn whole(count: u64) -> Result<u32, CohortError> {
    u32::try_from(count).map_err(|_| CohortError::TooMany)
}
