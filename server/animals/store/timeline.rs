//! Everything that is in the book of one animal.

use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::animals::model::timeline::{Entry, Raw};
use crate::house::errors::AppError;
use crate::house::ids::AnimalId;

/// The entries of an animal in no order, those that were struck out included; what a later entry took the place of is left out.
/// Sign-offs stand in it where they left no entry of their own.
///
/// # Errors
/// The database can't be read.
pub async fn timeline(db: &mut SqliteConnection, id: AnimalId, zone: Tz) -> Result<Vec<Entry>, AppError> {
    let mut entries: Vec<Raw> = noted(db, id).await?;
    entries.extend(around(db, id).await?);
    Ok(entries.into_iter().map(|raw| Entry::of(raw, zone)).collect())
}

/// Meals, moults, signs, lengths and scores: what can be corrected.
async fn noted(db: &mut SqliteConnection, id: AnimalId) -> Result<Vec<Raw>, AppError> {
    Ok(sqlx::query_as(
        "WITH noted AS (
             SELECT 'meal' AS kind, e.id, e.day, e.at, e.outcome AS code, e.prey AS text, NULL AS number, e.member_id, e.signoff_id,
                    v.id AS void_id, v.member_id AS struck_member, v.void_reason
             FROM meal AS e LEFT JOIN meal AS v ON v.corrects_id = e.id
             WHERE e.animal_id = ?1 AND e.void = 0 AND COALESCE(v.void, 1) = 1
             UNION ALL
             SELECT 'moult', e.id, e.day, e.at, '', e.note, e.skin_kept, e.member_id, e.signoff_id, v.id, v.member_id, v.void_reason
             FROM moult AS e LEFT JOIN moult AS v ON v.corrects_id = e.id
             WHERE e.animal_id = ?1 AND e.void = 0 AND COALESCE(v.void, 1) = 1
             UNION ALL
             SELECT 'sign', e.id, e.day, e.at, e.state, '', NULL, e.member_id, e.signoff_id, v.id, v.member_id, v.void_reason
             FROM moult_sign AS e LEFT JOIN moult_sign AS v ON v.corrects_id = e.id
             WHERE e.animal_id = ?1 AND e.void = 0 AND COALESCE(v.void, 1) = 1
             UNION ALL
             SELECT 'measurement', e.id, e.day, e.at, e.kind, e.method, e.mm, e.member_id, e.signoff_id, v.id, v.member_id, v.void_reason
             FROM measurement AS e LEFT JOIN measurement AS v ON v.corrects_id = e.id
             WHERE e.animal_id = ?1 AND e.void = 0 AND COALESCE(v.void, 1) = 1
             UNION ALL
             SELECT 'condition', e.id, e.day, e.at, e.condition,
                    CASE WHEN e.carapace_tenths IS NULL THEN ''
                         ELSE printf('abdomen %.1f mm, carapace %.1f mm wide', e.abdomen_tenths / 10.0, e.carapace_tenths / 10.0) END,
                    NULL, e.member_id, e.signoff_id, v.id, v.member_id, v.void_reason
             FROM body_condition AS e LEFT JOIN body_condition AS v ON v.corrects_id = e.id
             WHERE e.animal_id = ?1 AND e.void = 0 AND COALESCE(v.void, 1) = 1
         )
         SELECT noted.kind, noted.id, noted.day, noted.at, (SELECT s.made_at FROM signoff AS s WHERE s.id = noted.signoff_id) AS made_at, noted.code, noted.text, '' AS more, noted.number, noted.member_id,
                author.name AS who, noted.signoff_id IS NOT NULL AS on_round, striker.name AS struck_by,
                noted.void_id IS NOT NULL AS struck, COALESCE(noted.void_reason, '') AS struck_reason
         FROM noted LEFT JOIN member AS author ON author.id = noted.member_id LEFT JOIN member AS striker ON striker.id = noted.struck_member",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// Moves, cautions, holds, sign-offs and changes of the animal's own facts.
async fn around(db: &mut SqliteConnection, id: AnimalId) -> Result<Vec<Raw>, AppError> {
    Ok(sqlx::query_as(
        "WITH around AS (
             SELECT 'move' AS kind, id, day, at, NULL AS made_at, CAST(rehoused AS TEXT) AS code, from_label AS text, to_label AS more,
                    enclosure_length_mm AS number, member_id, signoff_id IS NOT NULL AS on_round, 0 AS struck
             FROM stock_move WHERE animal_id = ?1
             UNION ALL
             SELECT 'caution', id, NULL, at, NULL, '', text, '', level, member_id, 0, ended_at IS NOT NULL FROM caution WHERE animal_id = ?1
             UNION ALL
             SELECT 'hold', id, NULL, from_at, NULL, kind, reason, COALESCE(until_at, ''), NULL, member_id, signoff_id IS NOT NULL, lifted_at IS NOT NULL
             FROM hold WHERE animal_id = ?1
             UNION ALL
             SELECT 'duty', s.id, s.day, s.at, s.made_at, duty.kind, s.note, s.outcome, NULL, s.member_id, 1,
                    EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
             FROM signoff AS s JOIN duty ON duty.id = s.duty_id
             WHERE duty.animal_id = ?1 AND s.corrects_id IS NULL
               AND NOT EXISTS (SELECT 1 FROM meal WHERE meal.signoff_id = s.id)
               AND NOT EXISTS (SELECT 1 FROM moult WHERE moult.signoff_id = s.id)
               AND NOT EXISTS (SELECT 1 FROM moult_sign WHERE moult_sign.signoff_id = s.id)
             UNION ALL
             SELECT 'found', id, day, at, NULL, kind, text, '', NULL, member_id, 1, COALESCE(says = 'taken-back', 0) FROM finding_now WHERE animal_id = ?1
             UNION ALL
             SELECT 'change', id, NULL, at, NULL, action, after, '', NULL, member_id, 0, 0 FROM audit
             WHERE subject = 'animal ' || ?1 AND action IN ('animal.added', 'animal.sexed', 'animal.noted', 'animal.needs-rehouse')
         )
         SELECT around.kind, around.id, around.day, around.at, around.made_at, around.code, around.text, around.more, around.number, around.member_id,
                member.name AS who, around.on_round, NULL AS struck_by, around.struck, '' AS struck_reason
         FROM around LEFT JOIN member ON member.id = around.member_id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}
