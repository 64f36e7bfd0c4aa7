//! Planned rehouses: two people and a time are reserved, or it is said why they can't be.

use chrono::{Days, NaiveDate, TimeZone as _};
use sqlx::SqliteConnection;

use super::board::rehouse;
use super::holds::holds_of_animal;
use super::who_may::{lacking, team};
use crate::handling::model::week::{DAYS_AHEAD, DayAhead, Moment, PersonOnDay, WeekAhead, free_from};
use crate::handling::model::{NewPlan, RehouseDuty, RehousePlan};
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{DutyId, MemberId, RehousePlanId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::together::Span;
use crate::reckoning::who_may::Part;
use crate::staff;
use crate::staff::model::rota::clock;

/// How many days ahead a rehouse can be planned.
pub const MOST_DAYS_AHEAD: u64 = 60;

impl Moment {
    /// The moment of a change.
    #[must_use]
    pub fn of(write: &Write) -> Self {
        Self { at: write.at, today: write.today, zone: write.zone }
    }
}

/// Every planned rehouse that stands, the earliest first. Those whose day is over are among them.
///
/// # Errors
/// The database can't be read.
pub async fn standing_plans(db: &mut SqliteConnection) -> Result<Vec<RehousePlan>, AppError> {
    Ok(sqlx::query_as(
        "SELECT plan.id, duty_id, animal.id AS animal_id, animal.tag, species.accepted_name AS species, place.label AS place, duty.band,
                first_id, one.name AS first_name, second_id, other.name AS second_name, day, starts, minutes, maker.name AS made_by_name,
                ended, ended_at, ended_why
         FROM rehouse_plan AS plan
         JOIN duty ON duty.id = duty_id
         JOIN animal ON animal.id = duty.animal_id
         JOIN species ON species.id = animal.species_id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         JOIN member AS one ON one.id = first_id
         LEFT JOIN member AS other ON other.id = second_id
         JOIN member AS maker ON maker.id = made_by
         WHERE ended IS NULL ORDER BY day, starts, plan.id",
    )
    .fetch_all(db)
    .await?)
}

/// The rehouses that are planned for a day, the earliest first.
///
/// # Errors
/// The database can't be read.
pub async fn planned_on(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<RehousePlan>, AppError> {
    let mut plans = standing_plans(db).await?;
    plans.retain(|plan| plan.day == day);
    Ok(plans)
}

/// The rehouses from a day on for which somebody is reserved, the earliest first.
///
/// # Errors
/// The database can't be read.
pub async fn planned_for(db: &mut SqliteConnection, member: MemberId, from: NaiveDate) -> Result<Vec<RehousePlan>, AppError> {
    let mut plans = standing_plans(db).await?;
    plans.retain(|plan| plan.day >= from && plan.is_of(member));
    Ok(plans)
}

/// The planned rehouse of a duty that stands; none when nobody is reserved for it.
///
/// # Errors
/// The database can't be read.
pub async fn plan_of(db: &mut SqliteConnection, duty: DutyId) -> Result<Option<RehousePlan>, AppError> {
    Ok(standing_plans(db).await?.into_iter().find(|plan| plan.duty_id == duty))
}

/// Plans that lapsed: not done, not broken off, not cancelled by anybody. Those for days since `since`, the latest first.
///
/// # Errors
/// The database can't be read.
pub async fn lapsed_plans(db: &mut SqliteConnection, since: NaiveDate) -> Result<Vec<RehousePlan>, AppError> {
    Ok(sqlx::query_as(
        "SELECT plan.id, duty_id, animal.id AS animal_id, animal.tag, species.accepted_name AS species, place.label AS place, duty.band,
                first_id, one.name AS first_name, second_id, other.name AS second_name, day, starts, minutes, maker.name AS made_by_name,
                ended, ended_at, ended_why
         FROM rehouse_plan AS plan
         JOIN duty ON duty.id = duty_id
         JOIN animal ON animal.id = duty.animal_id
         JOIN species ON species.id = animal.species_id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         JOIN member AS one ON one.id = first_id
         LEFT JOIN member AS other ON other.id = second_id
         JOIN member AS maker ON maker.id = made_by
         WHERE ended IN ('no-longer-due', 'clearance', 'given-away', 'asks-more', 'passed') AND day >= ? ORDER BY plan.id DESC LIMIT 50",
    )
    .bind(since)
    .fetch_all(db)
    .await?)
}

/// The days ahead: who is in when, cleared for what, and reserved.
///
/// # Errors
/// The database can't be read.
pub async fn week_ahead(db: &mut SqliteConnection, now: Moment) -> Result<WeekAhead, AppError> {
    let last = now.today.checked_add_days(Days::new(DAYS_AHEAD - 1)).unwrap_or(now.today);
    let plans = standing_plans(&mut *db).await?;
    let mut days = Vec::new();
    for (day, on) in staff::store::rota::between(&mut *db, now.today, last).await? {
        let team = team(&mut *db, day).await?;
        let taken = |member: MemberId| plans.iter().filter(|plan| plan.day == day && plan.is_of(member)).map(RehousePlan::span).collect();
        let known = on.into_iter().filter_map(|on| Some((team.iter().find(|who| who.person.id == on.member)?.clone(), on)));
        let mut people: Vec<PersonOnDay> = known.map(|(who, on)| PersonOnDay { taken: taken(on.member), who, on }).collect();
        people.sort_by(|one, other| other.who.person.level.cmp(&one.who.person.level).then_with(|| one.on.name.cmp(&other.on.name)));
        days.push(DayAhead { day, people });
    }
    Ok(WeekAhead { now, days })
}

/// All that speaks against a plan, each at its field: clearance on the day, hours, other reservations, holds, the time itself.
/// `except` is a plan that is looked at again and does not stand in its own way.
///
/// # Errors
/// The database can't be read.
pub async fn objections(
    db: &mut SqliteConnection,
    duty: &RehouseDuty,
    plan: &NewPlan,
    now: Moment,
    except: Option<RehousePlanId>,
) -> Result<Mistakes, AppError> {
    let mut mistakes = Mistakes::none();
    people(db, duty, plan, &mut mistakes).await?;
    time(db, duty, plan, now, &mut mistakes).await?;
    let mut others = planned_on(&mut *db, plan.day).await?;
    others.retain(|other| Some(other.id) != except && other.span().common(plan.span).is_some());
    let on = staff::store::rota::on_day(&mut *db, plan.day).await?;
    for (field, member) in [("first", Some(plan.first)), ("second", plan.second)] {
        let Some(person) = member.and_then(|member| on.iter().find(|person| person.member == member)) else { continue };
        let day = text::day(&plan.day);
        if let Some(why) = person.why_not.as_ref().filter(|_| !person.present) {
            mistakes.add(field, format!("{} is not in on {day}: {why}.", person.name));
        } else if !(Span { from: person.starts, to: person.ends }).holds(plan.span) {
            mistakes.add(field, format!("{} is in from {} to {} on {day}.", person.name, clock(person.starts), clock(person.ends)));
        }
        for other in others.iter().filter(|other| other.is_of(person.member)) {
            mistakes.add(field, format!("{} is reserved for the rehouse of {} from {}.", person.name, other.tag, other.hours()));
        }
    }
    Ok(mistakes)
}

async fn people(db: &mut SqliteConnection, duty: &RehouseDuty, plan: &NewPlan, mistakes: &mut Mistakes) -> Result<(), AppError> {
    let day = text::day(&plan.day);
    let says = |needs: i64, missing: String| format!("On {day} this takes {}, and {missing}.", text::clearance(&needs));
    if let Some(missing) = lacking(&mut *db, plan.first, duty.asked(), Part::First, plan.day).await? {
        mistakes.add("first", says(duty.clearance, missing));
    }
    match plan.second {
        None if duty.takes_two() => mistakes.add("second", "This takes two people. Choose the second."),
        Some(_) if !duty.takes_two() => mistakes.add("second", "This takes one person. Leave the second empty."),
        Some(second) if second == plan.first => mistakes.add("second", "The second person must be somebody else than the first."),
        Some(second) => {
            if let Some(missing) = lacking(db, second, duty.asked(), Part::Second, plan.day).await? {
                mistakes.add("second", says((duty.clearance - 1).max(0), missing));
            }
        }
        None => {}
    }
    Ok(())
}

async fn time(db: &mut SqliteConnection, duty: &RehouseDuty, plan: &NewPlan, now: Moment, mistakes: &mut Mistakes) -> Result<(), AppError> {
    let latest = now.today.checked_add_days(Days::new(MOST_DAYS_AHEAD)).unwrap_or(now.today);
    if plan.day < now.today {
        mistakes.add("day", "This day is over.");
    } else if plan.day > latest {
        mistakes
            .add("day", format!("A rehouse is planned {MOST_DAYS_AHEAD} days ahead at the most: {} at the latest.", text::day(&latest)));
    } else if (plan.day, plan.span.from) < now.minute_of(now.at) {
        mistakes.add("starts", "This time has passed.");
    }
    let wall = plan.day.and_hms_opt(plan.span.from / 60, plan.span.from % 60, 0);
    if wall.and_then(|wall| now.zone.from_local_datetime(&wall).earliest()).is_none() {
        mistakes.add("starts", "Clocks jump over this time on this day. Choose one before or after it.");
    }
    if plan.span.to > 1440 {
        mistakes.add("minutes", "This runs into the next day. Begin earlier or take less time.");
    }
    let holds = holds_of_animal(db, duty.animal_id, now.at).await?;
    let free = free_from(&now, &holds);
    if !holds.is_empty() && free.is_none_or(|free| (plan.day, plan.span.from) < free) {
        let why: Vec<String> = holds.iter().map(|hold| format!("{} ({})", hold.kind, hold.reason)).collect();
        let until = holds.iter().map(|hold| hold.until_at).max().flatten().filter(|_| free.is_some());
        let until =
            until.map_or_else(|| "until somebody lifts it".to_owned(), |until| format!("until {}", text::instant(&until, &now.zone)));
        mistakes.add("day", format!("{} is held {until}: {}.", duty.tag, why.join("; ")));
    }
    Ok(())
}

/// Reserves people and a time for a rehouse, and gives them the duty.
///
/// # Errors
/// A conflict when it is no longer due or planned already; mistakes with all that speaks against it. Triggers keep the
/// clearances and the reservations beneath.
pub async fn plan_rehouse(write: &mut Write, id: DutyId, plan: &NewPlan) -> Result<RehouseDuty, AppError> {
    let now = Moment::of(write);
    let Some(duty) = rehouse(write.db(), id).await? else {
        return Err(AppError::conflict("This rehouse is no longer due. Open the board again."));
    };
    if let Some(standing) = plan_of(write.db(), id).await? {
        if !standing.has_passed(&now.today) {
            return Err(AppError::conflict(format!("This rehouse is planned already: {}. Cancel that first.", standing.words())));
        }
        end_passed(write, standing.id).await?;
    }
    let mistakes = objections(write.db(), &duty, plan, now, None).await?;
    if !mistakes.is_empty() {
        return Err(mistakes.into());
    }
    reserve(write, id, plan).await?;
    Ok(duty)
}

async fn reserve(write: &mut Write, id: DutyId, plan: &NewPlan) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = ? WHERE id = ? AND state = 'open'")
        .bind(plan.first)
        .bind(plan.day)
        .bind(id)
        .execute(write.db())
        .await?;
    sqlx::query("UPDATE duty SET second_to = ? WHERE id = ? AND state = 'open'").bind(plan.second).bind(id).execute(write.db()).await?;
    sqlx::query(
        "INSERT INTO rehouse_plan (duty_id, first_id, second_id, day, starts, minutes, made_by, made_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(id)
    .bind(plan.first)
    .bind(plan.second)
    .bind(plan.day)
    .bind(plan.span.from)
    .bind(plan.span.minutes())
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

async fn end_passed(write: &mut Write, id: RehousePlanId) -> Result<(), AppError> {
    let at = write.at;
    sqlx::query("UPDATE rehouse_plan SET ended = 'passed', ended_at = ? WHERE id = ?").bind(at).bind(id).execute(write.db()).await?;
    Ok(())
}

/// Cancels the plan of a rehouse, and takes the duty out of its people's hands. Gives the plan as it stood.
///
/// # Errors
/// A conflict when none stands.
pub async fn cancel_plan(write: &mut Write, id: DutyId, why: &str) -> Result<RehousePlan, AppError> {
    let (who, at) = (write.who, write.at);
    let Some(plan) = plan_of(write.db(), id).await? else {
        return Err(AppError::conflict("No plan stands for this rehouse: it was cancelled, or has ended. Open the board again."));
    };
    sqlx::query("UPDATE rehouse_plan SET ended = 'cancelled', ended_at = ?, ended_by = ?, ended_why = ? WHERE id = ? AND ended IS NULL")
        .bind(at)
        .bind(who)
        .bind(why)
        .bind(plan.id)
        .execute(write.db())
        .await?;
    sqlx::query("UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE id = ? AND state = 'open'")
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(plan)
}

/// What has come between since a rehouse was planned, such as an absence or a hold; empty when nothing has.
///
/// # Errors
/// The database can't be read.
pub async fn doubts(db: &mut SqliteConnection, duty: &RehouseDuty, plan: &RehousePlan, now: Moment) -> Result<Vec<String>, AppError> {
    if plan.has_passed(&now.today) {
        return Ok(vec!["The planned day is over. Plan it again.".to_owned()]);
    }
    let asked = NewPlan { first: plan.first_id, second: plan.second_id, day: plan.day, span: plan.span() };
    let mistakes = objections(db, duty, &asked, now, Some(plan.id)).await?;
    Ok(mistakes.all().filter(|mistake| mistake.field != "starts").map(|mistake| mistake.message.clone()).collect())
}
