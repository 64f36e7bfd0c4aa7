//! The facts of incubating egg sacs.

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use super::{Gathered, Scope, SpeciesRisk, care_book, read_json};
use crate::house::errors::AppError;
use crate::house::ids::SpeciesId;
use crate::reckoning::breeding::PullWindow;
use crate::reckoning::planner::{SacFacts, Subject, SubjectKind};
use crate::reckoning::words::LifeStage;

#[derive(sqlx::FromRow)]
struct SacRow {
    id: i64,
    species_id: SpeciesId,
    #[sqlx(flatten)]
    risk: SpeciesRisk,
    laid_on: NaiveDate,
    pulled_on: Option<NaiveDate>,
    pull_from_day: u32,
    pull_to_day: u32,
    checked_on: Option<NaiveDate>,
    legs_out_on: Option<NaiveDate>,
    turned_at: Option<DateTime<Utc>>,
    cautions: String,
}

/// Adds the sacs of a scope that are incubating. The hazard is the dam's, who is an adult.
pub(super) async fn gather(db: &mut SqliteConnection, scope: Scope, into: &mut Gathered) -> Result<(), AppError> {
    let (first, last) = scope.ids(SubjectKind::Sac);
    let rows: Vec<SacRow> = sqlx::query_as(
        "SELECT sac.id, sac.species_id, venom, setae, defensive, very_fast, adult_span_min_mm, adult_span_max_mm, sac.laid_on, sac.pulled_on,
                sac.legs_out_on,
                species.pull_from_day, species.pull_to_day,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.sac_id = sac.id AND d.kind = 'sac-check' AND d.state = 'done' AND s.corrects_id IS NULL AND s.outcome <> 'could-not'
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS checked_on,
                (SELECT COALESCE(s.made_at, s.at) FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.sac_id = sac.id AND d.kind = 'sac-turn' AND d.state = 'done' AND s.corrects_id IS NULL AND s.outcome <> 'could-not'
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS turned_at,
                (SELECT json_group_array(json_object('level', level, 'text', text))
                 FROM caution WHERE caution.animal_id = sac.dam_id AND ended_at IS NULL) AS cautions
         FROM sac JOIN species ON species.id = sac.species_id
         WHERE sac.state = 'incubating' AND sac.id BETWEEN ? AND ?
         ORDER BY sac.id",
    )
    .bind(first)
    .bind(last)
    .fetch_all(&mut *db)
    .await?;
    let book = care_book(db, rows.iter().map(|row| row.species_id)).await?;
    for row in rows {
        into.subjects.push(Subject::Sac(SacFacts {
            id: row.id,
            laid_on: row.laid_on,
            pulled_on: row.pulled_on,
            with_dam: row.pulled_on.is_none(),
            last_check: row.checked_on,
            pull: Some(PullWindow { from_day: row.pull_from_day, to_day: row.pull_to_day }),
            opened: false,
            hazard: row.risk.facts(LifeStage::Adult, read_json(&row.cautions)?),
            legs_out: row.legs_out_on.is_some(),
            last_turn: row.turned_at,
            rules: book.sacs(row.species_id),
        }));
    }
    Ok(())
}
