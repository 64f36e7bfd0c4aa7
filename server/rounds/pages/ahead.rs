//! The days ahead: hours of duties against the hours that people have, who would do how much, and what can't be done.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use crate::house::app::App;
use crate::house::chart::{self, Axis, Chart, Figures, Mark, Shape, Style, day_value};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::MemberId;
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::ahead::{Ahead, Coming};
use crate::rounds::store;

/// How many days are looked ahead.
const DAYS: u32 = 14;

/// One day of the table.
struct DayLine {
    day: NaiveDate,
    path: String,
    duties: usize,
    needed: String,
    there: String,
    /// Hours of work beyond what people have or are cleared for; none when all can be done.
    over: Option<String>,
    /// What each person would do, in the order of the head.
    people: Vec<PersonCell>,
    /// How many of each kind, in the order of the head.
    kinds: Vec<String>,
}

/// One person on one day.
struct PersonCell {
    /// `1 h 20 min, 33 %`, or why they are not in.
    says: String,
    present: bool,
    full: bool,
}

/// Work for two that can't be done on its day.
struct Stuck {
    day: NaiveDate,
    label: String,
    why: String,
}

#[derive(Template)]
#[template(path = "rounds/ahead.html")]
struct AheadPage {
    layout: Layout,
    people: Vec<String>,
    kinds: Vec<DutyKind>,
    lines: Vec<DayLine>,
    over: Vec<(String, String)>,
    stuck: Vec<Stuck>,
    chart: Option<Chart>,
}

pub(in crate::rounds) async fn ahead(State(app): State<App>, me: SignedIn) -> Answer {
    let days = store::ahead(&mut *app.read().await?, app.now(), app.site().zone, DAYS).await?;
    let (team, kinds) = (team(&days), kinds(&days));
    let lines: Vec<DayLine> = days.iter().map(|ahead| line(ahead, &team, &kinds)).collect();
    page(&AheadPage {
        layout: Layout::of(&app, &me, Section::Today).await?,
        people: team.iter().map(|(_, name)| name.clone()).collect(),
        over: lines.iter().filter_map(|line| Some((text::long_day(&line.day), line.over.clone()?))).collect(),
        stuck: days.iter().flat_map(stuck).collect(),
        chart: drawn(&days),
        kinds,
        lines,
    })
}

pub(in crate::rounds) async fn ahead_csv(State(app): State<App>) -> Answer {
    let days = store::ahead(&mut *app.read().await?, app.now(), app.site().zone, DAYS).await?;
    chart::download(&figures(&days), "ahead")
}

/// Everybody who looks after animals on any of the days.
fn team(days: &[Ahead]) -> Vec<(MemberId, String)> {
    let mut team: Vec<(MemberId, String)> = Vec::new();
    for person in days.iter().flat_map(|ahead| &ahead.people) {
        if !team.iter().any(|(id, _)| *id == person.member) {
            team.push((person.member, person.name.clone()));
        }
    }
    team
}

/// The kinds of duties that fall due on any of the days.
fn kinds(days: &[Ahead]) -> Vec<DutyKind> {
    let found = |kind: &&DutyKind| days.iter().flat_map(|ahead| &ahead.duties).any(|coming| coming.coming.duty.kind == **kind);
    DutyKind::ALL.iter().filter(found).copied().collect()
}

fn line(ahead: &Ahead, team: &[(MemberId, String)], kinds: &[DutyKind]) -> DayLine {
    DayLine {
        day: ahead.day,
        path: paths::day_ahead(&ahead.day),
        duties: ahead.duties.iter().filter(|coming| coming.coming.expected >= 1.0).count(),
        needed: hours(ahead.shared.needed),
        there: hours(minutes(ahead.shared.there)),
        over: (ahead.shared.undone > 0).then(|| hours(minutes(ahead.shared.undone))),
        people: team.iter().map(|(member, _)| cell(ahead, member)).collect(),
        kinds: kinds.iter().map(|kind| written(of_kind(ahead, *kind))).collect(),
    }
}

/// How many duties of a kind are expected.
fn of_kind(ahead: &Ahead, kind: DutyKind) -> f64 {
    ahead.duties.iter().filter(|coming| coming.coming.duty.kind == kind).map(|coming| coming.coming.expected).sum()
}

/// A number of duties; expected ones with one decimal place.
fn written(count: f64) -> String {
    match count {
        none if none < 0.05 => "–".to_owned(),
        whole if (whole - whole.round()).abs() < 0.05 => format!("{whole:.0}"),
        part => format!("{part:.1}"),
    }
}

fn cell(ahead: &Ahead, member: &MemberId) -> PersonCell {
    let Some(person) = ahead.people.iter().find(|person| person.member == *member) else {
        return PersonCell { says: "–".to_owned(), present: false, full: false };
    };
    if let Some(why) = &person.why_not {
        return PersonCell { says: why.clone(), present: false, full: false };
    }
    let (load, of) = ahead.load(member).unwrap_or((0, 0));
    let share = if of == 0 { 0.0 } else { minutes(load) / minutes(of) };
    PersonCell { says: format!("{}, {}", hours(minutes(load)), text::percent(&share)), present: true, full: share > 0.995 }
}

fn stuck(ahead: &Ahead) -> Vec<Stuck> {
    let together = |not: &crate::reckoning::rota::NotDone| {
        if not.never_together { "two people of that clearance are never in together on this day".to_owned() } else { not.reason.clone() }
    };
    let left = ahead.shared.not_done.iter();
    left.map(|not| Stuck { day: ahead.day, label: not.label.clone(), why: together(not) }).collect()
}

/// Whole minutes as a number: those of a day are small.
fn minutes(whole: u64) -> f64 {
    whole as f64
}

/// Minutes of work in words.
fn hours(minutes: f64) -> String {
    // Minutes of a day's work: far below what a whole number holds.
    text::work(&((minutes * 60.0).round() as i64))
}

fn figures(days: &[Ahead]) -> Figures {
    let (team, kinds) = (team(days), kinds(days));
    let mut figures = Figures::new(&["day", "duties", "hours needed", "hours there", "hours undone"]);
    figures.head.extend(team.iter().map(|(_, name)| format!("{name}, hours")));
    figures.head.extend(kinds.iter().map(|kind| kind.label().to_owned()));
    for ahead in days {
        let in_hours = |minutes: f64| format!("{:.2}", minutes / 60.0);
        let mut row = vec![
            text::iso_day(&ahead.day),
            ahead.duties.iter().filter(|coming| coming.coming.expected >= 1.0).count().to_string(),
            in_hours(ahead.shared.needed),
            in_hours(minutes(ahead.shared.there)),
            in_hours(minutes(ahead.shared.undone)),
        ];
        row.extend(team.iter().map(|(member, _)| in_hours(minutes(ahead.load(member).map_or(0, |(load, _)| load)))));
        row.extend(kinds.iter().map(|kind| format!("{:.1}", of_kind(ahead, *kind))));
        figures.rows.push(row);
    }
    figures
}

/// Hours needed against hours there, day by day.
fn drawn(days: &[Ahead]) -> Option<Chart> {
    let (first, last) = (days.first()?.day, days.last()?.day.succ_opt()?);
    let steps = |of: &dyn Fn(&Ahead) -> f64| {
        let mut points: Vec<(f64, f64)> = days.iter().map(|ahead| (day_value(ahead.day), of(ahead) / 60.0)).collect();
        points.extend(points.last().map(|(_, value)| (day_value(last), *value)));
        points
    };
    let (needed, there) = (steps(&|ahead| ahead.shared.needed), steps(&|ahead| minutes(ahead.shared.there)));
    let highest = needed.iter().chain(&there).map(|(_, value)| *value).fold(1.0, f64::max);
    let over = days.iter().filter(|ahead| ahead.shared.undone > 0).count();
    let from_nothing = there.iter().map(|(day, value)| (*day, 0.0, *value)).collect();
    Some(Chart {
        id: "hours",
        title: "Hours of duties against the hours that people have".to_owned(),
        description: match over {
            0 => "On each of these days all duties can be done by those who are in.".to_owned(),
            1 => "On one of these days not all duties can be done.".to_owned(),
            over => format!("On {over} of these {} days not all duties can be done.", days.len()),
        },
        x: Axis::days("day", first, last),
        y: Axis::numbers("hours", 0.0, highest),
        marks: vec![
            Mark::new(Style::Wanted, Shape::StepBand(from_nothing), "hours there"),
            Mark::new(Style::Main, Shape::Steps(needed), "hours needed"),
        ],
        under: None,
        figures: figures(days),
        csv: format!("{}.csv", paths::AHEAD),
    })
}

/// The duties of one rack on a coming day.
struct RackDuties {
    place: String,
    duties: Vec<Coming>,
    minutes: f64,
}

impl RackDuties {
    fn work(&self) -> String {
        hours(self.minutes)
    }
}

#[derive(Template)]
#[template(path = "rounds/ahead_day.html")]
struct DayPage {
    layout: Layout,
    day: NaiveDate,
    racks: Vec<RackDuties>,
    duties: usize,
    work: String,
    kinds: Vec<(DutyKind, String)>,
}

/// The duties of one of the coming days.
pub(in crate::rounds) async fn day(State(app): State<App>, me: SignedIn, Path(day): Path<NaiveDate>) -> Answer {
    let today = app.today();
    let ahead = u32::try_from((day - today).num_days()).ok().filter(|ahead| *ahead < DAYS).ok_or(AppError::NotFound)?;
    let mut coming = store::coming(&mut *app.read().await?, app.now(), app.site().zone, ahead + 1).await?;
    coming.retain(|coming| coming.coming.day == day);
    let mut kinds: BTreeMap<DutyKind, f64> = BTreeMap::new();
    for coming in &coming {
        *kinds.entry(coming.coming.duty.kind).or_default() += coming.coming.expected;
    }
    page(&DayPage {
        layout: Layout::of(&app, &me, Section::Today).await?,
        day,
        duties: coming.iter().filter(|coming| coming.coming.expected >= 1.0).count(),
        work: hours(coming.iter().map(|coming| coming.coming.minutes()).sum()),
        kinds: kinds.into_iter().map(|(kind, count)| (kind, written(count))).collect(),
        racks: by_rack(coming),
    })
}

fn by_rack(coming: Vec<Coming>) -> Vec<RackDuties> {
    let mut racks: Vec<RackDuties> = Vec::new();
    for coming in coming {
        let minutes = coming.coming.minutes();
        match racks.last_mut().filter(|last| last.place == coming.place) {
            Some(last) => {
                last.minutes += minutes;
                last.duties.push(coming);
            }
            None => racks.push(RackDuties { place: coming.place.clone(), minutes, duties: vec![coming] }),
        }
    }
    racks
}
