//! The end of an outing: out = sold + returned + dead + missing, and what that does to the stock.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::{lines, require_in};
use crate::animals;
use crate::animals::model::{AnimalStatus, NewMove};
use crate::cohorts;
use crate::cohorts::model::{NewCohortMove, NewLine, NewSplit};
use crate::handling;
use crate::handling::model::{HoldSubject, NewHold};
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{AnimalId, CohortId, OutingId};
use crate::house::write::Write;
use crate::reckoning::outing::{Line, reconcile as add_up};
use crate::reckoning::words::{Exposure, HoldKind, LossCause};
use crate::sales::model::{Back, BackHome, Item, Lot, Outing, OutingLine, OutingState, ReservationEnd};
use crate::sales::store::{reserved, road};

/// What a reconciliation touched: its duties are to be planned anew.
#[derive(Debug, Default)]
pub struct Reconciled {
    /// The animals that came back, died or are missing.
    pub animals: Vec<AnimalId>,
    /// The cohorts, those that were made for what came back among them.
    pub cohorts: Vec<CohortId>,
    /// The sum of all lines in words.
    pub total: String,
}

/// Reconciles an outing: what died and what is missing is entered, and what came back stands apart.
///
/// # Errors
/// Lines that do not add up, each with its difference; a line that is not counted; an outing that is not out; a handover of it
/// that is still being made ready.
pub async fn reconcile(write: &mut Write, id: OutingId, counted: &[Back], home: &BackHome) -> Result<Reconciled, AppError> {
    let outing = require_in(write.db(), id, OutingState::Out).await?;
    let drafts: i64 =
        sqlx::query_scalar("SELECT COUNT(*) FROM handover WHERE outing_id = ? AND state = 'draft'").bind(id).fetch_one(write.db()).await?;
    if drafts > 0 {
        return Err(AppError::refused("", "A handover of this outing is still being made ready. Hand over or cancel it first."));
    }
    let lines = lines(write.db(), id).await?;
    let total = check(&lines, counted)?;
    let until_at = road::end_of(write.zone, home.apart_until)?;
    reserved::end_of_outing(write, id, ReservationEnd::Released).await?;
    let mut homecoming = Homecoming { outing: &outing, home, until_at, done: Reconciled { total, ..Reconciled::default() } };
    homecoming.lose(write, &lines, counted).await?;
    homecoming.bring_home(write, &lines, counted).await?;
    let mut done = homecoming.done;
    done.animals.sort_unstable();
    done.animals.dedup();
    done.cohorts.sort_unstable();
    done.cohorts.dedup();
    let (who, at) = (write.who, write.at);
    sqlx::query("UPDATE outing SET state = 'reconciled', back_at = ?, back_by = ?, version = version + 1 WHERE id = ?")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(done)
}

/// Holds what was counted to what went out; gives the sum of all lines in words.
fn check(lines: &[OutingLine], counted: &[Back]) -> Result<String, AppError> {
    let mut mistakes = Mistakes::none();
    let mut sums: Vec<Line> = Vec::new();
    for line in lines {
        match counted.iter().find(|back| back.line == line.id) {
            Some(back) => sums.push(line.counted(back)),
            None => mistakes.add("counts", format!("{} is not counted yet.", line.words())),
        }
    }
    let sums = add_up(&sums);
    for line in sums.lines.iter().filter(|line| line.difference != 0) {
        mistakes.add("counts", format!("{}: {}.", line.label, line.text));
    }
    if !sums.reconciled && sums.lines.len() > 1 {
        mistakes.add("counts", format!("In total: {}.", sums.total.text));
    }
    if mistakes.is_empty() { Ok(sums.total.text) } else { Err(AppError::Refused(mistakes)) }
}

struct Homecoming<'a> {
    outing: &'a Outing,
    home: &'a BackHome,
    until_at: DateTime<Utc>,
    done: Reconciled,
}

impl Homecoming<'_> {
    /// Enters the dead and the missing of every line. Missing ones are in the book as escaped: nobody knows that they died, and
    /// whoever is found again comes back.
    async fn lose(&mut self, write: &mut Write, lines: &[OutingLine], counted: &[Back]) -> Result<(), AppError> {
        for (line, back) in pairs(lines, counted) {
            let lost = [(back.dead, AnimalStatus::Dead, self.home.cause), (back.missing, AnimalStatus::Escaped, LossCause::Escape)];
            for (quantity, status, cause) in lost.into_iter().filter(|(quantity, ..)| *quantity > 0) {
                let day = write.today;
                match line.item(quantity).ok_or(AppError::NotFound)? {
                    Item::Animal(animal) => {
                        animals::store::record_leaving(write, animal, status, Some(cause), day).await?;
                        self.done.animals.push(animal);
                    }
                    Item::Lot(lot) => {
                        let how = if status == AnimalStatus::Dead { "died on" } else { "missing after" };
                        let note = format!("{how} outing {}", self.outing.id);
                        let entry = NewLine::lost(day, lot.stage, quantity, cause).with_note(note);
                        cohorts::store::post(write, lot.cohort, &entry).await?;
                        self.done.cohorts.push(lot.cohort);
                    }
                }
            }
        }
        Ok(())
    }

    /// Puts what came back apart. Of a cohort of which others stayed at home, those that came back are counted by themselves, so
    /// that the others are not held with them.
    async fn bring_home(&mut self, write: &mut Write, lines: &[OutingLine], counted: &[Back]) -> Result<(), AppError> {
        let mut of_cohort: BTreeMap<CohortId, i64> = BTreeMap::new();
        for (line, back) in pairs(lines, counted) {
            if let Some(cohort) = line.cohort_id {
                *of_cohort.entry(cohort).or_default() += i64::from(back.returned);
            }
        }
        for (line, back) in pairs(lines, counted) {
            let cohort = match line.item(back.returned).filter(|_| back.returned > 0) {
                Some(Item::Animal(animal)) => {
                    self.animal_home(write, animal).await?;
                    None
                }
                Some(Item::Lot(lot)) => {
                    let all = of_cohort.get(&lot.cohort).copied().unwrap_or_default();
                    Some(self.lot_home(write, lot, all).await?)
                }
                None => None,
            };
            insert_back(write, line, back, cohort).await?;
        }
        Ok(())
    }

    async fn animal_home(&mut self, write: &mut Write, animal: AnimalId) -> Result<(), AppError> {
        if let Some(shelf) = self.home.shelf {
            let day = write.today;
            let moved = NewMove { day, shelf: Some(shelf), position: None, rehoused: false, enclosure: None, signoff: None };
            animals::store::record_move(write, animal, &moved).await?;
        }
        self.apart(write, HoldSubject::Animal(animal)).await?;
        self.done.animals.push(animal);
        Ok(())
    }

    /// Gives the cohort in which they are counted now.
    async fn lot_home(&mut self, write: &mut Write, lot: Lot, returned_of_cohort: i64) -> Result<CohortId, AppError> {
        let alive = cohorts::store::alive(write.db(), lot.cohort).await?;
        let free = alive - cohorts::store::held_back(write.db(), lot.cohort).await?;
        self.done.cohorts.push(lot.cohort);
        let day = write.today;
        if alive > returned_of_cohort && free >= i64::from(lot.quantity) {
            let shelf = match self.home.shelf {
                Some(shelf) => Some(shelf),
                None => cohorts::store::require(write.db(), lot.cohort).await?.shelf_id,
            };
            let note = format!("back from outing {}: {}", self.outing.id, self.outing.name);
            let split = NewSplit { day, stage: lot.stage, quantity: lot.quantity, code: None, shelf, position: None, note };
            let apart = cohorts::store::split(write, lot.cohort, &split).await?;
            self.apart(write, HoldSubject::Cohort(apart)).await?;
            self.done.cohorts.push(apart);
            return Ok(apart);
        }
        if let Some(shelf) = self.home.shelf {
            let moved = NewCohortMove { day, shelf: Some(shelf), position: None, signoff: None };
            cohorts::store::record_move(write, lot.cohort, &moved).await?;
        }
        self.apart(write, HoldSubject::Cohort(lot.cohort)).await?;
        Ok(lot.cohort)
    }

    /// Feeding and looking go on; sale and work with hands in wait.
    async fn apart(&self, write: &mut Write, subject: HoldSubject) -> Result<(), AppError> {
        let reason = format!("back from {}", self.outing.name);
        let hold = NewHold {
            subject,
            kind: HoldKind::Quarantine,
            blocks: Exposure::HandsIn,
            until_at: Some(self.until_at),
            reason,
            signoff: None,
        };
        handling::store::add_hold(write, &hold).await.map(drop)
    }
}

fn pairs<'a>(lines: &'a [OutingLine], counted: &'a [Back]) -> impl Iterator<Item = (&'a OutingLine, &'a Back)> {
    lines.iter().filter_map(|line| Some((line, counted.iter().find(|back| back.line == line.id)?)))
}

async fn insert_back(write: &mut Write, line: &OutingLine, back: &Back, cohort: Option<CohortId>) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO outing_back (outing_line_id, sold, returned, dead, missing, cohort_id, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(line.id)
    .bind(line.sold)
    .bind(back.returned)
    .bind(back.dead)
    .bind(back.missing)
    .bind(cohort)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}
