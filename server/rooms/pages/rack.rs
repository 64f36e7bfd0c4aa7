//! A rack: what stands in it, and its climate beside what it needs.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use serde::Deserialize;

use super::reading::shown;
use crate::house::app::App;
use crate::house::chart::{self, Axis, Chart, Figures, Mark, Shape, Style, day_value};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::ids::RackId;
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::reckoning::climate::band::{Needed, Quantity};
use crate::reckoning::climate::psychrometrics::air;
use crate::rooms::model::{Reading, Standing};
use crate::rooms::store;
use crate::species;
use crate::species::model::climate::RackClimate;

/// The spans of days that can be looked at; the first is the usual one.
const SPANS: [i64; 3] = [30, 90, 365];
/// More readings than this are drawn as the range of each day.
const MOST_POINTS: usize = 130;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::rooms) struct Asked {
    days: String,
}

impl Asked {
    fn days(&self) -> i64 {
        let asked = self.days.parse().ok();
        SPANS.into_iter().find(|span| Some(*span) == asked).unwrap_or(SPANS[0])
    }
}

#[derive(Template)]
#[template(path = "rooms/rack.html")]
struct RackPage {
    layout: Layout,
    zone: Tz,
    climate: RackClimate,
    standing: Vec<Standing>,
    charts: Vec<Chart>,
    air: Option<String>,
    spans: Vec<(i64, bool)>,
    latest: Vec<Reading>,
}

pub(in crate::rooms) async fn rack(State(app): State<App>, me: SignedIn, Path(id): Path<RackId>, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    let days = asked.days();
    let climate = climate_of(&app, &mut db, id, days).await?;
    page(&RackPage {
        layout: Layout::of(&app, &me, Section::Rooms).await?,
        zone: app.site().zone,
        standing: store::standing(&mut db, id).await?,
        charts: [Quantity::Celsius, Quantity::Humidity].iter().filter_map(|of| drawn(&climate, *of, days, &app)).collect(),
        air: climate.readings.iter().rev().find_map(damp),
        spans: SPANS.map(|span| (span, span == days)).to_vec(),
        latest: climate.readings.iter().rev().take(8).cloned().collect(),
        climate,
    })
}

pub(in crate::rooms) async fn temperature_csv(State(app): State<App>, Path(id): Path<RackId>, Query(asked): Query<Asked>) -> Answer {
    csv(&app, id, asked.days(), Quantity::Celsius).await
}

pub(in crate::rooms) async fn humidity_csv(State(app): State<App>, Path(id): Path<RackId>, Query(asked): Query<Asked>) -> Answer {
    csv(&app, id, asked.days(), Quantity::Humidity).await
}

async fn csv(app: &App, id: RackId, days: i64, of: Quantity) -> Answer {
    let climate = climate_of(app, &mut *app.read().await?, id, days).await?;
    let drawn = drawn(&climate, of, days, app).ok_or(AppError::NotFound)?;
    chart::download(&drawn.figures, &format!("{}-{}", drawn.id, climate.rack.name))
}

async fn climate_of(app: &App, db: &mut sqlx::SqliteConnection, id: RackId, days: i64) -> Result<RackClimate, AppError> {
    species::store::climate::rack(db, id, app.now() - TimeDelta::days(days), app.site().zone).await
}

/// What a reading of both says of the air: how much more water it could hold.
fn damp(reading: &Reading) -> Option<String> {
    let found = air(reading.value(Quantity::Celsius)?, reading.value(Quantity::Humidity)?).ok()?;
    Some(format!(
        "At {} the dew point is {:.1} °C and the vapour pressure deficit {:.2} kPa (ASHRAE Fundamentals 2017).",
        shown(reading.decicelsius, reading.humidity),
        found.dew_point_celsius,
        found.vapour_pressure_deficit_kpa
    ))
}

/// The chart of one quantity; nothing while it has not been read.
fn drawn(climate: &RackClimate, of: Quantity, days: i64, app: &App) -> Option<Chart> {
    let (zone, now) = (app.site().zone, app.now());
    let points: Vec<(DateTime<Utc>, f64)> = climate.readings.iter().filter_map(|reading| Some((reading.at, reading.value(of)?))).collect();
    let (first, last) = (points.first()?.0, points.last()?);
    let from = first.with_timezone(&zone).date_naive();
    let (mut marks, mut lowest, mut highest) = (Vec::new(), f64::INFINITY, f64::NEG_INFINITY);
    for (_, value) in &points {
        (lowest, highest) = (lowest.min(*value), highest.max(*value));
    }
    let x = Axis::days("day", from, now.with_timezone(&zone).date_naive().succ_opt()?);
    let wanted = climate.needed.as_ref().map(|needed| needed.of(of));
    if let Some(Needed::Band { low, high }) = wanted {
        (lowest, highest) = (lowest.min(low.value), highest.max(high.value));
        let band = vec![(x.from, low.value, high.value), (x.to, low.value, high.value)];
        marks.push(Mark::new(Style::Wanted, Shape::Band(band), format!("needed: {} to {}", of.written(low.value), of.written(high.value))));
    }
    let at = |at: &DateTime<Utc>| moment_value(at, zone);
    if points.len() > MOST_POINTS {
        let by_day = by_day(&points, zone);
        let range = by_day.iter().map(|(day, low, high, _)| (day_value(*day) + 0.5, *low, *high)).collect();
        marks.push(Mark::new(Style::Main, Shape::Band(range), "range of each day"));
        let middle = by_day.iter().map(|(day, _, _, mean)| (day_value(*day) + 0.5, *mean)).collect();
        marks.push(Mark::new(Style::Main, Shape::Line(middle), "mean of each day"));
    } else {
        let line: Vec<(f64, f64)> = points.iter().map(|(when, value)| (at(when), *value)).collect();
        marks.push(Mark::new(Style::Main, Shape::Line(line), "readings"));
    }
    let (id, title, file) = match of {
        Quantity::Celsius => ("temperature", "Temperature", "temperature.csv"),
        Quantity::Humidity => ("humidity", "Relative humidity", "humidity.csv"),
    };
    Some(Chart {
        id,
        title: format!("{title} in {}", climate.rack.name),
        description: described(climate, of, &points, last.1),
        x,
        y: Axis::numbers(if of == Quantity::Celsius { "°C" } else { "%" }, lowest - 1.0, highest + 1.0),
        marks,
        under: None,
        figures: figures(&points, of, zone),
        csv: format!("{}/{file}?days={days}", paths::rack(&climate.rack.id)),
    })
}

fn described(climate: &RackClimate, of: Quantity, points: &[(DateTime<Utc>, f64)], last: f64) -> String {
    let state = climate.state.as_ref().map(|state| if of == Quantity::Celsius { &state.celsius } else { &state.humidity });
    let told = state.map_or_else(|| format!("The last is {}", of.written(last)), |state| state.told.clone());
    let needs = match climate.needed.as_ref().map(|needed| needed.of(of)) {
        Some(Needed::Band { low, high }) if low.label == high.label => format!(" {} sets both limits.", low.label),
        Some(Needed::Band { low, high }) => format!(" {} sets the lower limit, {} the upper.", low.label, high.label),
        Some(Needed::Clash { reason, .. }) => format!(" {}", text::sentence(reason)),
        None => " Nothing stands here, so nothing is needed.".to_owned(),
    };
    format!("{}. {}{needs}", text::count(&i64::try_from(points.len()).unwrap_or(i64::MAX), "reading", "readings"), text::sentence(&told))
}

/// An instant as a value of an axis of days: the local day, and how much of it has passed.
fn moment_value(at: &DateTime<Utc>, zone: Tz) -> f64 {
    let local = at.with_timezone(&zone).naive_local();
    day_value(local.date()) + f64::from(chrono::Timelike::num_seconds_from_midnight(&local)) / 86_400.0
}

/// The least, the most and the mean of each local day.
fn by_day(points: &[(DateTime<Utc>, f64)], zone: Tz) -> Vec<(NaiveDate, f64, f64, f64)> {
    let day = |at: &DateTime<Utc>| at.with_timezone(&zone).date_naive();
    points
        .chunk_by(|one, next| day(&one.0) == day(&next.0))
        .filter_map(|readings| {
            let values = || readings.iter().map(|(_, value)| *value);
            let mean = values().sum::<f64>() / readings.len() as f64;
            Some((day(&readings.first()?.0), values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max), mean))
        })
        .collect()
}

fn figures(points: &[(DateTime<Utc>, f64)], of: Quantity, zone: Tz) -> Figures {
    let mut figures = Figures::new(&["when", if of == Quantity::Celsius { "°C" } else { "humidity, %" }]);
    let places = usize::from(of == Quantity::Celsius);
    let row = |(at, value): &(DateTime<Utc>, f64)| {
        vec![at.with_timezone(&zone).format("%Y-%m-%d %H:%M").to_string(), format!("{value:.places$}")]
    };
    figures.rows = points.iter().rev().map(row).collect();
    figures
}
