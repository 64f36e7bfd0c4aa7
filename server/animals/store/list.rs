//! The list of animals, narrowed and counted.

use sqlx::SqliteConnection;

use crate::animals::model::list::{BySex, Filter, Line};
use crate::house::errors::AppError;
use crate::reckoning::tag;
use crate::reckoning::words::Sex;

/// How many animals a page of the list shows.
pub const PAGE: i64 = 100;

/// One page of the list, in walking order; those that have left come last. `page` counts from 0.
///
/// # Errors
/// The database can't be read.
pub async fn search(db: &mut SqliteConnection, filter: &Filter, page: i64) -> Result<Vec<Line>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, species.accepted_name AS species_name, animal.sex, animal.sex_basis, animal.status, animal.status_on,
                place.label AS place, animal.position, now.span_mm, now.span_method, now.last_moult_on,
                animal.start_instar + (SELECT COUNT(*) FROM moult_standing AS m
                    WHERE m.animal_id = animal.id AND m.day >= animal.started_on) AS instar,
                (SELECT day FROM meal WHERE meal.id = now.last_meal_id) AS last_meal_on,
                (animal.mature_on IS NOT NULL OR animal.sex_basis = 'mature') AS mature,
                (SELECT MAX(level) FROM caution WHERE caution.animal_id = animal.id AND ended_at IS NULL) AS caution_level,
                species.venom, species.setae, species.defensive, species.very_fast, species.adult_span_min_mm, species.adult_span_max_mm
         FROM animal JOIN species ON species.id = animal.species_id JOIN animal_now AS now ON now.animal_id = animal.id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         WHERE (?1 = '' OR (?2 <> '' AND instr(animal.tag, ?2) > 0) OR instr(lower(animal.locality), lower(?1)) > 0
                OR instr(lower(animal.note), lower(?1)) > 0 OR instr(lower(species.accepted_name), lower(?1)) > 0)
           AND (?3 IS NULL OR animal.species_id = ?3) AND (?4 IS NULL OR place.rack_id = ?4)
           AND (?5 IS NULL OR animal.status = ?5) AND (?6 IS NULL OR animal.sex = ?6)
         ORDER BY place.shelf_id IS NULL, place.room_order, place.room_name, place.rack_order, place.rack_name, place.shelf_order, place.shelf_number,
                animal.position, animal.tag
         LIMIT ?7 OFFSET ?8",
    )
    .bind(&filter.text)
    .bind(tag::normalise(&filter.text))
    .bind(filter.species)
    .bind(filter.rack)
    .bind(filter.status)
    .bind(filter.sex)
    .bind(PAGE)
    .bind(page.saturating_mul(PAGE))
    .fetch_all(db)
    .await?)
}

/// How many of each sex the whole list holds.
///
/// # Errors
/// The database can't be read.
pub async fn by_sex(db: &mut SqliteConnection, filter: &Filter) -> Result<BySex, AppError> {
    let counts: Vec<(Sex, i64)> = sqlx::query_as(
        "SELECT animal.sex, COUNT(*)
         FROM animal JOIN species ON species.id = animal.species_id LEFT JOIN place ON place.shelf_id = animal.shelf_id
         WHERE (?1 = '' OR (?2 <> '' AND instr(animal.tag, ?2) > 0) OR instr(lower(animal.locality), lower(?1)) > 0
                OR instr(lower(animal.note), lower(?1)) > 0 OR instr(lower(species.accepted_name), lower(?1)) > 0)
           AND (?3 IS NULL OR animal.species_id = ?3) AND (?4 IS NULL OR place.rack_id = ?4)
           AND (?5 IS NULL OR animal.status = ?5) AND (?6 IS NULL OR animal.sex = ?6)
         GROUP BY animal.sex",
    )
    .bind(&filter.text)
    .bind(tag::normalise(&filter.text))
    .bind(filter.species)
    .bind(filter.rack)
    .bind(filter.status)
    .bind(filter.sex)
    .fetch_all(db)
    .await?;
    let of = |sex: Sex| counts.iter().find(|(counted, _)| *counted == sex).map_or(0, |(_, number)| *number);
    Ok(BySex { males: of(Sex::Male), females: of(Sex::Female), unsexed: of(Sex::Unknown) })
}
