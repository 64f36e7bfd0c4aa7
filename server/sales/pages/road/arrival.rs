//! How what was sent arrived.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{ArrivalId, HandoverId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::sales::model::{Arrival, ArrivalLine, Handover, Line, NewArrival, RoadRules};
use crate::sales::store::{self, arrivals, road};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct ArrivalForm {
    day: String,
    hour: String,
    claim_day: String,
    claim_hour: String,
    line: Vec<String>,
    alive: Vec<String>,
    injured: Vec<String>,
    dead: Vec<String>,
    note: String,
    seen: String,
}

impl ArrivalForm {
    /// The form as it is first shown: what stands, or all alive today.
    fn of(stands: Option<&Arrival>, today: &chrono::NaiveDate, zone: &Tz) -> Self {
        let local = |at: &DateTime<Utc>| (text::iso_day(&at.with_timezone(zone).date_naive()), text::hour(at, zone));
        let (day, hour) = stands.map_or_else(|| (text::iso_day(today), String::new()), |arrival| local(&arrival.arrived_at));
        let (claim_day, claim_hour) = stands.and_then(|arrival| arrival.claimed_at.as_ref()).map(local).unwrap_or_default();
        let note = stands.map_or_else(String::new, |arrival| arrival.note.clone());
        let seen = stands.map_or_else(String::new, |arrival| arrival.id.to_string());
        Self { day, hour, claim_day, claim_hour, note, seen, ..Self::default() }
    }

    /// What was typed of a line: alive and sound, injured, dead.
    fn typed(&self, line: &Line, stands: Option<&Arrival>) -> [String; 3] {
        let place = self.line.iter().position(|id| *id == line.id.to_string());
        let found = stands.and_then(|arrival| arrival.of(&line.id));
        let otherwise = found.map_or([line.quantity, 0, 0], |found| [found.alive, found.injured, found.dead]);
        let columns = [&self.alive, &self.injured, &self.dead];
        let typed = |column: &[String]| place.and_then(|at| column.get(at)).cloned();
        let [alive, injured, dead] = columns.map(|column| typed(column));
        let [sound, hurt, lost] = otherwise.map(|number| number.to_string());
        [alive.unwrap_or(sound), injured.unwrap_or(hurt), dead.unwrap_or(lost)]
    }

    fn check(&self, lines: &[Line], now: DateTime<Utc>, zone: Tz) -> Result<(Option<ArrivalId>, NewArrival), Mistakes> {
        let mut check = Check::new();
        let today = now.with_timezone(&zone).date_naive();
        let day = check.day("day", &self.day, today);
        let arrived_at = day.and_then(|day| check.hour("hour", &self.hour, day, zone, now));
        let claimed = !self.claim_day.trim().is_empty() || !self.claim_hour.trim().is_empty();
        let claim_day = if claimed { check.day("claim_day", &self.claim_day, today) } else { None };
        let claimed_at = claim_day.and_then(|day| check.hour("claim_hour", &self.claim_hour, day, zone, now));
        let mut told = Vec::new();
        for line in lines {
            match self.typed(line, None).map(|typed| typed.trim().parse::<u32>().ok().filter(|number| *number <= 3000)) {
                [Some(alive), Some(injured), Some(dead)] => told.push(ArrivalLine { handover_line_id: line.id, alive, injured, dead }),
                _ => check.add("counts", format!("{}: enter a whole number in each field.", text::capitalised(&line.words()))),
            }
        }
        let note = check.paragraphs("note", &self.note, 600);
        let seen = check.optional_whole("seen", &self.seen, 1..=i64::MAX).map(ArrivalId);
        match (arrived_at, note) {
            (Some(arrived_at), Some(note)) if check.ok() => Ok((seen, NewArrival { arrived_at, claimed_at, note, lines: told })),
            _ => Err(check.mistakes()),
        }
    }
}

struct Row {
    line: Line,
    typed: [String; 3],
}

#[derive(Template)]
#[template(path = "sales/road/arrival.html")]
struct ArrivalPage {
    layout: Layout,
    handover: Handover,
    rules: RoadRules,
    rows: Vec<Row>,
    corrects: bool,
    input: ArrivalForm,
    mistakes: Mistakes,
}

impl ArrivalPage {
    async fn read(app: &App, me: &SignedIn, id: HandoverId, input: Option<ArrivalForm>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let handover = store::require_handover(&mut db, id).await?;
        let stands = arrivals::of(&mut db, id).await?;
        let rules = road::rules(&mut db).await?;
        let input = input.unwrap_or_else(|| ArrivalForm::of(stands.as_ref(), &app.today(), &app.site().zone));
        let lines = store::lines(&mut db, id).await?;
        let rows = lines.into_iter().map(|line| Row { typed: input.typed(&line, stands.as_ref()), line }).collect();
        let layout = Layout::of(app, me, Section::Sales).await?;
        Ok(Self { layout, handover, rules, rows, corrects: stands.is_some(), input, mistakes })
    }
}

pub(in crate::sales) async fn arrival(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>) -> Answer {
    page(&ArrivalPage::read(&app, &me, id, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn record_arrival(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<ArrivalForm>,
) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ArrivalPage::read(&app, &me, id, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: HandoverId, form: &Form<ArrivalForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let lines = store::lines(write.db(), id).await?;
    let (seen, new) = form.input.check(&lines, write.at, write.zone)?;
    let arrival = arrivals::record(&mut write, id, seen, &new).await?;
    let of = |number: fn(&ArrivalLine) -> u32| new.lines.iter().map(number).sum::<u32>();
    let (alive, injured, dead) = (of(|line| line.alive), of(|line| line.injured), of(|line| line.dead));
    let told = format!("{alive} alive, {injured} injured, {dead} dead");
    let before = seen.map_or_else(String::new, |seen| format!("arrival {seen}"));
    let change = Change::new("handover.arrived", format!("handover {id}"), format!("arrival {arrival}: {told}")).from(before);
    me.done(write, change, &paths::handover(&id), format!("It is in the book: {told}.")).await
}
