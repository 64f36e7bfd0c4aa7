//! A cohort with all that was split off it, and how they fare beside their sisters.

use chrono::NaiveDate;

use crate::house::ids::CohortId;
use crate::reckoning::ledger::Line;
use crate::reckoning::life_table::{LifeTable, StageRow, life_table, stages_of_ledger};
use crate::reckoning::scorecard::Brood;
use crate::reckoning::stage::Stage;
use crate::reckoning::survival::{
    CohortError, CohortFollowed, Followed, Group, Origin, OriginDays, Survival, TaggedEnd, Verdict, followed_from_ledger, kaplan_meier,
    log_rank,
};

/// A cohort and what was split off it, as one.
#[derive(Debug, Clone)]
pub struct Family {
    /// The code of the cohort that the others were split from.
    pub code: String,
    /// The day from which it is counted.
    pub started_on: NaiveDate,
    /// When its sac was laid and when it was separated.
    pub days: OriginDays,
    /// The cohorts that it is kept as, the oldest first.
    pub members: Vec<CohortId>,
    /// Their ledgers as one; what went over from one to another has not left.
    pub lines: Vec<Line>,
    /// What became of those that were tagged.
    pub tagged: Vec<TaggedEnd>,
}

impl Family {
    /// The family as it can be followed from an origin.
    ///
    /// # Errors
    /// An origin whose day isn't known, or that none has reached; nobody to follow.
    pub fn followed(&self, origin: Origin, today: NaiveDate) -> Result<CohortFollowed, CohortError> {
        followed_from_ledger(&self.lines, &self.tagged, origin, self.days, today)
    }

    /// The family as a brood, for its scorecard.
    #[must_use]
    pub fn brood(&self) -> Brood {
        Brood {
            code: self.code.clone(),
            started_on: self.started_on,
            days: self.days,
            lines: self.lines.clone(),
            tagged: self.tagged.clone(),
        }
    }

    /// The stages of its ledger as a life table; nothing when it does not add up. Eggs of which none went on are left out:
    /// only the bad ones were ever counted, and beside them the others would seem to rise from the dead.
    #[must_use]
    pub fn life_table(&self) -> Option<LifeTable> {
        let rows = stages_of_ledger(&self.lines).ok()?.into_iter().filter(|row| !is_bad_eggs(row));
        life_table(&rows.collect::<Vec<_>>()).ok()
    }

    /// How many eggs were found bad, when none of those that were counted as eggs went on.
    #[must_use]
    pub fn bad_eggs(&self) -> u32 {
        let rows = stages_of_ledger(&self.lines).unwrap_or_default();
        rows.iter().filter(|row| is_bad_eggs(row)).map(|row| row.entered).sum()
    }
}

fn is_bad_eggs(row: &StageRow) -> bool {
    row.stage == Stage::Egg && row.lost.iter().map(|of| of.count).sum::<u32>() == row.entered
}

/// How a family fares, and how its sisters do: the other families of its species in this house.
#[derive(Debug, Clone)]
pub struct Fare {
    /// Whom it follows, since when.
    pub followed: CohortFollowed,
    /// Its survival.
    pub survival: Survival,
    /// The survival of its sisters together, as far as there are any.
    pub sisters: Option<Survival>,
    /// The codes of the sisters.
    pub sister_codes: Vec<String>,
    /// What the log-rank test says of it against its sisters.
    pub verdict: Option<Verdict>,
}

impl Fare {
    /// Reckons how one family fares beside the others.
    ///
    /// # Errors
    /// As [`Family::followed`] for the family itself; sisters that can't be followed from that origin are left out.
    pub fn of(own: &Family, others: &[&Family], origin: Origin, today: NaiveDate) -> Result<Self, CohortError> {
        let followed = own.followed(origin, today)?;
        let survival = kaplan_meier(&followed.followed, None).map_err(|_| CohortError::Nobody)?;
        let (mut pooled, mut sister_codes) = (Followed::default(), Vec::new());
        for other in others {
            if let Ok(other_followed) = other.followed(origin, today) {
                pooled.entries.extend(other_followed.followed.entries);
                pooled.ends.extend(other_followed.followed.ends);
                sister_codes.push(other.code.clone());
            }
        }
        let sisters = kaplan_meier(&pooled, None).ok();
        let verdict = sisters.is_some().then(|| verdict(&followed.followed, &pooled)).flatten();
        Ok(Self { followed, survival, sisters, sister_codes, verdict })
    }
}

fn verdict(own: &Followed, pooled: &Followed) -> Option<Verdict> {
    let group = |label: &str, followed: &Followed| Group { label: label.to_owned(), followed: followed.clone() };
    log_rank(&[group("own", own), group("sisters", pooled)]).ok()?.verdict(0)
}
