//! How honest the house's moult forecasts have been, reckoned again from the log.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use crate::animals::model::moults::MoultBook;
use crate::animals::store;
use crate::house::app::App;
use crate::house::chart::{self, Figures};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::layout::{Layout, Section, page};
use crate::house::text;
use crate::reckoning::moult::calibration::{Calibration, Outcomes, Share, SpeciesLog, calibrate};

#[derive(Template)]
#[template(path = "animals/forecasts.html")]
struct ForecastsPage {
    layout: Layout,
    told: String,
    figures: Figures,
}

pub(in crate::animals) async fn forecasts(State(app): State<App>, me: SignedIn) -> Answer {
    let calibration = judged(&app).await?;
    let layout = Layout::of(&app, &me, Section::Animals).await?;
    page(&ForecastsPage { layout, told: calibration.total.told(), figures: figures(&calibration) })
}

pub(in crate::animals) async fn forecasts_csv(State(app): State<App>) -> Answer {
    chart::download(&figures(&judged(&app).await?), "moult-forecasts")
}

async fn judged(app: &App) -> Result<Calibration, AppError> {
    let book = store::moult_book(&mut *app.read().await?, None, app.site().zone).await?;
    calibrated(&book, app.today())
}

fn calibrated(book: &MoultBook, today: NaiveDate) -> Result<Calibration, AppError> {
    let logs: Vec<SpeciesLog> = book
        .all()
        .filter(|species| !species.histories.is_empty())
        .map(|species| SpeciesLog {
            species: species.name.clone(),
            usual: species.usual.clone(),
            histories: species.histories.values().cloned().collect(),
        })
        .collect();
    calibrate(&logs, today).map_err(|error| AppError::Internal(error.into()))
}

fn figures(calibration: &Calibration) -> Figures {
    let mut figures = Figures::new(&[
        "species",
        "windows closed",
        "moulted inside",
        "earlier",
        "later or not yet",
        "held, %",
        "95 % interval, %",
        "still open",
    ]);
    let species = calibration.species.iter().map(|(name, outcomes)| row(name, outcomes));
    figures.rows = species.chain([row("all together", &calibration.total)]).collect();
    figures
}

fn row(name: &str, of: &Outcomes) -> Vec<String> {
    let share = of.share();
    let figure = |which: fn(Share) -> f64| text::percent_figure(share.map(which), 0);
    let limits = [figure(|share| share.low), figure(|share| share.high)];
    let interval = if share.is_some() { limits.join(" to ") } else { "–".to_owned() };
    let counts = [of.closed(), of.inside, of.early, of.late].map(|count| count.to_string());
    let mut row = vec![name.to_owned()];
    row.extend(counts);
    row.extend([figure(|share| share.value), interval, of.open.to_string()]);
    row
}
