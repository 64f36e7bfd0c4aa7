//! Prey to prepare today, from the feeds that stand open.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::usual::book;
use crate::house::errors::AppError;
use crate::reckoning::planner::{Subject, SubjectKey, SubjectKind};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::Duty;
use crate::rounds::model::prey::PreyToday;
use crate::rounds::store::facts::{Moment, Scope, gather};
use crate::rounds::store::read::open;

/// What has to be prepared for today's open feeds, by kind and size, rack and person, in walking order. Feeds that are held
/// today are left out; where nothing of the list fits, the line says so.
///
/// # Errors
/// The database can't be read.
pub async fn prey_today(db: &mut SqliteConnection, at: DateTime<Utc>, zone: Tz) -> Result<Vec<PreyToday>, AppError> {
    let feeds: Vec<Duty> = open(&mut *db).await?.into_iter().filter(|duty| duty.kind == DutyKind::Feed && duty.held.is_none()).collect();
    if feeds.is_empty() {
        return Ok(Vec::new());
    }
    let usual = book(&mut *db).await?;
    if usual.kinds.is_empty() {
        return Ok(Vec::new());
    }
    let mouths = mouths(db, &feeds, Moment::new(at, zone)).await?;
    let mut lines: Vec<PreyToday> = Vec::new();
    let mut places: BTreeMap<(String, String, Option<i64>), usize> = BTreeMap::new();
    for duty in &feeds {
        let chosen = usual.of(duty.subject());
        let (prey, each, killed) = match &chosen {
            Some(usual) => (usual.label.clone(), usual.offer.each, usual.offer.killed),
            None => ("nothing of the list is small enough".to_owned(), 1, false),
        };
        let place = rack_of(duty);
        let at = *places.entry((prey.clone(), place.clone(), duty.assigned_to.map(|id| id.0))).or_insert_with(|| {
            let (member, person) = (duty.assigned_to, duty.assigned_name.clone());
            lines.push(PreyToday { prey, place, member, person, quantity: 0, feeds: 0, killed });
            lines.len() - 1
        });
        if let Some(line) = lines.get_mut(at) {
            line.quantity += u64::from(mouths.get(&duty.subject()).copied().unwrap_or(1)) * u64::from(each);
            line.feeds += 1;
        }
    }
    Ok(lines)
}

/// Room and rack of a duty.
fn rack_of(duty: &Duty) -> String {
    let place = duty.place.clone().unwrap_or_else(|| "no place".to_owned());
    place.rsplit_once(" · shelf ").map_or(place.clone(), |(rack, _)| rack.to_owned())
}

/// How many take prey, for cohorts that are fed today.
async fn mouths(db: &mut SqliteConnection, feeds: &[Duty], moment: Moment) -> Result<BTreeMap<SubjectKey, u32>, AppError> {
    if !feeds.iter().any(|duty| duty.kind == DutyKind::Feed && duty.cohort_id.is_some()) {
        return Ok(BTreeMap::new());
    }
    let gathered = gather(db, Scope::Cohorts, moment).await?;
    Ok(gathered
        .subjects
        .iter()
        .filter_map(|subject| match subject {
            Subject::Cohort(facts) => Some((SubjectKey { kind: SubjectKind::Cohort, id: facts.id }, facts.feeding())),
            Subject::Animal(_) | Subject::Sac(_) | Subject::Room(_) => None,
        })
        .collect())
}
