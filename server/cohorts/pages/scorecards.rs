//! How the cohorts of a species fared, one by one and year by year.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use crate::cohorts::model::family::Family;
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::chart::{self, Axis, Chart, Figures, Mark, Shape, Style, day_value};
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::{CohortId, SpeciesId};
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::reckoning::scorecard::{BestYear, Scorecard, Stands, SurvivalOn, Year, best_year, scorecard, years};
use crate::reckoning::survival::LEVEL_NOTE;
use crate::species;

/// The scorecards of families, in the same order.
pub(super) fn cards(families: &[Family], today: NaiveDate) -> Vec<Scorecard> {
    families.iter().map(|family| scorecard(&family.brood(), today)).collect()
}

#[derive(Template)]
#[template(path = "cohorts/scorecards.html")]
struct ScorecardsPage {
    layout: Layout,
    species_id: SpeciesId,
    species: String,
    /// Each card with the cohort whose page shows it.
    cards: Vec<(CohortId, Scorecard)>,
    chart: Option<Chart>,
    years: Figures,
    best: String,
}

impl ScorecardsPage {
    fn second(card: &Scorecard) -> String {
        match &card.to_second {
            Some(share) if card.is_through() => share.limits.percent(),
            Some(_) | None if card.on_the_way > 0 => format!("{} on their way", card.on_the_way),
            _ => "–".to_owned(),
        }
    }

    fn hatched(card: &Scorecard) -> String {
        card.hatched.filter(|_| card.eggs_waiting == 0).map_or_else(|| "–".to_owned(), |share| share.limits.percent())
    }

    fn on(on: &Option<SurvivalOn>) -> String {
        on.map_or_else(|| "–".to_owned(), |on| survival(&on))
    }
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<SpeciesId>) -> Answer {
    let mut db = app.read().await?;
    let species = species::store::require(&mut db, id).await?.accepted_name;
    let families = store::families(&mut db, id).await?;
    let cards = cards(&families, app.today());
    page(&ScorecardsPage {
        layout: Layout::of(&app, &me, Section::Species).await?,
        species_id: id,
        species,
        chart: to_second_chart(&cards, None, id),
        years: by_year(&years(&cards)),
        best: best_year(&cards).map_or_else(|| "No cohort has come through to second instar yet.".to_owned(), |best| told(&best)),
        cards: families.iter().filter_map(|family| family.members.first().copied()).zip(cards).collect(),
    })
}

/// The cohorts one by one as a file.
pub(in crate::cohorts) async fn csv(State(app): State<App>, Path(id): Path<SpeciesId>) -> Answer {
    let mut db = app.read().await?;
    let name = species::store::require(&mut db, id).await?.accepted_name;
    let cards = cards(&store::families(&mut db, id).await?, app.today());
    chart::download(&one_by_one(&cards), &format!("scorecards-{name}"))
}

fn survival(on: &SurvivalOn) -> String {
    let percent = |share: f64| format!("{:.1}", share * 100.0);
    let limits = on.limits.map_or_else(String::new, |(low, high)| format!(" ({} to {} %)", percent(low), percent(high)));
    format!("{} %{limits}", percent(on.share))
}

fn one_by_one(cards: &[Scorecard]) -> Figures {
    let mut figures = Figures::new(&[
        "cohort",
        "laid or begun",
        "young",
        "hatched, %",
        "to second instar, %",
        "lower limit, %",
        "upper limit, %",
        "alive 90 days after, %",
        "alive to sale, %",
        "sold",
    ])
    .with_words(&[1]);
    for card in cards {
        let second = card.to_second.filter(|_| card.is_through()).map(|share| share.limits);
        let hatched = card.hatched.filter(|_| card.eggs_waiting == 0).map(|share| share.limits.estimate);
        figures.rows.push(vec![
            card.code.clone(),
            text::iso_day(&card.dated),
            card.young.to_string(),
            text::percent_figure(hatched, 1),
            text::percent_figure(second.map(|limits| limits.estimate), 2),
            text::percent_figure(second.map(|limits| limits.lower), 1),
            text::percent_figure(second.map(|limits| limits.upper), 1),
            text::percent_figure(card.first_days.map(|on| on.share), 1),
            text::percent_figure(card.to_sale.map(|on| on.share), 1),
            card.sold.to_string(),
        ]);
    }
    figures
}

/// Survival to second instar of every cohort that is through, by the day of laying; nothing while there are not two to see.
pub(super) fn to_second_chart(cards: &[Scorecard], own: Option<&str>, species: SpeciesId) -> Option<Chart> {
    let through: Vec<(&Scorecard, f64, f64, f64)> = cards
        .iter()
        .filter(|card| card.is_through())
        .filter_map(|card| card.to_second.map(|share| (card, share.limits.lower, share.limits.estimate, share.limits.upper)))
        .collect();
    if through.len() < 2 {
        return None;
    }
    let first = through.iter().map(|(card, ..)| card.dated).min()?;
    let last = through.iter().map(|(card, ..)| card.dated).max()?;
    let around = chrono::Days::new(15);
    let axis = Axis::days("laid, or begun", first.checked_sub_days(around).unwrap_or(first), last.checked_add_days(around).unwrap_or(last));
    let mut marks = Vec::new();
    for (card, lower, _, upper) in &through {
        let x = day_value(card.dated);
        let label = if marks.is_empty() { "95 % limits" } else { "" };
        marks.push(Mark::new(Style::Limits, Shape::Line(vec![(x, *lower), (x, *upper)]), label));
    }
    let dots = |is_own: bool| -> Vec<(f64, f64)> {
        let of = through.iter().filter(|(card, ..)| (own == Some(card.code.as_str())) == is_own);
        of.map(|(card, _, share, _)| (day_value(card.dated), *share)).collect()
    };
    let (others, this) = (dots(false), dots(true));
    if !others.is_empty() {
        marks.push(Mark::new(Style::Quiet, Shape::Dots(others), if own.is_some() { "the other cohorts" } else { "the cohorts" }));
    }
    if let Some(code) = own.filter(|_| !this.is_empty()) {
        marks.push(Mark::new(Style::Main, Shape::Dots(this), code));
    }
    let listed: Vec<String> = through.iter().map(|(card, _, share, _)| format!("{} {:.1} %", card.code, share * 100.0)).collect();
    Some(Chart {
        id: "to-second",
        title: "Survival to second instar, cohort by cohort".to_owned(),
        description: format!("Of the young that reached second instar or died before it: {}.", listed.join(", ")),
        x: axis,
        y: Axis::shares("reached second instar"),
        marks,
        under: None,
        figures: one_by_one(cards),
        csv: format!("{}.csv", paths::scorecards(&species)),
    })
}

fn by_year(years: &[Year]) -> Figures {
    let mut figures = Figures::new(&["year", "cohorts", "young", "to second instar, %", "resting on", "alive 90 days after, %"])
        .with_words(&[1, 3, 4, 5]);
    for year in years {
        let resting = text::count(&i64::try_from(year.through).unwrap_or(i64::MAX), "cohort", "cohorts");
        figures.rows.push(vec![
            year.year.to_string(),
            format!("{} ({})", year.broods.len(), year.broods.join(", ")),
            year.young.to_string(),
            year.to_second.map_or_else(|| "–".to_owned(), |share| share.limits.percent()),
            year.to_second.map_or_else(|| "none through yet".to_owned(), |share| format!("{resting}, {} young", share.of)),
            year.first_days.map_or_else(|| "–".to_owned(), |on| survival(&on)),
        ]);
    }
    figures
}

/// The best year in words: with its figures, what it rests on, and only such a difference as the numbers show.
fn told(best: &BestYear) -> String {
    let cohorts = text::count(&i64::try_from(best.broods).unwrap_or(i64::MAX), "cohort", "cohorts");
    let of = best.to_second;
    let first = format!(
        "Best year so far: {}, with {} of {} young to second instar, {}, resting on {cohorts}.",
        best.year,
        of.count,
        of.of,
        of.limits.percent()
    );
    let second = match (best.stands, best.others) {
        (Some(stands), Some(others)) => {
            let rest = others.limits.percent();
            match stands {
                Stands::Above => format!("Its limits lie above those of all other years together, {rest}."),
                Stands::Below | Stands::Overlaps => {
                    format!("Its limits overlap those of all other years together, {rest}: no difference that these numbers can show.")
                }
            }
        }
        _ => "No other year has a cohort that is through, to hold it against.".to_owned(),
    };
    let third = best.verdict.map_or_else(String::new, |verdict| {
        format!(
            " After second instar, against the other years: {} (log-rank test). {LEVEL_NOTE}",
            verdict.to_string().replace("its sisters", "theirs")
        )
    });
    format!("{first} {second}{third}")
}
