//! An animal's growth and moults: the charts on its page, and their figures as files.

use axum::extract::State;
use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::moults;
use crate::animals::model::Animal;
use crate::animals::model::growth::Spans;
use crate::animals::model::moults::SpeciesMoults;
use crate::animals::store;
use crate::house::app::App;
use crate::house::chart::{self, Axis, Chart, Figures, Mark, Shape, Style, Tick};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::Path;
use crate::house::ids::AnimalId;
use crate::house::text;
use crate::reckoning::calendar::days_after;
use crate::reckoning::enclosure::BoxRules;
use crate::reckoning::growth::fit::Fit;
use crate::reckoning::growth::rehouse::{Growing, forecast_rehouse};
use crate::reckoning::moult::learn::{DayWindow, MoultForecast};
use crate::reckoning::planner::StageRules;
use crate::species;

/// What an animal's spans and moults say of what comes.
pub(super) struct Coming {
    /// The line through its spans, with them.
    spans: Spans,
    fit: Option<Fit>,
    /// Its next moult: when, and what that rests on.
    pub next_moult: Option<(String, String)>,
    /// Its next rehouse: what is to be expected.
    pub rehouse: Option<String>,
    /// The chart of its growth.
    pub growth: Option<Chart>,
    /// The chart of its moults.
    pub moults: Option<Chart>,
}

impl Coming {
    /// Reads and reckons it.
    pub async fn load(app: &App, db: &mut SqliteConnection, animal: &Animal) -> Result<Self, AppError> {
        let today = app.today();
        let spans = Spans::new(&store::spans(&mut *db, animal.id).await?, animal.start_instar);
        let book = store::moult_book(&mut *db, Some(animal.species_id), app.site().zone).await?;
        let alive = animal.is_alive();
        let forecast = if alive { book.forecast(animal.species_id, animal.id, today) } else { None };
        let of = book.species(animal.species_id);
        let history = of.and_then(|of| of.histories.get(&animal.id).or_else(|| of.carried.get(&animal.id)));
        let fit = spans.fit();
        let rules = species::store::care(&mut *db, animal.species_id, animal.life_stage()).await?.figures.rules;
        Ok(Self {
            next_moult: forecast.as_ref().map(|forecast| moults::told(forecast, look_after(animal, of, &rules), today)),
            rehouse: forecast.as_ref().and_then(|forecast| rehouse(animal, fit.as_ref(), forecast, rules.boxes)),
            growth: growth(animal, &spans, fit.as_ref()),
            moults: history.and_then(|history| moults::chart(animal, history, forecast.as_ref(), today)),
            spans,
            fit,
        })
    }

    /// What the line through its spans says, in a sentence.
    pub fn told(&self) -> String {
        match &self.fit {
            Some(fit) => {
                let (low, high) = fit.prediction_interval_80;
                format!(
                    "It grows × {:.2} a moult (from {} spans); after the next moult about {:.0} mm, four times out of five {low:.0} to {high:.0} mm.",
                    fit.ratio, fit.spans, fit.predicted_next_mm
                )
            }
            None => format!("A line needs spans of at least three skins; {} on record.", self.spans.by_skin.len()),
        }
    }
}

/// After this day no moult is a reason to have a look: so many tenths of the longest usual interval have passed.
fn look_after(animal: &Animal, of: Option<&SpeciesMoults>, rules: &StageRules) -> Option<NaiveDate> {
    let usual = of?.usual.get(&animal.life_stage())?;
    Some(days_after(animal.last_moult_on?, usual.1.saturating_mul(rules.look_after_tenths) / 10))
}

fn rehouse(animal: &Animal, fit: Option<&Fit>, forecast: &MoultForecast, boxes: BoxRules) -> Option<String> {
    let last = animal.last_moult_on?;
    let days = |day: NaiveDate| u32::try_from((day - last).num_days()).unwrap_or(0);
    let DayWindow { from, likely, to } = forecast.at_moult;
    let growing = Growing {
        // Leg spans are below half a metre.
        span_mm: animal.span_mm? as f64,
        fit,
        next_moult: DayWindow { from: forecast.from, likely: forecast.likely, to: forecast.to },
        later_days: (days(from), days(likely), days(to)),
        enclosure_length_mm: u32::try_from(animal.enclosure_length_mm?).ok()?,
        adult_span_mm: None,
        boxes,
    };
    forecast_rehouse(&growing).ok().map(|forecast| text::sentence(&forecast.reason))
}

fn growth(animal: &Animal, spans: &Spans, fit: Option<&Fit>) -> Option<Chart> {
    let (first, last) = (spans.by_skin.first()?.0, spans.by_skin.last()?.0);
    if first == last {
        return None;
    }
    let skins = if spans.instars { "instar" } else { "moults in our care" };
    let points: Vec<(f64, f64)> = spans.by_skin.iter().map(|(skin, span)| (f64::from(*skin), span.mm as f64)).collect();
    let mut figures = Figures::new(&[skins, "day", "leg span, mm", "by the line, mm", "four times out of five, mm"]).with_words(&[1]);
    let by_line = |skin: u32| fit.map_or_else(|| "–".to_owned(), |fit| format!("{:.1}", fit.expected_mm(skin)));
    for (skin, span) in &spans.by_skin {
        let taken = format!("{} ({})", text::iso_day(&span.day), span.method);
        figures.rows.push(vec![skin.to_string(), taken, span.mm.to_string(), by_line(*skin), "–".to_owned()]);
    }
    let mut marks = Vec::new();
    if let Some(fit) = fit {
        let (next, (low, high)) = (f64::from(fit.next_instar), fit.prediction_interval_80);
        let line = (first..=fit.next_instar).map(|skin| (f64::from(skin), fit.expected_mm(skin))).collect();
        marks.push(Mark::new(Style::Reckoned, Shape::Band(vec![(next - 0.15, low, high), (next + 0.15, low, high)]), "next, 80 %"));
        marks.push(Mark::new(Style::Reckoned, Shape::Line(line), format!("× {:.2} a moult", fit.ratio)));
        let interval = format!("{low:.1} to {high:.1}");
        figures.rows.push(vec![fit.next_instar.to_string(), "forecast".to_owned(), "–".to_owned(), by_line(fit.next_instar), interval]);
    }
    marks.push(Mark::new(Style::Main, Shape::Dots(points.clone()), "leg span as taken"));
    let tallest = points.iter().map(|(_, mm)| *mm).chain(fit.map(|fit| fit.prediction_interval_80.1)).fold(1.0, f64::max);
    let last = fit.map_or(last, |fit| fit.next_instar);
    Some(Chart {
        id: "growth",
        title: format!("Growth of {}", animal.tag),
        description: described(spans, fit),
        x: skin_axis(skins, first, last),
        y: Axis::numbers("leg span (DLS), mm", 0.0, tallest),
        marks,
        under: None,
        figures,
        csv: format!("/animals/{}/growth.csv", animal.id),
    })
}

/// Every skin has its line.
fn skin_axis(label: &str, first: u32, last: u32) -> Axis {
    let ticks = (first..=last).map(|skin| Tick { at: f64::from(skin), label: skin.to_string() }).collect();
    Axis { label: label.to_owned(), from: f64::from(first) - 0.5, to: f64::from(last) + 0.5, ticks }
}

fn described(spans: &Spans, fit: Option<&Fit>) -> String {
    let ends = spans.by_skin.first().zip(spans.by_skin.last());
    let called = |skin: &u32| if spans.instars { format!("instar {skin}") } else { text::count(&i64::from(*skin), "moult", "moults") };
    let grown = ends.map_or_else(String::new, |((from, first), (to, last))| {
        format!("From {} mm at {} to {} mm at {}.", first.mm, called(from), last.mm, called(to))
    });
    let line = fit.map_or_else(String::new, |fit| {
        let square = fit.r_squared.map_or_else(String::new, |square| format!(" (R² {square:.3})"));
        format!(" The line is × {:.2} a moult{square}; next about {:.0} mm.", fit.ratio, fit.predicted_next_mm)
    });
    grown + &line
}

pub(in crate::animals) async fn growth_csv(State(app): State<App>, Path(id): Path<AnimalId>) -> Answer {
    figures(&app, id, "growth", |coming| coming.growth).await
}

pub(in crate::animals) async fn moults_csv(State(app): State<App>, Path(id): Path<AnimalId>) -> Answer {
    figures(&app, id, "moults", |coming| coming.moults).await
}

async fn figures(app: &App, id: AnimalId, what: &str, which: fn(Coming) -> Option<Chart>) -> Answer {
    let mut db = app.read().await?;
    let animal = store::require(&mut db, id).await?;
    let drawn = which(Coming::load(app, &mut db, &animal).await?).ok_or(AppError::NotFound)?;
    chart::download(&drawn.figures, &format!("{what}-{}", animal.tag))
}
