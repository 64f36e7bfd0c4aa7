//! The log beside a sac: readings with a chart, the warmth it has had, and striking a slip out.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::breeding::model::Sac;
use crate::breeding::model::incubation::{NewSacReading, SacReading};
use crate::breeding::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::chart::{self, Axis, Chart, Figures, Mark, Shape, Style, day_value};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{SacId, SacReadingId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::breeding::incubation::{IncubationRules, USUAL_HUMIDITY, Warmth, warmth};
use crate::species;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct ReadingForm {
    day: String,
    time: String,
    celsius: String,
    humidity: String,
}

impl ReadingForm {
    fn check(&self, app: &App, sac: SacId) -> Result<NewSacReading, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, app.today());
        let at = day.and_then(|day| check.hour("time", &self.time, day, app.site().zone, app.now()));
        let decicelsius = check.optional_tenths("celsius", &self.celsius, -50..=600);
        let humidity = check.optional_whole("humidity", &self.humidity, 1..=100);
        if decicelsius.is_none() && check.ok() {
            check.add("celsius", "Enter the temperature.");
        }
        match (day, at, decicelsius) {
            (Some(day), Some(at), Some(decicelsius)) if check.ok() => Ok(NewSacReading { sac, at, day, decicelsius, humidity }),
            _ => Err(check.mistakes()),
        }
    }
}

/// What the log of a sac adds up to.
pub(super) struct Told {
    /// What is wrong, worst and newest first.
    pub(super) warnings: Vec<String>,
    /// The warmth it has had, in words.
    pub(super) warmth: String,
}

/// A reading with what is wrong with it.
struct Line {
    reading: SacReading,
    doubt: String,
}

#[derive(Template)]
#[template(path = "breeding/log.html")]
struct LogPage {
    layout: Layout,
    zone: Tz,
    sac: Sac,
    told: Told,
    charts: Vec<Chart>,
    lines: Vec<Line>,
    limits: (u32, u32, u32),
    input: ReadingForm,
    mistakes: Mistakes,
}

impl LogPage {
    async fn of(app: &App, me: &SignedIn, sac: Sac, input: ReadingForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let zone = app.site().zone;
        let readings = store::incubation::readings(&mut db, sac.id).await?;
        let rules = rules(&mut db, &sac).await?;
        let told = told(&sac, &readings, rules, app.today(), zone)?;
        let charts =
            [temperature(&sac, &readings, rules, zone), warmth_chart(&sac, &readings, app.today())?].into_iter().flatten().collect();
        let lines = readings.into_iter().rev().map(|reading| Line { doubt: doubt(&reading, rules), reading });
        Ok(Self {
            layout: Layout::of(app, me, Section::Breeding).await?,
            zone,
            told,
            charts,
            lines: lines.collect(),
            limits: rules.limits(),
            sac,
            input,
            mistakes,
        })
    }
}

/// How the species' sacs are kept.
pub(super) async fn rules(db: &mut SqliteConnection, sac: &Sac) -> Result<IncubationRules, AppError> {
    match species::store::rules_now(db, sac.species_id).await {
        Err(AppError::NotFound) => Ok(IncubationRules::default()),
        rules => Ok(rules?.incubation),
    }
}

fn doubt(reading: &SacReading, rules: IncubationRules) -> String {
    let humid = reading.humidity.and_then(|percent| {
        let (least, most) = USUAL_HUMIDITY;
        if percent < least { Some("too dry") } else { (percent > most).then_some("too damp") }
    });
    let warm = rules.doubt(reading.decicelsius).map(|doubt| doubt.to_string());
    warm.into_iter().chain(humid.map(ToOwned::to_owned)).collect::<Vec<_>>().join(", ")
}

/// The last day of a sac's log: today, or the day it ended.
fn until(sac: &Sac, today: NaiveDate) -> NaiveDate {
    sac.ended_on.unwrap_or(today)
}

fn warmth_of(sac: &Sac, readings: &[SacReading], today: NaiveDate) -> Result<Option<Warmth>, AppError> {
    let by_day: Vec<(NaiveDate, f64)> = readings.iter().map(|one| (one.day, one.decicelsius as f64 / 10.0)).collect();
    let base = sac.base_decicelsius as f64 / 10.0;
    warmth(&by_day, sac.laid_on, until(sac, today), base).map_err(|error| AppError::Internal(error.into()))
}

/// What the log of a sac adds up to, in words.
pub(super) fn told(sac: &Sac, readings: &[SacReading], rules: IncubationRules, today: NaiveDate, zone: Tz) -> Result<Told, AppError> {
    let wrong = readings.iter().rev().filter(|one| rules.doubt(one.decicelsius).is_some() || !doubt(one, rules).is_empty());
    let words = |one: &SacReading| format!("{} on {}: {}.", shown(one), text::instant(&one.at, &zone), doubt(one, rules));
    let base = text::celsius(&sac.base_decicelsius);
    let warmth = warmth_of(sac, readings, today)?.map_or_else(
        || "No reading yet.".to_owned(),
        |warmth| {
            format!(
                "{:.0} degree-days above {base} since it was laid ({} of {} days have a reading; the others are taken as the reading before).",
                warmth.total,
                warmth.read,
                warmth.by_day.len()
            )
        },
    );
    Ok(Told { warnings: wrong.take(3).map(words).collect(), warmth })
}

/// A reading in words: `26.5 °C, 78 % humidity`.
fn shown(one: &SacReading) -> String {
    let humidity = one.humidity.map(|percent| format!(", {percent} % humidity")).unwrap_or_default();
    format!("{}{humidity}", text::celsius(&one.decicelsius))
}

/// An instant as a value of an axis of days.
fn moment(at: &DateTime<Utc>, zone: Tz) -> f64 {
    let local = at.with_timezone(&zone).naive_local();
    day_value(local.date()) + f64::from(chrono::Timelike::num_seconds_from_midnight(&local)) / 86_400.0
}

fn temperature(sac: &Sac, readings: &[SacReading], rules: IncubationRules, zone: Tz) -> Option<Chart> {
    let (first, last) = (readings.first()?, readings.last()?);
    let (least, most, risky) = rules.limits();
    let points: Vec<(f64, f64)> = readings.iter().map(|one| (moment(&one.at, zone), one.decicelsius as f64 / 10.0)).collect();
    let x = Axis::days("day", first.day, last.day.succ_opt()?);
    let (low, high) =
        points.iter().fold((f64::from(least), f64::from(risky)), |(low, high), (_, value)| (low.min(*value), high.max(*value)));
    let (from, to) = (x.from, x.to);
    let mut figures = Figures::new(&["when", "°C", "humidity, %"]);
    figures.rows = readings
        .iter()
        .rev()
        .map(|one| {
            let humidity = one.humidity.map(|percent| percent.to_string()).unwrap_or_default();
            vec![
                one.at.with_timezone(&zone).format("%Y-%m-%d %H:%M").to_string(),
                format!("{:.1}", one.decicelsius as f64 / 10.0),
                humidity,
            ]
        })
        .collect();
    let count = text::count(&i64::try_from(readings.len()).unwrap_or(i64::MAX), "reading", "readings");
    Some(Chart {
        id: "temperature",
        title: format!("Temperature beside the sac of {}", sac.dam()),
        description: format!("{count}; the last is {}. Kept from {least} to {most} °C, at risk above {risky} °C.", shown(last)),
        x,
        y: Axis::numbers("°C", low - 1.0, high + 1.0),
        marks: vec![
            Mark::new(
                Style::Wanted,
                Shape::Band(vec![(from, f64::from(least), f64::from(most)), (to, f64::from(least), f64::from(most))]),
                "usual",
            ),
            Mark::new(Style::Limits, Shape::Line(vec![(from, f64::from(risky)), (to, f64::from(risky))]), "at risk above"),
            Mark::new(Style::Quiet, Shape::Line(points.clone()), ""),
            Mark::new(Style::Main, Shape::Dots(points), "readings"),
        ],
        under: None,
        figures,
        csv: format!("{}/log.csv", paths::sac(&sac.id)),
    })
}

fn warmth_chart(sac: &Sac, readings: &[SacReading], today: NaiveDate) -> Result<Option<Chart>, AppError> {
    let Some(warmth) = warmth_of(sac, readings, today)? else { return Ok(None) };
    let Some(end) = until(sac, today).succ_opt() else { return Ok(None) };
    let points: Vec<(f64, f64)> = warmth.by_day.iter().map(|(day, sum)| (day_value(*day) + 1.0, *sum)).collect();
    let mut figures = Figures::new(&["day", "degree-days"]);
    figures.rows = warmth.by_day.iter().rev().map(|(day, sum)| vec![day.to_string(), format!("{sum:.1}")]).collect();
    let base = text::celsius(&sac.base_decicelsius);
    Ok(Some(Chart {
        id: "warmth",
        title: format!("Warmth of the sac of {}", sac.dam()),
        description: format!("{:.0} degree-days above {base} since it was laid on {}.", warmth.total, text::day(&sac.laid_on)),
        x: Axis::days("day", sac.laid_on, end),
        y: Axis::numbers("degree-days, °C × days", 0.0, warmth.total),
        marks: vec![Mark::new(Style::Main, Shape::Line(points), "sum since laying")],
        under: None,
        figures,
        csv: format!("{}/warmth.csv", paths::sac(&sac.id)),
    }))
}

pub(in crate::breeding) async fn log(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    let (day, time) = (text::iso_day(&app.today()), text::hour(&app.now(), &app.site().zone));
    let input = ReadingForm { day, time, ..ReadingForm::default() };
    page(&LogPage::of(&app, &me, sac, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn temperature_csv(State(app): State<App>, Path(id): Path<SacId>) -> Answer {
    let mut db = app.read().await?;
    let sac = store::require_sac(&mut db, id).await?;
    let (readings, rules) = (store::incubation::readings(&mut db, id).await?, rules(&mut db, &sac).await?);
    let chart = temperature(&sac, &readings, rules, app.site().zone).ok_or(AppError::NotFound)?;
    chart::download(&chart.figures, &format!("sac-{id}-readings"))
}

pub(in crate::breeding) async fn warmth_csv(State(app): State<App>, Path(id): Path<SacId>) -> Answer {
    let mut db = app.read().await?;
    let sac = store::require_sac(&mut db, id).await?;
    let readings = store::incubation::readings(&mut db, id).await?;
    let chart = warmth_chart(&sac, &readings, app.today())?.ok_or(AppError::NotFound)?;
    chart::download(&chart.figures, &format!("sac-{id}-warmth"))
}

pub(in crate::breeding) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>, form: Form<ReadingForm>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    match note(&app, &me, &sac, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&LogPage::of(&app, &me, sac, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn note(app: &App, me: &SignedIn, sac: &Sac, form: &Form<ReadingForm>) -> Answer {
    let new = form.input.check(app, sac.id)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::incubation::insert_reading(&mut write, &new).await?;
    let rules = rules(write.db(), sac).await?;
    let shown = text::celsius(&new.decicelsius);
    let doubt = rules.doubt(new.decicelsius).map(|doubt| {
        let (least, most, risky) = rules.limits();
        format!(" That is {doubt}: kept from {least} to {most} °C, at risk above {risky} °C.")
    });
    let change = Change::new("sac.read", format!("sac {}", sac.id), shown.as_str());
    let say = format!("{shown} is in the log.{}", doubt.unwrap_or_default());
    me.done(write, change, &format!("{}/log", paths::sac(&sac.id)), say).await
}

pub(in crate::breeding) async fn strike(
    State(app): State<App>,
    me: SignedIn,
    Path((sac, reading)): Path<(SacId, SacReadingId)>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let struck = store::incubation::strike_reading(&mut write, sac, reading).await?;
    let words = shown(&struck);
    let change = Change::new("sac.reading_struck_out", format!("sac {sac}"), words.as_str());
    me.done(write, change, &format!("{}/log", paths::sac(&sac)), format!("The reading of {words} no longer counts.")).await
}
