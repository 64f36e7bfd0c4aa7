//! The lead's day: what is due, who has it, what nobody has and why, and what else wants an eye.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;

use super::round::{rack_place, racks_first};
use crate::cohorts::model::losses::Judged;
use crate::handling;
use crate::handling::model::RehousePlan;
use crate::handling::model::{Hold, Incident, PersonCleared};
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::ids::RackId;
use crate::house::layout::{Choice, Layout, Section, page};
use crate::house::{paths, text};
use crate::rounds::model::Duty;
use crate::rounds::model::finding::Finding;
use crate::rounds::model::prey::PreyToday;
use crate::rounds::model::share::AtWork;
use crate::rounds::store::{self, Expected, SacToPull};
use crate::species::model::climate::RackClimate;
use crate::{cohorts, species, staff};

/// Clearances that end within so many days are named.
const ENDING_DAYS: u64 = 30;

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
    /// `Bo 12, Cy 3`: who has how many of them.
    whose: String,
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

/// A figure at the head of the day, and the list behind it.
struct Figure {
    words: String,
    href: &'static str,
    grave: bool,
}

#[derive(Template)]
#[template(path = "rounds/today.html")]
struct TodayPage {
    layout: Layout,
    today: NaiveDate,
    zone: chrono_tz::Tz,
    planned: bool,
    not_written: i64,
    figures: Vec<Figure>,
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
    found: Vec<Finding>,
    rehouses: Vec<RehousePlan>,
    prey_today: Vec<PreyToday>,
}

impl TodayPage {
    /// The most rows that the day itself shows of a list; the list behind the figure has them all.
    const MOST: usize = 12;

    /// What must happen today, in one line: each figure opens its list.
    fn figures(&self, open: &[Duty]) -> Vec<Figure> {
        let seconds: i64 = open.iter().map(Duty::work).sum();
        let held = open.iter().filter(|duty| duty.held.is_some()).count();
        let all = Figure { words: format!("{} duties, {}", open.len(), text::work(&seconds)), href: paths::DUTIES, grave: false };
        let more = [
            (self.late.len(), "late", "late", "/today/duties?only=late", true),
            (self.unassigned.len(), "with nobody", "with nobody", "/today/duties?only=unassigned", true),
            (self.incidents.len(), "incident to review", "incidents to review", "#incidents", true),
            (self.losses.len(), "cohort dying faster than usual", "cohorts dying faster than usual", "#losses", true),
            (self.climate.len(), "rack out of range", "racks out of range", "#climate", true),
            (held, "on hold", "on hold", "/today/duties?only=held", false),
            (self.rehouses.len(), "rehouse planned", "rehouses planned", "#rehouses", false),
            (self.expected.len(), "moult expected", "moults expected", "#moults", false),
            (self.sacs.len(), "sac to pull", "sacs to pull", "#sacs", false),
            (self.found.len(), "finding to deal with", "findings to deal with", "#found", false),
            (self.ending.len(), "clearance ending", "clearances ending", "#ending", false),
        ];
        let told = more.into_iter().filter(|(count, ..)| *count > 0).map(|(count, one, many, href, grave)| Figure {
            words: text::count(&i64::try_from(count).unwrap_or(i64::MAX), one, many),
            href,
            grave,
        });
        std::iter::once(all).chain(told).collect()
    }
}

pub(in crate::rounds) async fn today(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let (today, now, zone) = (app.today(), app.now(), app.site().zone);
    let open = store::open(&mut db).await?;
    let people = keepers(&mut db, today).await?;
    let team = store::share::at_work(&mut db, today).await?;
    let soon = today.checked_add_days(Days::new(ENDING_DAYS)).unwrap_or(NaiveDate::MAX);
    let mut shown = TodayPage {
        layout: Layout::of(&app, &me, Section::Today).await?,
        today,
        zone,
        planned: store::planned_on(&mut db).await? == Some(today),
        not_written: store::queue::count_unsettled(&mut db, None).await?,
        figures: Vec::new(),
        racks: racks(&open, today),
        unassigned: unassigned(&open, &team),
        late: open.iter().filter(|duty| duty.is_late(&today)).cloned().collect(),
        holds: handling::store::standing_holds(&mut db, now).await?,
        sacs: store::sacs_to_pull(&mut db, today).await?,
        ending: people.iter().filter(|person| person.until.is_some_and(|until| until <= soon)).cloned().collect(),
        losses: cohorts::store::alarmed(&mut db, now, zone).await?,
        climate: out_of_range(&mut db, now, zone).await?,
        expected: store::expected_moults(&mut db, today, zone).await?,
        found: store::findings_to_do(&mut db).await?,
        rehouses: handling::store::planned_on(&mut db, today).await?,
        prey_today: store::prey::prey_today(&mut db, now, zone).await?,
        suspended: people.iter().filter(|person| person.suspended_for.is_some()).cloned().collect(),
        incidents: handling::store::waiting_incidents(&mut db).await?,
        choices: people.iter().map(|person| Choice::new(person.id, called(person))).collect(),
        people: people.into_iter().filter_map(|person| person_line(person, &team, &open, today)).collect(),
    };
    // What is overdue comes first.
    shown.late.sort_by_key(|duty| (duty.due_on, duty.id));
    shown.unassigned.sort_by_key(|line| (line.duty.due_on, line.duty.id));
    shown.figures = shown.figures(&open);
    page(&shown)
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
    for duty in racks_first(open) {
        let rack = duty.rack_id.unwrap_or(RackId(0));
        if racks.last().is_none_or(|last| last.rack != rack) {
            racks.push(RackLine { place: rack_place(duty), rack, duties: 0, unassigned: 0, late: 0, seconds: 0, whose: String::new() });
        }
        if let Some(last) = racks.last_mut() {
            last.duties += 1;
            last.unassigned += usize::from(duty.assigned_to.is_none());
            last.late += usize::from(duty.is_late(&today));
            last.seconds += duty.work();
        }
    }
    for rack in &mut racks {
        rack.whose = whose(open.iter().filter(|duty| duty.rack_id.unwrap_or(RackId(0)) == rack.rack));
    }
    racks
}

/// `Bo 12, Cyprian 3`.
fn whose<'a>(duties: impl Iterator<Item = &'a Duty>) -> String {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for name in duties.filter_map(|duty| duty.assigned_name.as_deref()) {
        *counts.entry(name).or_default() += 1;
    }
    counts.into_iter().map(|(name, count)| format!("{name} {count}")).collect::<Vec<_>>().join(", ")
}

fn unassigned(open: &[Duty], team: &[AtWork]) -> Vec<Unassigned> {
    let free = open.iter().filter(|duty| duty.assigned_to.is_none());
    free.map(|duty| Unassigned { why: store::why_unassigned(duty, team), duty: duty.clone() }).collect()
}
