//! One person's usual week and absences, for the lead.

use askama::Template;
use axum::extract::State;
use chrono::{Days, NaiveDate};
use serde::Deserialize;
use sqlx::SqliteConnection;

use super::absences::AbsenceForm;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::MemberId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};
use crate::staff::model::MemberRow;
use crate::staff::model::rota::{
    ABSENCE_BACK_DAYS, Absence, AbsenceKind, Hours, WEEKDAYS, Week, WorkPattern, clock, clock_minutes, holding,
};
use crate::staff::store;
use crate::staff::store::rota;

/// A week can be entered that began so many days ago.
const BACK_DAYS: u64 = 60;

/// Absences that ended longer ago than so many days are not listed.
const LISTED_DAYS: u64 = 90;

const STARTS: [&str; 7] = ["starts-1", "starts-2", "starts-3", "starts-4", "starts-5", "starts-6", "starts-7"];
const ENDS: [&str; 7] = ["ends-1", "ends-2", "ends-3", "ends-4", "ends-5", "ends-6", "ends-7"];
const MINUTES: [&str; 7] = ["minutes-1", "minutes-2", "minutes-3", "minutes-4", "minutes-5", "minutes-6", "minutes-7"];

/// A week as typed: the three lists hold seven entries each, Monday first; the days that are ticked are worked.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct WeekForm {
    valid_from: String,
    works: Vec<usize>,
    starts: Vec<String>,
    ends: Vec<String>,
    minutes: Vec<String>,
}

impl WeekForm {
    /// As a week that stands has it, from a day on. Days off show what is usual, for whoever ticks them.
    fn of(week: &Week, valid_from: NaiveDate) -> Self {
        let usual = week.iter().flatten().next().copied().unwrap_or(Hours::USUAL);
        let each = |of: fn(&Hours) -> String| week.iter().map(|hours| of(&hours.unwrap_or(usual))).collect();
        Self {
            valid_from: text::iso_day(&valid_from),
            works: (1..).zip(week).filter_map(|(weekday, hours)| hours.map(|_| weekday)).collect(),
            starts: each(|hours| clock(hours.starts)),
            ends: each(|hours| clock(hours.ends)),
            minutes: each(|hours| hours.minutes.to_string()),
        }
    }

    fn typed(list: &[String], place: usize) -> &str {
        list.get(place).map_or("", String::as_str)
    }

    fn check(&self, today: NaiveDate) -> Result<(NaiveDate, Week), Mistakes> {
        let mut check = Check::new();
        let earliest = today.checked_sub_days(Days::new(BACK_DAYS)).unwrap_or(today);
        let valid_from = check.coming_day("valid_from", &self.valid_from, earliest);
        let mut week = Week::default();
        for (place, day) in week.iter_mut().enumerate() {
            if self.works.contains(&(place + 1)) {
                *day = self.day(&mut check, place);
            }
        }
        match valid_from.filter(|_| check.ok()) {
            Some(valid_from) => Ok((valid_from, week)),
            None => Err(check.mistakes()),
        }
    }

    fn day(&self, check: &mut Check, place: usize) -> Option<Hours> {
        let name = WEEKDAYS.get(place)?;
        let (starts_field, ends_field, minutes_field) = (*STARTS.get(place)?, *ENDS.get(place)?, *MINUTES.get(place)?);
        let mut hour = |field, typed: &str| {
            let minutes = clock_minutes(typed);
            if minutes.is_none() {
                check.add(field, format!("{name}: enter a time as hours and minutes, from 00:00 to 24:00, such as 08:30."));
            }
            minutes
        };
        let starts = hour(starts_field, Self::typed(&self.starts, place));
        let ends = hour(ends_field, Self::typed(&self.ends, place));
        let minutes = Self::typed(&self.minutes, place).trim().parse::<u32>().ok().filter(|minutes| *minutes <= 1440);
        if minutes.is_none() {
            check.add(minutes_field, format!("{name}: enter the minutes for duties as a whole number from 0 to 1440."));
        }
        let (starts, ends) = (starts?, ends?);
        if ends <= starts {
            check.add(ends_field, format!("{name}: the end must be later than the beginning, on the same day."));
            return None;
        }
        let (span, minutes) = (ends - starts, minutes?);
        if minutes > span {
            check.add(
                minutes_field,
                format!("{name}: {minutes} minutes for duties do not fit into the {span} between {} and {}.", clock(starts), clock(ends)),
            );
            return None;
        }
        Some(Hours { starts, ends, minutes })
    }
}

/// One row of the form.
struct DayBox {
    weekday: usize,
    name: &'static str,
    works: bool,
    starts: String,
    ends: String,
    minutes: String,
    error: String,
}

/// A week of the past, of now or to come.
struct WeekLine {
    pattern: WorkPattern,
    holds: bool,
}

impl WeekLine {
    /// `Monday 08:00–17:00, 240 min; …`, equal days together.
    fn words(&self) -> String {
        let days: Vec<(&str, Option<Hours>)> = WEEKDAYS.iter().copied().zip(self.pattern.week).collect();
        let runs = days.chunk_by(|(_, one), (_, next)| one == next).filter_map(|run| {
            let ((first, hours), (last, _)) = (run.first()?, run.last()?);
            let hours = hours.as_ref()?;
            let name = if run.len() == 1 { (*first).to_owned() } else { format!("{first} to {last}") };
            Some(format!("{name} {}, {} min", hours.words(), hours.minutes))
        });
        let runs: Vec<String> = runs.collect();
        if runs.is_empty() { "no working day".to_owned() } else { runs.join("; ") }
    }
}

#[derive(Template)]
#[template(path = "staff/hours.html")]
pub(super) struct HoursPage {
    layout: Layout,
    member: MemberRow,
    zone: chrono_tz::Tz,
    valid_from: String,
    boxes: Vec<DayBox>,
    weeks: Vec<WeekLine>,
    absences: Vec<Absence>,
    absence: AbsenceForm,
    kinds: Vec<Choice>,
    mistakes: Mistakes,
}

impl HoursPage {
    fn days(&self, absence: &Absence) -> String {
        let (first, last) = (text::day(&absence.first_day), text::day(&absence.last_day));
        if first == last { first } else { format!("{first} to {last}") }
    }
}

/// A member who looks after animals.
///
/// # Errors
/// Not found for anybody else: their hours bear on no duty.
pub(super) async fn keeper(db: &mut SqliteConnection, id: MemberId) -> Result<MemberRow, AppError> {
    let member = store::require(db, id).await?;
    if member.roles.looks_after() { Ok(member) } else { Err(AppError::NotFound) }
}

/// The page, with what was typed into either of its forms.
pub(super) async fn draw(
    app: &App,
    me: &SignedIn,
    id: MemberId,
    week: Option<&WeekForm>,
    absence: AbsenceForm,
    mistakes: Mistakes,
) -> Result<HoursPage, AppError> {
    let mut db = app.read().await?;
    let (member, today) = (keeper(&mut db, id).await?, app.today());
    let patterns = rota::patterns_of(&mut db, id).await?;
    let now = holding(&patterns, today);
    let usual = now.map_or([Some(Hours::USUAL); 7], |pattern| pattern.week);
    let standing = WeekForm::of(&usual, today);
    let input = week.unwrap_or(&standing);
    let holds = now.map(|pattern| pattern.id);
    let since = today.checked_sub_days(Days::new(LISTED_DAYS)).unwrap_or(today);
    Ok(HoursPage {
        layout: Layout::of(app, me, Section::Staff).await?,
        zone: app.site().zone,
        valid_from: input.valid_from.clone(),
        boxes: boxes(input, &mistakes),
        absences: rota::absences_of(&mut db, id, since).await?,
        weeks: patterns.into_iter().rev().map(|pattern| WeekLine { holds: holds == Some(pattern.id), pattern }).collect(),
        kinds: choices(AbsenceKind::ALL, AbsenceKind::code),
        member,
        absence,
        mistakes,
    })
}

fn boxes(input: &WeekForm, mistakes: &Mistakes) -> Vec<DayBox> {
    let fields = STARTS.iter().zip(ENDS).zip(MINUTES);
    let rows = WEEKDAYS.iter().zip(fields).enumerate();
    rows.map(|(place, (name, ((starts, ends), minutes)))| {
        let wrong: Vec<String> = [*starts, ends, minutes].iter().map(|field| mistakes.of(field)).filter(|said| !said.is_empty()).collect();
        DayBox {
            weekday: place + 1,
            name,
            works: input.works.contains(&(place + 1)),
            starts: WeekForm::typed(&input.starts, place).to_owned(),
            ends: WeekForm::typed(&input.ends, place).to_owned(),
            minutes: WeekForm::typed(&input.minutes, place).to_owned(),
            error: wrong.join(" "),
        }
    })
    .collect()
}

pub(in crate::staff) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>) -> Answer {
    page(&draw(&app, &me, id, None, AbsenceForm::default(), Mistakes::none()).await?)
}

pub(in crate::staff) async fn set_week(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<WeekForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&draw(&app, &me, id, Some(&form.input), AbsenceForm::default(), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: MemberId, form: &Form<WeekForm>) -> Answer {
    let (valid_from, week) = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let member = keeper(write.db(), id).await?;
    let before = rota::patterns_of(write.db(), id).await?;
    let pattern = rota::set_week(&mut write, id, valid_from, &week).await?;
    let after = rota::patterns_of(write.db(), id).await?.into_iter().find(|entered| entered.id == pattern).ok_or(AppError::NotFound)?;
    let words = |pattern: WorkPattern| WeekLine { pattern, holds: false }.words();
    let old = holding(&before, valid_from).cloned().map_or_else(|| "no week in the book".to_owned(), words);
    let (day, new) = (text::day(&valid_from), words(after));
    let change = Change::new("member.week_set", format!("member {id}"), format!("from {day}: {new}")).from(old);
    me.done(write, change, &paths::hours(&id), format!("The week of {} from {day}: {new}.", member.name)).await
}

/// The earliest day on which an absence may begin.
pub(super) fn earliest_absence(today: NaiveDate) -> NaiveDate {
    today.checked_sub_days(Days::new(ABSENCE_BACK_DAYS)).unwrap_or(today)
}
