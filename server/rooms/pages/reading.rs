//! Noting what a thermometer and a hygrometer show, and striking out a slip.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{RackId, ReadingId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::rooms::model::{NewReading, Rack};
use crate::rooms::store;
use crate::rounds;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rooms) struct ReadingForm {
    day: String,
    time: String,
    celsius: String,
    humidity: String,
    whole_room: String,
}

/// When a form is checked: now, and in which zone.
#[derive(Clone, Copy)]
struct Moment {
    now: DateTime<Utc>,
    today: NaiveDate,
    zone: Tz,
}

impl ReadingForm {
    fn check(&self, rack: RackId, moment: Moment) -> Result<NewReading, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, moment.today);
        let at = day.and_then(|day| check.hour("time", &self.time, day, moment.zone, moment.now));
        let decicelsius = check.optional_tenths("celsius", &self.celsius, -200..=600);
        let humidity = check.optional_whole("humidity", &self.humidity, 1..=100);
        if check.ok() && decicelsius.is_none() && humidity.is_none() {
            check.add("celsius", "Enter a temperature, a humidity, or both.");
        }
        let rack = (self.whole_room != "yes").then_some(rack);
        match (day, at, check.ok()) {
            (Some(day), Some(at), true) => Ok(NewReading { rack, at, day, decicelsius, humidity }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "rooms/read.html")]
struct ReadPage {
    layout: Layout,
    rack: Rack,
    input: ReadingForm,
    mistakes: Mistakes,
}

pub(in crate::rooms) async fn read(State(app): State<App>, me: SignedIn, Path(rack): Path<RackId>) -> Answer {
    let rack = store::require_rack(&mut *app.read().await?, rack).await?;
    let (day, time) = (text::iso_day(&app.today()), text::hour(&app.now(), &app.site().zone));
    let input = ReadingForm { day, time, ..ReadingForm::default() };
    page(&ReadPage { layout: Layout::of(&app, &me, Section::Rooms).await?, rack, input, mistakes: Mistakes::none() })
}

pub(in crate::rooms) async fn save_reading(
    State(app): State<App>,
    me: SignedIn,
    Path(rack): Path<RackId>,
    form: Form<ReadingForm>,
) -> Answer {
    let rack = store::require_rack(&mut *app.read().await?, rack).await?;
    match save(&app, &me, &rack, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&ReadPage { layout: Layout::of(&app, &me, Section::Rooms).await?, rack, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, rack: &Rack, form: &Form<ReadingForm>) -> Answer {
    let moment = Moment { now: app.now(), today: app.today(), zone: app.site().zone };
    let new = form.input.check(rack.id, moment)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::climate::insert_reading(&mut write, rack.room_id, &new).await?;
    rounds::store::replan_room(&mut write, rack.room_id).await?;
    let shown = shown(new.decicelsius, new.humidity);
    let what = if new.rack.is_some() { &rack.name } else { &rack.room_name };
    let change = Change::new("reading.noted", format!("rack {}", rack.id), format!("{what}: {shown}"));
    me.done(write, change, &paths::rack(&rack.id), format!("{what}: {shown} is in the book.")).await
}

pub(in crate::rooms) async fn strike(
    State(app): State<App>,
    me: SignedIn,
    at: Path<(RackId, ReadingId)>,
    form: Form<ButtonForm>,
) -> Answer {
    let Path((rack, reading)) = at;
    let mut write = app.begin(me.id(), &form.once).await?;
    let struck = store::climate::strike_reading(&mut write, reading).await?;
    rounds::store::replan_room(&mut write, struck.room_id).await?;
    let shown = shown(struck.decicelsius, struck.humidity);
    let change = Change::new("reading.struck_out", format!("rack {rack}"), shown.as_str());
    me.done(write, change, &paths::rack(&rack), format!("The reading of {shown} no longer counts.")).await
}

/// A reading in words: `24.5 °C, 70 % humidity`.
pub(in crate::rooms) fn shown(decicelsius: Option<i64>, humidity: Option<i64>) -> String {
    let celsius = decicelsius.map(|tenths| text::celsius(&tenths));
    let humidity = humidity.map(|percent| format!("{percent} % humidity"));
    [celsius, humidity].into_iter().flatten().collect::<Vec<_>>().join(", ")
}
