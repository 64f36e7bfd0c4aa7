//! Care profiles: their revisions, the figures of each life stage, and the rules of the whole species.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{ProfileId, SpeciesId};
use crate::house::write::Write;
use crate::reckoning::moult::FastClass;
use crate::reckoning::planner::{Care, SacRules};
use crate::reckoning::words::LifeStage;
use crate::species::model::rules::{SpeciesRules, SpeciesRulesRow};
use crate::species::model::{CareStage, Profile, StageCare};
use crate::species::starter::StarterCare;

/// The care of a life stage in the newest revision.
///
/// # Errors
/// [`AppError::NotFound`] when the species has no profile.
pub async fn care(db: &mut SqliteConnection, id: SpeciesId, stage: LifeStage) -> Result<CareStage, AppError> {
    Ok(sqlx::query_as(
        "SELECT care_now.revision, care_stage.* FROM care_now JOIN care_stage ON care_stage.profile_id = care_now.profile_id
         WHERE care_now.species_id = ? AND care_stage.stage = ?",
    )
    .bind(id)
    .bind(stage)
    .fetch_one(db)
    .await?)
}

/// The care of a life stage in one revision.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such revision.
pub async fn care_in(db: &mut SqliteConnection, profile: ProfileId, stage: LifeStage) -> Result<CareStage, AppError> {
    Ok(sqlx::query_as(
        "SELECT care_profile.revision, care_stage.* FROM care_stage JOIN care_profile ON care_profile.id = care_stage.profile_id
         WHERE care_profile.id = ? AND care_stage.stage = ?",
    )
    .bind(profile)
    .bind(stage)
    .fetch_one(db)
    .await?)
}

/// The care of every life stage in one revision.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such revision.
pub async fn care_of_all_stages(db: &mut SqliteConnection, profile: ProfileId) -> Result<StarterCare, AppError> {
    Ok(StarterCare {
        spiderling: care_in(db, profile, LifeStage::Spiderling).await?.figures,
        juvenile: care_in(db, profile, LifeStage::Juvenile).await?.figures,
        adult: care_in(db, profile, LifeStage::Adult).await?.figures,
        whole: rules_in(db, profile).await?,
    })
}

/// The revisions of a species' care profile, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn profiles(db: &mut SqliteConnection, id: SpeciesId) -> Result<Vec<Profile>, AppError> {
    Ok(sqlx::query_as(
        "SELECT care_profile.id, species_id, revision, why, member.name AS made_by, care_profile.created_at
         FROM care_profile LEFT JOIN member ON member.id = care_profile.created_by
         WHERE species_id = ? ORDER BY revision DESC",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// One revision.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_profile(db: &mut SqliteConnection, id: ProfileId) -> Result<Profile, AppError> {
    Ok(sqlx::query_as(
        "SELECT care_profile.id, species_id, revision, why, member.name AS made_by, care_profile.created_at
         FROM care_profile LEFT JOIN member ON member.id = care_profile.created_by
         WHERE care_profile.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// The newest revision.
///
/// # Errors
/// [`AppError::NotFound`] when the species has none.
pub async fn newest_profile(db: &mut SqliteConnection, id: SpeciesId) -> Result<Profile, AppError> {
    profiles(db, id).await?.into_iter().next().ok_or(AppError::NotFound)
}

/// Adds a revision after the newest one.
///
/// # Errors
/// Figures that a range rules out.
pub async fn insert_profile(write: &mut Write, id: SpeciesId, why: &str, care: &StarterCare) -> Result<ProfileId, AppError> {
    let (who, at) = (write.who, write.at);
    let profile: ProfileId = sqlx::query_scalar(
        "INSERT INTO care_profile (species_id, revision, why, created_by, created_at, threat_open_hours, threat_hands_in_days,
                                   sac_pulled_days, sac_with_dam_days, sac_turns, sac_after_from, sac_after_to, incubate_min_c,
                                   incubate_max_c, incubate_risky_c)
         SELECT ?1, COALESCE(MAX(revision), 0) + 1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14 FROM care_profile WHERE species_id = ?1 RETURNING id",
    )
    .bind(id)
    .bind(why)
    .bind(who)
    .bind(at)
    .bind(care.whole.threat_open_hours)
    .bind(care.whole.threat_hands_in_days)
    .bind(care.whole.sacs.pulled_days)
    .bind(care.whole.sacs.with_dam_days)
    .bind(care.whole.sacs.turns)
    .bind(care.whole.incubation.sac_after.map(|(from, _)| from))
    .bind(care.whole.incubation.sac_after.map(|(_, to)| to))
    .bind(care.whole.incubation.min_c)
    .bind(care.whole.incubation.max_c)
    .bind(care.whole.incubation.risky_c)
    .fetch_one(write.db())
    .await?;
    for class in &care.whole.fast {
        insert_fast(write, profile, class).await?;
    }
    for stage in LifeStage::ALL {
        insert_stage(write, profile, *stage, care.of(*stage)).await?;
    }
    Ok(profile)
}

async fn insert_fast(write: &mut Write, profile: ProfileId, class: &FastClass) -> Result<(), AppError> {
    sqlx::query("INSERT INTO care_fast (profile_id, from_mm, min_days, max_days) VALUES (?, ?, ?, ?)")
        .bind(profile)
        .bind(class.from_mm)
        .bind(class.min_days)
        .bind(class.max_days)
        .execute(write.db())
        .await?;
    Ok(())
}

async fn insert_stage(write: &mut Write, profile: ProfileId, stage: LifeStage, care: &StageCare) -> Result<(), AppError> {
    sqlx::query(
        "INSERT INTO care_stage (profile_id, stage,
            feed_min_days, feed_max_days, moult_min_days, moult_max_days, day_min_c, day_max_c, rh_min, rh_max, prey, water,
            substrate, ventilation, hide, uneaten_hours, water_days, clean_days, moult_check_days, count_days, basis, retry_days,
            refusals_check, close_check_days, look_after_tenths, settle_min_days, settle_max_days, after_meal_days, after_moult_days,
            obese_skip_days, length_tenths, width_tenths, most_length_tenths, fall_gap_tenths)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(profile)
    .bind(stage)
    .bind(care.feed_min_days)
    .bind(care.feed_max_days)
    .bind(care.moult_min_days)
    .bind(care.moult_max_days)
    .bind(care.day_min_c)
    .bind(care.day_max_c)
    .bind(care.rh_min)
    .bind(care.rh_max)
    .bind(&care.prey)
    .bind(&care.water)
    .bind(&care.substrate)
    .bind(&care.ventilation)
    .bind(&care.hide)
    .bind(care.uneaten_hours)
    .bind(care.water_days)
    .bind(care.clean_days)
    .bind(care.moult_check_days)
    .bind(care.count_days)
    .bind(&care.basis)
    .bind(care.rules.retry_days)
    .bind(care.rules.refusals_check)
    .bind(care.rules.close_check_days)
    .bind(care.rules.look_after_tenths)
    .bind(care.rules.settle_min_days)
    .bind(care.rules.settle_max_days)
    .bind(care.rules.after_meal_days)
    .bind(care.rules.after_moult_days)
    .bind(care.rules.obese_skip_days)
    .bind(care.rules.boxes.length_tenths)
    .bind(care.rules.boxes.width_tenths)
    .bind(care.rules.boxes.most_length_tenths)
    .bind(care.rules.boxes.fall_gap_tenths)
    .execute(write.db())
    .await?;
    Ok(())
}

/// The rules of a revision that hold for the whole species.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such revision.
pub async fn rules_in(db: &mut SqliteConnection, profile: ProfileId) -> Result<SpeciesRules, AppError> {
    let row: SpeciesRulesRow = sqlx::query_as(
        "SELECT threat_open_hours, threat_hands_in_days, sac_pulled_days, sac_with_dam_days, sac_turns, sac_after_from, sac_after_to,
                incubate_min_c, incubate_max_c, incubate_risky_c
         FROM care_profile WHERE id = ?",
    )
    .bind(profile)
    .fetch_one(&mut *db)
    .await?;
    let fast: Vec<FastRow> = sqlx::query_as("SELECT from_mm, min_days, max_days FROM care_fast WHERE profile_id = ? ORDER BY from_mm")
        .bind(profile)
        .fetch_all(db)
        .await?;
    Ok(row.with(fast.into_iter().map(FastRow::class).collect()))
}

/// The rules of the whole species in its newest revision.
///
/// # Errors
/// [`AppError::NotFound`] when the species has no profile.
pub async fn rules_now(db: &mut SqliteConnection, id: SpeciesId) -> Result<SpeciesRules, AppError> {
    let profile: ProfileId =
        sqlx::query_scalar("SELECT profile_id FROM care_now WHERE species_id = ?").bind(id).fetch_one(&mut *db).await?;
    rules_in(db, profile).await
}

#[derive(sqlx::FromRow)]
struct FastRow {
    from_mm: u32,
    min_days: u32,
    max_days: u32,
}

impl FastRow {
    fn class(self) -> FastClass {
        FastClass { from_mm: self.from_mm, min_days: self.min_days, max_days: self.max_days }
    }
}

/// What duties are planned by, of the species between two ids: the newest revisions.
#[derive(Debug, Default)]
pub struct CareBook {
    stages: HashMap<(SpeciesId, LifeStage), Care>,
    sacs: HashMap<SpeciesId, SacRules>,
}

impl CareBook {
    /// The care of a life stage.
    ///
    /// # Errors
    /// The species has no profile.
    pub fn of(&self, species: SpeciesId, stage: LifeStage) -> Result<Care, AppError> {
        let missing = || AppError::Internal(anyhow::anyhow!("species {species} has no care for a {stage}"));
        self.stages.get(&(species, stage)).cloned().ok_or_else(missing)
    }

    /// How a species' sacs are looked after; none without a profile.
    #[must_use]
    pub fn sacs(&self, species: SpeciesId) -> Option<SacRules> {
        self.sacs.get(&species).copied()
    }
}

#[derive(sqlx::FromRow)]
struct BookRow {
    species_id: SpeciesId,
    #[sqlx(flatten)]
    stage: CareStage,
    #[sqlx(flatten)]
    whole: SpeciesRulesRow,
}

/// What duties are planned by, of the species from one id to another.
///
/// # Errors
/// The database can't be read.
pub async fn care_book(db: &mut SqliteConnection, first: SpeciesId, last: SpeciesId) -> Result<CareBook, AppError> {
    let rows: Vec<BookRow> = sqlx::query_as(
        "SELECT care_profile.*, care_stage.*
         FROM care_now JOIN care_profile ON care_profile.id = care_now.profile_id JOIN care_stage ON care_stage.profile_id = care_now.profile_id
         WHERE care_now.species_id BETWEEN ? AND ?",
    )
    .bind(first)
    .bind(last)
    .fetch_all(&mut *db)
    .await?;
    let classes: Vec<(SpeciesId, u32, u32, u32)> = sqlx::query_as(
        "SELECT care_now.species_id, from_mm, min_days, max_days
         FROM care_now JOIN care_fast ON care_fast.profile_id = care_now.profile_id
         WHERE care_now.species_id BETWEEN ? AND ? ORDER BY care_now.species_id, from_mm",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?;
    let mut fasts: HashMap<SpeciesId, Vec<FastClass>> = HashMap::new();
    for (species, from_mm, min_days, max_days) in classes {
        fasts.entry(species).or_default().push(FastClass { from_mm, min_days, max_days });
    }
    let mut book = CareBook::default();
    for row in rows {
        let rules = row.whole.with(fasts.get(&row.species_id).cloned().unwrap_or_default());
        book.sacs.insert(row.species_id, rules.sacs);
        book.stages.insert((row.species_id, row.stage.stage), row.stage.planner_care(rules.fast));
    }
    Ok(book)
}
