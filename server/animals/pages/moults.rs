//! An animal's moults: the days between them, and the window of the next.

use chrono::NaiveDate;

use crate::animals::model::Animal;
use crate::house::chart::{Axis, Chart, Figures, Mark, Shape, Style, day_value};
use crate::house::text;
use crate::reckoning::moult::history::History;
use crate::reckoning::moult::learn::MoultForecast;

/// The forecast as a fact: when, and what it rests on. After `look_after` the animal wants a look.
pub(super) fn told(forecast: &MoultForecast, look_after: Option<NaiveDate>, today: NaiveDate) -> (String, String) {
    let days = |day: &NaiveDate| text::day(day);
    let passed = if look_after.is_some_and(|day| today > day) { "; late: have a look" } else { "" };
    let when = format!(
        "{} to {}, most likely about {}; {} within 7 days{passed}",
        days(&forecast.from),
        days(&forecast.to),
        days(&forecast.likely),
        text::percent(&forecast.probability_within_7_days)
    );
    (when, forecast.basis.clone())
}

/// The chart of an animal's moults; nothing before the first.
pub(super) fn chart(animal: &Animal, history: &History, forecast: Option<&MoultForecast>, today: NaiveDate) -> Option<Chart> {
    let moults: Vec<NaiveDate> = history.moults().iter().map(|moult| moult.on).collect();
    let (first, last) = (moults.first().copied()?, moults.last().copied()?);
    let to = forecast.map_or(today, |forecast| forecast.to.max(today)).max(last);
    let lengths: Vec<(NaiveDate, i64)> =
        moults.iter().zip(moults.iter().skip(1)).map(|(from, to)| (*to, (*to - *from).num_days())).collect();
    let (mut marks, mut figures) = (Vec::new(), Figures::new(&["moult", "days since the one before"]));
    if let Some(forecast) = forecast {
        marks.push(Mark::new(Style::Reckoned, Shape::Span(day_value(forecast.from), day_value(forecast.to)), "window of the next (80 %)"));
        marks.push(Mark::new(Style::Reckoned, Shape::Rule(day_value(forecast.likely)), "most likely"));
    }
    marks.extend(
        moults
            .iter()
            .enumerate()
            .map(|(at, day)| Mark::new(Style::Limits, Shape::Rule(day_value(*day)), if at == 0 { "moult" } else { "" })),
    );
    let points: Vec<(f64, f64)> = lengths.iter().map(|(day, length)| (day_value(*day), *length as f64)).collect();
    marks.push(Mark::new(Style::Main, Shape::Line(points.clone()), ""));
    marks.push(Mark::new(Style::Main, Shape::Dots(points), "days since the moult before"));
    marks.push(Mark::new(Style::Alert, Shape::Rule(day_value(today)), "today"));
    let length_of =
        |day: &NaiveDate| lengths.iter().find(|(ended, _)| ended == day).map_or_else(|| "–".to_owned(), |(_, days)| days.to_string());
    figures.rows.extend(moults.iter().map(|day| vec![text::iso_day(day), length_of(day)]));
    if let Some(forecast) = forecast {
        for (what, day) in [("forecast, 10 %", forecast.from), ("forecast, 50 %", forecast.likely), ("forecast, 90 %", forecast.to)] {
            figures.rows.push(vec![format!("{} ({what})", text::iso_day(&day)), (day - last).num_days().to_string()]);
        }
    }
    let longest = lengths.iter().map(|(_, days)| *days).max().unwrap_or(1) as f64;
    Some(Chart {
        id: "moults",
        title: format!("Moults of {}", animal.tag),
        description: described(&moults, forecast),
        x: Axis::days("day", first, to),
        y: Axis::numbers("days between moults", 0.0, longest),
        marks,
        under: None,
        figures,
        csv: format!("/animals/{}/moults.csv", animal.id),
    })
}

fn described(moults: &[NaiveDate], forecast: Option<&MoultForecast>) -> String {
    let count = text::count(&i64::try_from(moults.len()).unwrap_or(i64::MAX), "moult is", "moults are");
    let last = moults.last().map(text::day).unwrap_or_default();
    let next = forecast.map_or_else(String::new, |forecast| {
        format!(
            " The next is to be expected from {} to {}, most likely about {}.",
            text::day(&forecast.from),
            text::day(&forecast.to),
            text::day(&forecast.likely)
        )
    });
    format!("{count} on record, the last on {last}.{next}")
}
