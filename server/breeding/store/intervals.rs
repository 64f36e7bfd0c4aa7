//! What the house's sacs took, and what is usual for each species.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::breeding::model::Sac;
use crate::breeding::model::forecast::{Intervals, Leg, StageAhead, Took, Usual};
use crate::house::errors::AppError;
use crate::house::ids::{SacId, SpeciesId};
use crate::reckoning::breeding::incubation::IncubationRules;
use crate::reckoning::breeding::{SacGroup, StageDays};
use crate::reckoning::stage::Stage;

#[derive(sqlx::FromRow)]
struct UsualRow {
    id: SpeciesId,
    sac_group: Option<SacGroup>,
    post_embryo_from: u32,
    post_embryo_to: u32,
    first_instar_from: u32,
    first_instar_to: u32,
    second_instar_from: u32,
    second_instar_to: u32,
    sac_after_from: Option<u32>,
    sac_after_to: Option<u32>,
}

impl UsualRow {
    fn usual(&self) -> Usual {
        let rules = IncubationRules { sac_after: self.sac_after_from.zip(self.sac_after_to), ..IncubationRules::default() };
        Usual {
            group: self.sac_group,
            to_sac: rules.days_to_sac(self.sac_group),
            stages: StageDays {
                post_embryo: (self.post_embryo_from, self.post_embryo_to),
                first_instar: (self.first_instar_from, self.first_instar_to),
                second_instar: (self.second_instar_from, self.second_instar_to),
            },
        }
    }
}

/// What the house's finished sacs took, of every species, and what is usual for each.
///
/// From pairing to sac only the first sac after an introduction counts, from the last introduction with an insertion seen since the
/// dam's last moult, else from the last one. Sacs of which a stage was never seen count for the others only.
///
/// # Errors
/// The database can't be read.
pub async fn intervals(db: &mut SqliteConnection) -> Result<Intervals, AppError> {
    let usual: Vec<UsualRow> = sqlx::query_as(
        "SELECT species.id, sac_group, post_embryo_from, post_embryo_to, first_instar_from, first_instar_to, second_instar_from,
                second_instar_to, sac_after_from, sac_after_to
         FROM species LEFT JOIN care_now ON care_now.species_id = species.id LEFT JOIN care_profile ON care_profile.id = care_now.profile_id",
    )
    .fetch_all(&mut *db)
    .await?;
    let mut took = to_sac(&mut *db).await?;
    took.extend(to_stages(db).await?);
    Ok(Intervals { usual: usual.iter().map(|row| (row.id, row.usual())).collect(), took })
}

async fn to_sac(db: &mut SqliteConnection) -> Result<Vec<Took>, AppError> {
    let rows: Vec<(SacId, SpeciesId, NaiveDate, NaiveDate)> = sqlx::query_as(
        "SELECT sac.id, sac.species_id, began.day, sac.laid_on
         FROM sac JOIN introduction_standing AS began ON began.id = (
             SELECT i.id FROM introduction_standing AS i
             WHERE i.dam_id = sac.dam_id AND i.day < sac.laid_on
               AND i.day >= COALESCE((SELECT MAX(day) FROM moult_standing WHERE animal_id = sac.dam_id AND day <= sac.laid_on), '')
             ORDER BY i.insertion = 'seen' DESC, i.day DESC, i.id DESC LIMIT 1)
         WHERE NOT EXISTS (SELECT 1 FROM sac AS earlier WHERE earlier.dam_id = sac.dam_id AND earlier.id <> sac.id
                           AND earlier.laid_on BETWEEN began.day AND sac.laid_on)",
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(sac, species, from, to)| Took { sac, species, leg: Leg::ToSac, days: days(from, to) }).collect())
}

async fn to_stages(db: &mut SqliteConnection) -> Result<Vec<Took>, AppError> {
    let rows: Vec<(SacId, SpeciesId, Stage, NaiveDate, NaiveDate)> = sqlx::query_as(
        "SELECT sac.id, sac.species_id, sac_stage.stage, sac.laid_on, sac_stage.day
         FROM sac_stage JOIN sac ON sac.id = sac_stage.sac_id WHERE sac_stage.day > sac.laid_on",
    )
    .fetch_all(db)
    .await?;
    let took = |(sac, species, stage, laid, on): (SacId, SpeciesId, Stage, NaiveDate, NaiveDate)| {
        Leg::to(stage).map(|leg| Took { sac, species, leg, days: days(laid, on) })
    };
    Ok(rows.into_iter().filter_map(took).collect())
}

fn days(from: NaiveDate, to: NaiveDate) -> f64 {
    crate::reckoning::calendar::days_between(from, to) as f64
}

/// The stages of a sac: when each is to be expected, by the house's other sacs, and when it was first seen.
///
/// # Errors
/// The database can't be read.
pub async fn stages_ahead(db: &mut SqliteConnection, sac: &Sac) -> Result<Vec<StageAhead>, AppError> {
    let known = intervals(&mut *db).await?;
    let seen: Vec<(Stage, NaiveDate)> =
        sqlx::query_as("SELECT stage, day FROM sac_stage WHERE sac_id = ?").bind(sac.id).fetch_all(db).await?;
    let mut ahead = Vec::new();
    for leg in Leg::STAGES {
        let Some(stage) = leg.stage() else { continue };
        let forecast = known.forecast(sac.species_id, leg, Some(sac.id))?;
        let seen_on = seen.iter().find(|(of, _)| *of == stage).map(|(_, day)| *day);
        ahead.push(StageAhead { stage, window: forecast.window(sac.laid_on), basis: forecast.basis, seen_on });
    }
    Ok(ahead)
}
