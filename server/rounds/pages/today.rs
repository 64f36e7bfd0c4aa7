//! The lead's day: what is due, who has it, what nobody has and why, and what else wants an eye.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;

use super::round::rack_place;
use crate::cohorts::model::losses::Judged;
use crate::handling;
use crate::handling::model::{Hold, Incident, PersonCleared};
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::ids::RackId;
use crate::house::layout::{Choice, Layout, Section, page};
use crate::rounds::model::Duty;
use crate::rounds::model::share::AtWork;
use crate::rounds::store::{self, Expected, SacToPull};
use crate::species::model::climate::RackClimate;
use crate::{cohorts, species, staff};

/// Clearances that end within so many days are named.
const ENDING_DAYS: u64 = 14;

/// Readings further back than so many days say nothing of now.
const CLIMATE_DAYS: i64 = 14;

/// The work in one rack.
struct RackLine {
    place: String,
    rack: RackId,
    duties: usize,
    unassigned: usize,
    late: usize,
    seconds: i64,
}

/// One person's day.
struct PersonLine {
    person: PersonCleared,
    at: AtWork,
    duties: usize,
    late: usize,
    seconds: i64,
}

impl PersonLine {
    /// The one action by which their duties go to the others.
    fn deed(&self) -> &'static str {
        if self.at.present { "Not in today" } else { "Pass on their duties" }
    }
}

/// A duty that nobody has, and why.
struct Unassigned {
    duty: Duty,
    why: String,
}

#[derive(Template)]
#[template(path = "rounds/today.html")]
struct TodayPage {
    layout: Layout,
    today: NaiveDate,
    zone: chrono_tz::Tz,
    planned: bool,
    duties: usize,
    seconds: i64,
    racks: Vec<RackLine>,
    people: Vec<PersonLine>,
    unassigned: Vec<Unassigned>,
    late: Vec<Duty>,
    holds: Vec<Hold>,
    sacs: Vec<SacToPull>,
    ending: Vec<PersonCleared>,
    suspended: Vec<PersonCleared>,
    incidents: Vec<Incident>,
    choices: Vec<Choice>,
    losses: Vec<Judged>,
    climate: Vec<RackClimate>,
    expected: Vec<Expected>,
}

pub(in crate::rounds) async fn today(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let (today, now, zone) = (app.today(), app.now(), app.site().zone);
    let open = store::open(&mut db).await?;
    let people = keepers(&mut db, today).await?;
    let team = store::share::at_work(&mut db, today).await?;
    let soon = today.checked_add_days(Days::new(ENDING_DAYS)).unwrap_or(NaiveDate::MAX);
    page(&TodayPage {
        layout: Layout::of(&app, &me, Section::Today).await?,
        today,
        zone,
        planned: store::planned_on(&mut db).await? == Some(today),
        duties: open.len(),
        seconds: open.iter().map(Duty::work).sum(),
        racks: racks(&open, today),
        unassigned: unassigned(&open, &team),
        late: open.iter().filter(|duty| duty.is_late(&today)).cloned().collect(),
        holds: handling::store::standing_holds(&mut db, now).await?,
        sacs: store::sacs_to_pull(&mut db, today).await?,
        ending: people.iter().filter(|person| person.until.is_some_and(|until| until <= soon)).cloned().collect(),
        losses: cohorts::store::alarmed(&mut db, now, zone).await?,
        climate: out_of_range(&mut db, now, zone).await?,
        expected: store::expected_moults(&mut db, today, zone).await?,
        suspended: people.iter().filter(|person| person.suspended_for.is_some()).cloned().collect(),
        incidents: handling::store::waiting_incidents(&mut db).await?,
        choices: people.iter().map(|person| Choice::new(person.id, called(person))).collect(),
        people: people.into_iter().filter_map(|person| person_line(person, &team, &open, today)).collect(),
    })
}

/// The racks whose climate is not what stands in them needs, as far as they were read in the last days.
async fn out_of_range(db: &mut sqlx::SqliteConnection, now: DateTime<Utc>, zone: Tz) -> Result<Vec<RackClimate>, AppError> {
    let racks = species::store::climate::racks(db, now - TimeDelta::days(CLIMATE_DAYS), zone).await?;
    Ok(racks.into_iter().filter(|rack| !rack.troubles().is_empty()).collect())
}

/// Those who look after animals, with what they are cleared for today.
async fn keepers(db: &mut sqlx::SqliteConnection, today: NaiveDate) -> Result<Vec<PersonCleared>, AppError> {
    let team = staff::store::active(db).await?;
    let keeps = |person: &PersonCleared| team.iter().any(|member| member.id == person.id && member.roles.looks_after());
    Ok(handling::store::people(db, today).await?.into_iter().filter(keeps).collect())
}

/// `Bo (clearance 2)`.
fn called(person: &PersonCleared) -> String {
    if person.level == 0 { person.name.clone() } else { format!("{} (clearance {})", person.name, person.level) }
}

fn person_line(person: PersonCleared, team: &[AtWork], open: &[Duty], today: NaiveDate) -> Option<PersonLine> {
    let theirs = |duty: &&Duty| [duty.assigned_to, duty.second_to].contains(&Some(person.id));
    let own: Vec<&Duty> = open.iter().filter(theirs).collect();
    Some(PersonLine {
        at: team.iter().find(|at| at.member == person.id)?.clone(),
        duties: own.len(),
        late: own.iter().filter(|duty| duty.is_late(&today)).count(),
        seconds: own.iter().map(|duty| duty.seconds).sum(),
        person,
    })
}

fn racks(open: &[Duty], today: NaiveDate) -> Vec<RackLine> {
    let mut racks: Vec<RackLine> = Vec::new();
    for duty in open {
        let rack = duty.rack_id.unwrap_or(RackId(0));
        if racks.last().is_none_or(|last| last.rack != rack) {
            racks.push(RackLine { place: rack_place(duty), rack, duties: 0, unassigned: 0, late: 0, seconds: 0 });
        }
        if let Some(last) = racks.last_mut() {
            last.duties += 1;
            last.unassigned += usize::from(duty.assigned_to.is_none());
            last.late += usize::from(duty.is_late(&today));
            last.seconds += duty.work();
        }
    }
    racks
}

fn unassigned(open: &[Duty], team: &[AtWork]) -> Vec<Unassigned> {
    let free = open.iter().filter(|duty| duty.assigned_to.is_none());
    free.map(|duty| Unassigned { why: store::why_unassigned(duty, team), duty: duty.clone() }).collect()
}
