//! How a cohort fares: its survival beside that of its sisters, and its losses by stage and cause.

use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::cohorts::model::Cohort;
use crate::cohorts::model::family::{Family, Fare};
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::chart::{self, Axis, Chart, Figures, Mark, Shape, Style, Under};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query};
use crate::house::ids::CohortId;
use crate::house::text;
use crate::reckoning::life_table::LifeTable;
use crate::reckoning::survival::{LEVEL_NOTE, Origin, Survival, Verdict};

/// What stands on the cohort's page.
pub(in crate::cohorts) struct SurvivalView {
    /// The origins that can be chosen, each with whether it is.
    pub origins: Vec<(Origin, bool)>,
    /// The chart, or why there is none.
    pub chart: Result<Chart, String>,
    /// What it is like beside its sisters.
    pub comparison: Option<Comparison>,
    /// What else is to be known of the chart, in sentences.
    pub notes: Vec<String>,
    /// Losses by stage and cause.
    pub table: Option<Figures>,
    /// What the table shows, in one sentence.
    pub summary: String,
    /// Eggs that were found bad and are not in the table.
    pub bad_eggs: u32,
}

/// How a cohort fares beside its sisters.
pub(in crate::cohorts) struct Comparison {
    /// In a sentence or two.
    pub said: String,
    /// Whether it dies faster than they do.
    pub faster: bool,
}

/// The survival of a cohort from an origin; without one, from the second instar where any has reached it.
pub(in crate::cohorts) async fn view(
    db: &mut SqliteConnection,
    cohort: &Cohort,
    asked: &str,
    today: NaiveDate,
) -> Result<SurvivalView, AppError> {
    let families = store::families(db, cohort.species_id).await?;
    let Some((own, others)) = own_and_others(&families, cohort.id) else { return Err(AppError::NotFound) };
    let origin = asked.parse().unwrap_or_else(|_| usual_origin(own, today));
    let table = own.life_table();
    let origins = Origin::ALL.iter().map(|choice| (*choice, *choice == origin)).collect();
    let mut view = SurvivalView {
        origins,
        chart: Err(String::new()),
        comparison: None,
        notes: Vec::new(),
        summary: table.as_ref().map(|table| table.summary.clone()).unwrap_or_default(),
        bad_eggs: own.bad_eggs(),
        table: table.as_ref().map(stages),
    };
    match Fare::of(own, &others, origin, today) {
        Err(why) => view.chart = Err(why.to_string()),
        Ok(fare) => {
            view.comparison = Some(compared(&fare));
            view.notes = notes(own, &fare);
            view.chart = Ok(drawn(cohort, &fare, origin));
        }
    }
    Ok(view)
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::cohorts) struct From {
    from: String,
}

/// The figures of the chart as a file.
pub(in crate::cohorts) async fn csv(State(app): State<App>, Path(id): Path<CohortId>, Query(asked): Query<From>) -> Answer {
    let mut db = app.read().await?;
    let cohort = store::require(&mut db, id).await?;
    let view = view(&mut db, &cohort, &asked.from, app.today()).await?;
    let drawn = view.chart.map_err(AppError::Conflict)?;
    chart::download(&drawn.figures, &format!("survival-{}", cohort.code))
}

/// Losses by stage and cause as a file.
pub(in crate::cohorts) async fn losses_csv(State(app): State<App>, Path(id): Path<CohortId>) -> Answer {
    let mut db = app.read().await?;
    let cohort = store::require(&mut db, id).await?;
    let families = store::families(&mut db, cohort.species_id).await?;
    let (own, _) = own_and_others(&families, cohort.id).ok_or(AppError::NotFound)?;
    chart::download(&own.life_table().as_ref().map(stages).unwrap_or_default(), &format!("losses-{}", cohort.code))
}

fn own_and_others(families: &[Family], cohort: CohortId) -> Option<(&Family, Vec<&Family>)> {
    let own = families.iter().find(|family| family.members.contains(&cohort))?;
    Some((own, families.iter().filter(|family| !family.members.contains(&cohort)).collect()))
}

fn usual_origin(own: &Family, today: NaiveDate) -> Origin {
    let able = |origin: &Origin| own.followed(*origin, today).is_ok();
    [Origin::SecondInstar, Origin::FirstInstar, Origin::Laid].into_iter().find(able).unwrap_or(Origin::SecondInstar)
}

fn compared(fare: &Fare) -> Comparison {
    let said = match (&fare.verdict, fare.sister_codes.as_slice()) {
        (_, []) => "No other cohort of the species can be followed from there, so there is nothing to compare with.".to_owned(),
        (None, codes) => format!("It can't be compared with {}: they were never at risk together.", codes.join(", ")),
        (Some(verdict), codes) => format!("Against {}: {verdict} (log-rank test). {LEVEL_NOTE}", codes.join(", ")),
    };
    Comparison { said, faster: matches!(fare.verdict, Some(Verdict::Faster(_))) }
}

fn notes(own: &Family, fare: &Fare) -> Vec<String> {
    let split = (own.members.len() > 1).then(|| "What was split off is followed together with it.".to_owned());
    split.into_iter().chain(fare.survival.cautions.iter().map(text::sentence)).collect()
}

fn drawn(cohort: &Cohort, fare: &Fare, origin: Origin) -> Chart {
    let own = &fare.survival;
    let x = Axis::numbers(format!("days since {origin}"), 0.0, f64::from(own.last_day.max(7)));
    let mut marks = Vec::new();
    if let Some(sisters) = &fare.sisters {
        let together =
            format!("other cohorts of the species: 95 % limits ({})", text::count(&i64::from(sisters.entered), "animal", "animals"));
        marks.push(Mark::new(Style::Quiet, Shape::StepBand(limits(sisters, x.to)), together));
        marks.push(Mark::new(Style::Quiet, Shape::Steps(steps(sisters, x.to)), "their survival"));
    }
    let to = f64::from(own.last_day);
    marks.push(Mark::new(Style::Limits, Shape::StepBand(limits(own, to)), format!("{}: 95 % limits", cohort.code)));
    marks.push(Mark::new(Style::Main, Shape::Steps(steps(own, to)), format!("{}: survival", cohort.code)));
    // Nobody is at risk any more beyond the last day.
    let watched = x.ticks.iter().filter(|tick| tick.at <= to);
    let values = watched.map(|tick| (tick.at, own.at_risk_on(tick.at.max(0.0) as u32).to_string())).collect();
    Chart {
        id: "survival",
        title: format!("Survival of {} since {origin}", cohort.code),
        description: format!("{} {}", text::sentence(&fare.followed.explanation), text::sentence(&own.summary)),
        y: Axis::shares("share still alive"),
        marks,
        under: Some(Under { label: "number at risk".to_owned(), values }),
        figures: figures(own),
        csv: format!("/cohorts/{}/survival.csv?from={}", cohort.id, origin.code()),
        x,
    }
}

fn steps(survival: &Survival, to: f64) -> Vec<(f64, f64)> {
    let mut steps: Vec<(f64, f64)> = vec![(0.0, 1.0)];
    steps.extend(survival.steps().map(|(day, share)| (f64::from(day), share)));
    steps.extend(steps.last().map(|(_, share)| (to.min(f64::from(survival.last_day)), *share)));
    steps
}

/// Where the limits are not defined, nobody or everybody is still alive: the band has no width there.
fn limits(survival: &Survival, to: f64) -> Vec<(f64, f64, f64)> {
    let mut band: Vec<(f64, f64, f64)> = vec![(0.0, 1.0, 1.0)];
    band.extend(survival.steps().map(|(day, share)| {
        let (lower, upper) = survival.limits_at(day).unwrap_or((share, share));
        (f64::from(day), lower, upper)
    }));
    band.extend(band.last().map(|(_, lower, upper)| (to.min(f64::from(survival.last_day)), *lower, *upper)));
    band
}

fn figures(survival: &Survival) -> Figures {
    let mut figures = Figures::new(&["day", "at risk", "lost", "survival, %", "lower limit, %", "upper limit, %"]);
    let days = survival.times.iter().zip(&survival.at_risk).zip(&survival.lost).zip(survival.steps());
    for (((day, at_risk), lost), (_, share)) in days {
        let limits = survival.limits_at(*day);
        let shares = [Some(share), limits.map(|(lower, _)| lower), limits.map(|(_, upper)| upper)];
        let counts = [day.to_string(), at_risk.to_string(), lost.to_string()];
        figures.rows.push(counts.into_iter().chain(shares.map(|share| text::percent_figure(share, 1))).collect());
    }
    figures
}

fn stages(table: &LifeTable) -> Figures {
    let mut figures = Figures::new(&[
        "stage",
        "entered",
        "lost",
        "left or still there",
        "lost of those that entered, %",
        "alive on entering, %",
        "lost to",
    ])
    .with_words(&[6]);
    for row in &table.stages {
        let causes: Vec<String> = row.causes.iter().filter(|of| of.count > 0).map(|of| format!("{} {}", of.count, of.cause)).collect();
        figures.rows.push(vec![
            row.stage.to_string(),
            row.entered.to_string(),
            row.lost.to_string(),
            row.left.to_string(),
            text::percent_figure(row.q_actuarial, 1),
            text::percent_figure(row.l_actuarial, 1),
            if causes.is_empty() { "–".to_owned() } else { causes.join(", ") },
        ]);
    }
    figures
}
