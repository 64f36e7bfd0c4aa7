//! Planning the journey of what is sent, or having it collected after all.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::HandoverId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::dispatch::{Forecast, dispatch};
use crate::reckoning::units::Unit;
use crate::sales::model::{Handover, Journey, NewJourney, RoadRules, Way};
use crate::sales::store::{self, road};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct JourneyForm {
    carrier: String,
    day: String,
    unit: String,
    here_low: String,
    here_high: String,
    there_low: String,
    there_high: String,
    note: String,
}

impl JourneyForm {
    fn of(journey: &Journey) -> Self {
        let tenths = |tenths: i64| format!("{}{}.{}", if tenths < 0 { "-" } else { "" }, tenths.abs() / 10, tenths.abs() % 10);
        Self {
            carrier: journey.carrier.clone(),
            day: text::iso_day(&journey.day),
            unit: journey.unit.clone(),
            here_low: tenths(journey.here_low),
            here_high: tenths(journey.here_high),
            there_low: tenths(journey.there_low),
            there_high: tenths(journey.there_high),
            note: journey.note.clone(),
        }
    }

    fn check(&self, today: NaiveDate) -> Result<NewJourney, Mistakes> {
        let mut check = Check::new();
        let carrier = check.text("carrier", &self.carrier, 120);
        let day = check.coming_day("day", &self.day, today);
        let unit = check.choice::<Unit>("unit", &self.unit).filter(|unit| UNITS.contains(unit));
        if unit.is_none() && check.ok() {
            check.add("unit", "Choose one of the list.");
        }
        // Wide enough for any weather there is.
        let range = if unit == Some(Unit::Fahrenheit) { -760..=1400 } else { -600..=600 };
        let mut temperature = |field: &'static str, typed: &str| {
            if typed.trim().is_empty() {
                check.add(field, "Enter the forecast.");
            }
            check.optional_tenths(field, typed, range.clone())
        };
        let here = (temperature("here_low", &self.here_low), temperature("here_high", &self.here_high));
        let there = (temperature("there_low", &self.there_low), temperature("there_high", &self.there_high));
        for (field, (low, high)) in [("here_high", here), ("there_high", there)] {
            if low.zip(high).is_some_and(|(low, high)| low > high) {
                check.add(field, "The highest is below the lowest. Check both.");
            }
        }
        let note = check.paragraphs("note", &self.note, 600);
        match (carrier, day, unit, here, there, note) {
            (Some(carrier), Some(day), Some(unit), (Some(low), Some(high)), (Some(there_low), Some(there_high)), Some(note))
                if check.ok() =>
            {
                let (here, there) = (Forecast { low, high }, Forecast { low: there_low, high: there_high });
                Ok(NewJourney { carrier, day, unit, here, there, note })
            }
            _ => Err(check.mistakes()),
        }
    }
}

const UNITS: [Unit; 2] = [Unit::Celsius, Unit::Fahrenheit];

#[derive(Template)]
#[template(path = "sales/road/journey.html")]
struct JourneyPage {
    layout: Layout,
    handover: Handover,
    rules: RoadRules,
    units: Vec<Choice>,
    input: JourneyForm,
    mistakes: Mistakes,
}

impl JourneyPage {
    async fn read(app: &App, me: &SignedIn, id: HandoverId, input: Option<JourneyForm>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let handover = store::require_draft(&mut db, id).await?;
        let input = match input {
            Some(input) => input,
            None => match road::journey(&mut db, id).await? {
                Some(journey) => JourneyForm::of(&journey),
                None => JourneyForm { day: text::iso_day(&app.today()), unit: "c".to_owned(), ..JourneyForm::default() },
            },
        };
        let units = UNITS.iter().map(|unit| Choice::new(unit.code(), unit)).collect();
        let rules = road::rules(&mut db).await?;
        Ok(Self { layout: Layout::of(app, me, Section::Sales).await?, handover, rules, units, input, mistakes })
    }
}

pub(in crate::sales) async fn journey(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>) -> Answer {
    page(&JourneyPage::read(&app, &me, id, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn plan_journey(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<JourneyForm>,
) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&JourneyPage::read(&app, &me, id, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: HandoverId, form: &Form<JourneyForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    road::plan_journey(&mut write, id, &new).await?;
    let planned = road::journey(write.db(), id).await?.ok_or(AppError::NotFound)?;
    let rules = road::rules(write.db()).await?;
    let verdict = dispatch(&planned.facts(), &rules.dispatch()).map_err(|error| AppError::refused("unit", text::sentence(&error)))?;
    let after = format!("{}: here {}, there {}", new.day, planned.here(), planned.there());
    let change = Change::new("handover.journey-planned", format!("handover {id}"), after);
    me.done(write, change, &paths::handover(&id), format!("The journey {}.", verdict.summary)).await
}

pub(in crate::sales) async fn collect(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = road::set_way(&mut write, id, Way::Collection).await?;
    let change = Change::new("handover.way-changed", format!("handover {id}"), Way::Collection.code()).from(before.way.code());
    me.done(write, change, &paths::handover(&id), "It is collected here.").await
}
