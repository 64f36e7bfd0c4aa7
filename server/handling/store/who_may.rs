//! Who may do what: the people of the house against the one rule, and what somebody lacks in words.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::clearances::{clearances_of, people};
use crate::handling::model::Who;
use crate::house::errors::AppError;
use crate::house::ids::MemberId;
use crate::house::text;
use crate::reckoning::hazard::Requirement;
use crate::reckoning::who_may::{Missing, Part, Standing, level_for, missing};
use crate::staff;

/// Everybody who is active, with their roles and what they are cleared for on a day, by name.
///
/// # Errors
/// The database can't be read.
pub async fn team(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<Who>, AppError> {
    let members = staff::store::active(&mut *db).await?;
    let cleared = people(db, day).await?;
    let roles_of = |id: MemberId| members.iter().find(|member| member.id == id).map(|member| member.roles);
    Ok(cleared.into_iter().filter_map(|person| Some(Who { roles: roles_of(person.id)?, person })).collect())
}

#[derive(sqlx::FromRow)]
struct StandingRow {
    name: String,
    looks_after: bool,
    suspended: bool,
    level: u8,
}

/// What somebody lacks for a part of what is asked on a day, as the end of a sentence (`Bo holds clearance 1`); none when
/// they may.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such member.
pub async fn lacking(
    db: &mut SqliteConnection,
    member: MemberId,
    asked: Requirement,
    part: Part,
    day: NaiveDate,
) -> Result<Option<String>, AppError> {
    let row: StandingRow = sqlx::query_as(
        "SELECT name, disabled_at IS NULL AND is_keeper + is_lead + is_owner > 0 AS looks_after,
                EXISTS (SELECT 1 FROM suspension WHERE suspension.member_id = member.id AND lifted_at IS NULL) AS suspended,
                (SELECT COALESCE(MAX(level), 0) FROM clearance_standing AS c
                 WHERE c.member_id = member.id AND valid_from <= ?2 AND valid_until >= ?2) AS level
         FROM member WHERE id = ?1",
    )
    .bind(member)
    .bind(day)
    .fetch_one(&mut *db)
    .await?;
    let StandingRow { name, looks_after, suspended, level } = row;
    let Some(missing) = missing(asked, part, Standing { looks_after, suspended, level }) else { return Ok(None) };
    let needs = i64::from(level_for(asked, part).unwrap_or(0));
    Ok(Some(match missing {
        Missing::Role => format!("{name} does not look after animals here"),
        Missing::Suspended => format!("the clearances of {name} rest until a lead has reviewed their incident"),
        Missing::Level { holds: 0, .. } => ran_out(db, member, &name, needs, day).await?,
        Missing::Level { holds, .. } => format!("{name} holds clearance {holds}"),
    }))
}

async fn ran_out(db: &mut SqliteConnection, member: MemberId, name: &str, needs: i64, day: NaiveDate) -> Result<String, AppError> {
    let past = clearances_of(db, member).await?;
    let over = past.iter().filter(|clearance| clearance.level >= needs && clearance.valid_until < day);
    Ok(match over.max_by_key(|clearance| clearance.valid_until) {
        Some(over) => format!("the clearance of {name} ran out on {}", text::day(&over.valid_until)),
        None => format!("{name} holds none"),
    })
}
