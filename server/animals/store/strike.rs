//! Taking back what was noted: an entry is never changed, a later one stands in its place or strikes it out.

use crate::animals::model::timeline::EntryKind;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SignoffId};
use crate::house::write::Write;

/// Strikes out every meal, moult, sign and length that a sign-off brought. Prey that the sign-off cleared is noted as
/// left in again.
///
/// # Errors
/// The database can't be written.
pub async fn strike_out(write: &mut Write, signoff: SignoffId) -> Result<(), AppError> {
    for statement in [
        // The whole chain of corrections that began with this sign-off.
        "INSERT INTO meal (animal_id, day, offered_at, prey, outcome, signoff_id, member_id, at, corrects_id, prey_kind_id, prey_each, prey_spent, void)
         WITH RECURSIVE chain(id) AS (
             SELECT id FROM meal WHERE signoff_id = ?1 AND corrects_id IS NULL
             UNION ALL SELECT meal.id FROM meal JOIN chain ON meal.corrects_id = chain.id
         )
         SELECT animal_id, day, offered_at, prey, outcome, signoff_id, ?2, ?3, id, prey_kind_id, prey_each, prey_spent, 1
         FROM meal_standing WHERE id IN (SELECT id FROM chain)",
        "INSERT INTO meal (animal_id, day, offered_at, prey, outcome, signoff_id, member_id, at, corrects_id, prey_kind_id, prey_each, prey_spent)
         SELECT s.animal_id, s.day, before.offered_at, before.prey, before.outcome, before.signoff_id, ?2, ?3, s.id,
                before.prey_kind_id, before.prey_each, before.prey_spent
         FROM meal_standing AS s JOIN meal AS before ON before.id = s.corrects_id WHERE s.signoff_id = ?1",
        "INSERT INTO moult (animal_id, day, skin_kept, note, signoff_id, member_id, at, corrects_id, void)
         SELECT animal_id, day, skin_kept, note, signoff_id, ?2, ?3, id, 1 FROM moult_standing WHERE signoff_id = ?1",
        "INSERT INTO moult_sign (animal_id, day, state, signoff_id, member_id, at, corrects_id, void)
         SELECT animal_id, day, state, signoff_id, ?2, ?3, id, 1 FROM moult_sign_standing WHERE signoff_id = ?1",
        "INSERT INTO measurement (animal_id, day, kind, mm, method, signoff_id, member_id, at, corrects_id, void)
         SELECT animal_id, day, kind, mm, method, signoff_id, ?2, ?3, id, 1 FROM measurement_standing WHERE signoff_id = ?1",
    ] {
        let (at, who) = (write.at, write.who);
        sqlx::query(statement).bind(signoff).bind(who).bind(at).execute(write.db()).await?;
    }
    Ok(())
}

/// Strikes out one entry that stands, with the reason.
///
/// # Errors
/// A conflict when it does not stand any more; an entry of a kind that is never struck out.
pub async fn strike_entry(write: &mut Write, animal: AnimalId, kind: EntryKind, id: i64, reason: &str) -> Result<(), AppError> {
    let statement = match kind {
        EntryKind::Meal => {
            "INSERT INTO meal (animal_id, day, offered_at, prey, outcome, signoff_id, member_id, at, corrects_id,
                               prey_kind_id, prey_each, prey_spent, void, void_reason)
             SELECT animal_id, day, offered_at, prey, outcome, signoff_id, ?3, ?4, id, prey_kind_id, prey_each, prey_spent, 1, ?5
             FROM meal_standing WHERE id = ?1 AND animal_id = ?2"
        }
        EntryKind::Moult => {
            "INSERT INTO moult (animal_id, day, skin_kept, note, signoff_id, member_id, at, corrects_id, void, void_reason)
             SELECT animal_id, day, skin_kept, note, signoff_id, ?3, ?4, id, 1, ?5 FROM moult_standing WHERE id = ?1 AND animal_id = ?2"
        }
        EntryKind::Sign => {
            "INSERT INTO moult_sign (animal_id, day, state, signoff_id, member_id, at, corrects_id, void, void_reason)
             SELECT animal_id, day, state, signoff_id, ?3, ?4, id, 1, ?5 FROM moult_sign_standing WHERE id = ?1 AND animal_id = ?2"
        }
        EntryKind::Measurement => {
            "INSERT INTO measurement (animal_id, day, kind, mm, method, signoff_id, member_id, at, corrects_id, void, void_reason)
             SELECT animal_id, day, kind, mm, method, signoff_id, ?3, ?4, id, 1, ?5 FROM measurement_standing WHERE id = ?1 AND animal_id = ?2"
        }
        EntryKind::Condition => {
            "INSERT INTO body_condition (animal_id, day, condition, abdomen_tenths, carapace_tenths, member_id, at, corrects_id, void, void_reason)
             SELECT animal_id, day, condition, abdomen_tenths, carapace_tenths, ?3, ?4, id, 1, ?5 FROM body_condition_standing
             WHERE id = ?1 AND animal_id = ?2"
        }
        _ => return Err(AppError::NotFound),
    };
    let (at, who) = (write.at, write.who);
    let struck = sqlx::query(statement).bind(id).bind(animal).bind(who).bind(at).bind(reason).execute(write.db()).await?;
    if struck.rows_affected() == 0 {
        return Err(AppError::conflict("This entry has been corrected already."));
    }
    Ok(())
}
