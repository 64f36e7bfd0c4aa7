//! The week: who is in, for how long, who is away, and whether the minutes are enough for what is due.

use askama::Template;
use axum::extract::State;
use chrono::{Datelike as _, Days, NaiveDate, TimeDelta};
use serde::Deserialize;

use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Query, SignedIn};
use crate::house::ids::MemberId;
use crate::house::layout::{Choice, Layout, Section, choices, page};
use crate::house::{paths, text};
use crate::rounds;
use crate::staff::model::OnDay;
use crate::staff::model::rota::{Absence, AbsenceKind};
use crate::staff::store;
use crate::staff::store::rota;

/// Weeks further away than so many days are not shown.
const FARTHEST_DAYS: i64 = 3660;

/// Any day of the week to show; this week where it can't be read.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::staff) struct Asked {
    week: String,
}

impl Asked {
    fn monday(&self, today: NaiveDate) -> NaiveDate {
        let asked = self.week.trim().parse().ok().filter(|day: &NaiveDate| (*day - today).num_days().abs() <= FARTHEST_DAYS);
        let day = asked.unwrap_or(today);
        day - TimeDelta::days(i64::from(day.weekday().num_days_from_monday()))
    }
}

/// A day of the week, all people together.
struct DayLine {
    day: NaiveDate,
    people: i64,
    minutes: i64,
}

impl DayLine {
    fn name(&self) -> String {
        self.day.format("%a %-d %b").to_string()
    }
}

/// One person's week.
struct PersonLine {
    member: MemberId,
    name: String,
    days: Vec<OnDay>,
}

/// An absence with whose it is.
struct AbsenceLine {
    absence: Absence,
    name: String,
    /// Only the lead and whoever it is about read the note.
    note: String,
}

impl AbsenceLine {
    fn days(&self) -> String {
        let (first, last) = (text::day(&self.absence.first_day), text::day(&self.absence.last_day));
        if first == last { first } else { format!("{first} to {last}") }
    }
}

#[derive(Template)]
#[template(path = "staff/rota.html")]
struct RotaPage {
    layout: Layout,
    today: NaiveDate,
    monday: NaiveDate,
    sunday: NaiveDate,
    days: Vec<DayLine>,
    people: Vec<PersonLine>,
    absences: Vec<AbsenceLine>,
    /// Minutes of the duties that are open today.
    open: i64,
    /// Everybody today, when the week is this one.
    now: Vec<OnDay>,
    kinds: Vec<Choice>,
}

impl RotaPage {
    /// The address of the week so many days on.
    fn week(&self, days: i64) -> String {
        format!("{}?week={}", paths::ROTA, text::iso_day(&(self.monday + TimeDelta::days(days))))
    }

    /// How a day's minutes stand against today's duties.
    fn against(&self, line: &DayLine) -> String {
        match line.minutes - self.open {
            short @ ..0 => format!("{} short", -short),
            spare => format!("{spare} spare"),
        }
    }
}

pub(in crate::staff) async fn show(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    let today = app.today();
    let monday = asked.monday(today);
    let sunday = monday.checked_add_days(Days::new(6)).unwrap_or(monday);
    let week = rota::between(&mut db, monday, sunday).await?;
    let names = store::all(&mut db).await?;
    let layout = Layout::of(&app, &me, Section::Staff).await?;
    let reads = |absence: &Absence| layout.leads() || absence.member_id == me.id();
    let absences = rota::absences_between(&mut db, monday, sunday).await?;
    let absences = absences.into_iter().filter_map(|absence| {
        let name = names.iter().find(|member| member.id == absence.member_id && member.disabled_at.is_none())?.name.clone();
        Some(AbsenceLine { note: if reads(&absence) { absence.note.clone() } else { String::new() }, name, absence })
    });
    let absences = absences.collect();
    let open = rounds::store::share::open_minutes(&mut db, today).await?;
    let days = week.iter().map(|(day, people)| {
        let there = || people.iter().filter(|person| person.present);
        DayLine { day: *day, people: there().map(|_| 1).sum(), minutes: there().map(|person| i64::from(person.minutes)).sum() }
    });
    let first = week.values().next().cloned().unwrap_or_default();
    let people = first.into_iter().map(|person| PersonLine {
        member: person.member,
        name: person.name.clone(),
        days: week.values().flatten().filter(|other| other.member == person.member).cloned().collect(),
    });
    page(&RotaPage {
        today,
        monday,
        sunday,
        days: days.collect(),
        people: people.collect(),
        absences,
        open,
        now: week.get(&today).cloned().unwrap_or_default(),
        kinds: choices(AbsenceKind::ALL, AbsenceKind::code),
        layout,
    })
}
