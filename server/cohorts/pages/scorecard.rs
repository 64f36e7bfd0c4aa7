//! How a cohort fared, beside the earlier cohorts of its species.

use askama::Template;
use axum::extract::State;
use sqlx::SqliteConnection;

use super::scorecards::{cards, to_second_chart};
use crate::cohorts::model::Cohort;
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::chart::{self, Chart, Figures};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::CohortId;
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::reckoning::scorecard::{Beside, Measure, Scorecard, Share, Stands, SurvivalOn, VACHONI_YEARLY_LOSS, alive_after, beside};

/// The genus of the one species whose yearly loss is published.
const GENUS_WITH_FIGURE: &str = "Grammostola ";

/// A scorecard, told.
struct View {
    cohort: Cohort,
    /// The code of the cohort that it is counted with, when it was split off another.
    head: String,
    card: Scorecard,
    measures: Figures,
    stages: Figures,
    causes: Option<Figures>,
    chart: Option<Chart>,
}

#[derive(Template)]
#[template(path = "cohorts/scorecard.html")]
struct ScorecardPage {
    layout: Layout,
    view: View,
}

impl ScorecardPage {
    /// The published yearly loss and what it leaves after three years, for species of its genus.
    fn published(&self) -> Option<String> {
        let left = alive_after(VACHONI_YEARLY_LOSS, 3.0);
        self.view.cohort.species.starts_with(GENUS_WITH_FIGURE).then(|| {
            format!(
                "The one published figure of the genus: a cohort of Grammostola vachoni in captivity lost 10.7 % a year \
                 (Zoologischer Anzeiger 293: 37-45, 2021), which leaves {:.1} % after three years.",
                left * 100.0
            )
        })
    }
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    let mut db = app.read().await?;
    let view = View::of(&app, &mut db, id).await?;
    page(&ScorecardPage { layout: Layout::of(&app, &me, Section::Cohorts).await?, view })
}

/// The measures as a file.
pub(in crate::cohorts) async fn csv(State(app): State<App>, Path(id): Path<CohortId>) -> Answer {
    let view = View::of(&app, &mut *app.read().await?, id).await?;
    chart::download(&view.measures, &format!("scorecard-{}", view.cohort.code))
}

impl View {
    async fn of(app: &App, db: &mut SqliteConnection, id: CohortId) -> Result<Self, AppError> {
        let cohort = store::require(&mut *db, id).await?;
        let families = store::families(db, cohort.species_id).await?;
        let own = families.iter().find(|family| family.members.contains(&id)).ok_or(AppError::NotFound)?;
        let all = cards(&families, app.today());
        let card = all.iter().find(|card| card.code == own.code).cloned().ok_or(AppError::NotFound)?;
        Ok(Self {
            measures: measures(&card, &beside(&card, &all)),
            stages: stages(&card),
            causes: causes(&card),
            chart: to_second_chart(&all, Some(&card.code), cohort.species_id),
            head: own.code.clone(),
            card,
            cohort,
        })
    }
}

fn measures(card: &Scorecard, beside: &[Beside]) -> Figures {
    let mut figures = Figures::new(&[
        "measure",
        "this cohort, %",
        "95 % limits, %",
        "rests on",
        "earlier cohorts: median, %",
        "their range, %",
        "how many",
        "beside them",
    ])
    .with_words(&[2, 3, 5, 7]);
    for one in beside {
        let (limits, rests_on) = rests(card, one.measure);
        let range = one.range.map_or_else(|| "–".to_owned(), |(low, high)| format!("{:.1} to {:.1}", low * 100.0, high * 100.0));
        figures.rows.push(vec![
            one.measure.to_string(),
            text::percent_figure(one.own, if one.measure == Measure::ToSecond { 2 } else { 1 }),
            limits.map_or_else(|| "–".to_owned(), |(low, high)| format!("{:.1} to {:.1}", low * 100.0, high * 100.0)),
            rests_on,
            text::percent_figure(one.median, 1),
            range,
            one.broods.to_string(),
            compared(one),
        ]);
    }
    figures
}

type LimitsAndWords = (Option<(f64, f64)>, String);

/// The limits of a measure, and what it rests on or why there is none.
fn rests(card: &Scorecard, measure: Measure) -> LimitsAndWords {
    let of_share =
        |share: &Share, what: &str| (Some((share.limits.lower, share.limits.upper)), format!("{} of {} {what}", share.count, share.of));
    let of_survival = |on: &SurvivalOn, what: &str| (on.limits, format!("day {}{what}, {} at risk", on.day, on.at_risk));
    match measure {
        Measure::Hatched => match &card.hatched {
            _ if card.eggs_waiting > 0 => (None, format!("{} eggs may still hatch", card.eggs_waiting)),
            Some(share) => of_share(share, "eggs"),
            None => (None, "no eggs were counted".to_owned()),
        },
        Measure::ToSecond => match &card.to_second {
            Some(share) if card.on_the_way > 0 => {
                (None, format!("{} of {} so far, {} still on their way", share.count, share.of, card.on_the_way))
            }
            Some(share) => of_share(share, "young"),
            None if card.on_the_way > 0 => (None, format!("{} still on their way", card.on_the_way)),
            None => (None, "it came in at second instar or later".to_owned()),
        },
        Measure::FirstDays => {
            card.first_days.as_ref().map_or((None, "nobody was followed so long yet".to_owned()), |on| of_survival(on, ""))
        }
        Measure::ToSale => match &card.to_sale {
            Some(on) => of_survival(on, &format!(", by which half of {} sold had left", card.sold)),
            None => (None, "none was sold".to_owned()),
        },
        Measure::YearlyLoss => card.yearly.as_ref().map_or((None, "nobody was followed for a year yet".to_owned()), |yearly| {
            let limits = (yearly.loss.lower, yearly.loss.upper);
            (Some(limits), format!("{} lost in {:.1} animal-years", yearly.lost, yearly.animal_years))
        }),
    }
}

/// Where it stands beside the earlier cohorts, in words; no difference is claimed without a test.
fn compared(one: &Beside) -> String {
    match (one.stands, one.verdict, one.broods) {
        (_, _, 0) => "no earlier cohort to compare with".to_owned(),
        (_, Some(verdict), _) => verdict.to_string().replace("its sisters", "they did"),
        (Some(Stands::Above), ..) => format!("higher: its limits lie above theirs{}", pooled(one)),
        (Some(Stands::Below), ..) => format!("lower: its limits lie below theirs{}", pooled(one)),
        (Some(Stands::Overlaps), ..) => format!("no difference that these numbers can show: the limits overlap{}", pooled(one)),
        (None, None, _) => "not tested".to_owned(),
    }
}

fn pooled(one: &Beside) -> String {
    one.pooled.map_or_else(String::new, |share| format!(" (all together {})", share.limits.percent()))
}

fn stages(card: &Scorecard) -> Figures {
    let mut figures =
        Figures::new(&["stage", "came to it", "half had come by", "days since laying", "days to the next stage"]).with_words(&[2]);
    for row in &card.stages {
        let days = |days: Option<i64>| days.map_or_else(|| "–".to_owned(), |days| days.to_string());
        figures.rows.push(vec![row.stage.to_string(), row.count.to_string(), text::day(&row.came), days(row.since_laid), days(row.days)]);
    }
    figures
}

fn causes(card: &Scorecard) -> Option<Figures> {
    let mut figures = Figures::new(&["cause", "deaths", "of all deaths, %", "95 % limits, %"]).with_words(&[3]);
    for of in &card.causes {
        let limits = of.share.limits;
        figures.rows.push(vec![
            of.cause.to_string(),
            of.share.count.to_string(),
            text::percent_figure(Some(limits.estimate), 1),
            format!("{:.1} to {:.1}", limits.lower * 100.0, limits.upper * 100.0),
        ]);
    }
    (!figures.rows.is_empty()).then_some(figures)
}
