//! The list behind every figure of the lead's day: which duties, whose, why nobody has them; and moving one.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;
use sqlx::SqliteConnection;

use super::round::rack_place;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{DutyId, RackId};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::Duty;
use crate::rounds::model::list::{Filter, Only, Who};
use crate::rounds::model::share::{AtWork, Move, minutes};
use crate::rounds::store::{self, share};

/// The most duties that one page lists.
const MOST: usize = 200;

/// What the address asks for, as typed. What can't be read narrows nothing.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default)]
pub(in crate::rounds) struct Asked {
    who: String,
    rack: String,
    kind: String,
    only: String,
}

impl Asked {
    fn filter(&self) -> Filter {
        Filter { who: self.who.parse().ok(), rack: self.rack.parse().ok(), kind: self.kind.parse().ok(), only: self.only.parse().ok() }
    }

    /// The address of this list.
    fn link(&self) -> String {
        let mut question = url::form_urlencoded::Serializer::new(String::new());
        for (name, value) in [("who", &self.who), ("rack", &self.rack), ("kind", &self.kind), ("only", &self.only)] {
            if !value.is_empty() {
                question.append_pair(name, value);
            }
        }
        let question = question.finish();
        if question.is_empty() { paths::DUTIES.to_owned() } else { format!("{}?{question}", paths::DUTIES) }
    }
}

/// Where a duty is to go, as chosen; the other fields carry the list on which it stood.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct MoveForm {
    to: String,
    second: String,
    anyway: String,
    who: String,
    rack: String,
    kind: String,
    only: String,
}

impl MoveForm {
    fn asked(&self) -> Asked {
        let Self { who, rack, kind, only, .. } = self.clone();
        Asked { who, rack, kind, only }
    }

    fn check(&self) -> Result<Move, Mistakes> {
        let mut check = Check::new();
        let to = match self.to.trim() {
            "" => {
                check.add("to", "Choose somebody, or that nobody has it.");
                None
            }
            "nobody" => None,
            id => check.choice("to", id),
        };
        let second = check.optional_choice("second", &self.second);
        if check.ok() { Ok(Move { to, second, anyway: self.anyway == "yes" }) } else { Err(check.mistakes()) }
    }
}

/// One duty of the list, with the form that moves it.
struct Row {
    duty: Duty,
    minutes: u32,
    late: bool,
    why: Option<String>,
    to: String,
    second: String,
    /// What is wrong with the choice; on one row at most.
    mistakes: Mistakes,
    refused: bool,
}

impl Row {
    fn new(duty: Duty, team: &[AtWork], today: NaiveDate) -> Self {
        let lacking = duty.assigned_to.is_none() || (duty.takes_two() && duty.second_to.is_none());
        let code = |id: Option<crate::house::ids::MemberId>| id.map_or_else(String::new, |id| id.to_string());
        Self {
            minutes: minutes(&duty),
            late: duty.is_late(&today),
            why: lacking.then(|| store::why_unassigned(&duty, team)),
            to: code(duty.assigned_to),
            second: code(duty.second_to),
            mistakes: Mistakes::none(),
            refused: false,
            duty,
        }
    }

    /// Whether it is to be nobody's.
    fn frees(&self) -> bool {
        self.to == "nobody"
    }

    /// A field's id: the plain one where the summary of mistakes leads to it.
    fn id(&self, field: &str) -> String {
        if self.refused { field.to_owned() } else { format!("{field}-{}", self.duty.id) }
    }
}

#[derive(Template)]
#[template(path = "rounds/duties.html")]
struct DutiesPage {
    layout: Layout,
    today: NaiveDate,
    asked: Asked,
    heading: String,
    count: usize,
    seconds: i64,
    rows: Vec<Row>,
    people: Vec<Choice>,
    whose: Vec<Choice>,
    racks: Vec<Choice>,
    kinds: Vec<Choice>,
    onlys: Vec<Choice>,
    mistakes: Mistakes,
}

impl DutiesPage {
    fn total(&self) -> String {
        let count = text::count(&i64::try_from(self.count).unwrap_or(i64::MAX), "duty", "duties");
        format!("{count}, {} of work.", text::work(&self.seconds))
    }
}

async fn list(app: &App, me: &SignedIn, db: &mut SqliteConnection, asked: Asked) -> Result<DutiesPage, AppError> {
    let today = app.today();
    let open = store::open(&mut *db).await?;
    let team = share::at_work(db, today).await?;
    let filter = asked.filter();
    let places: BTreeMap<RackId, String> = open.iter().rev().map(|duty| (duty.rack_id.unwrap_or(RackId(0)), rack_place(duty))).collect();
    let name = match filter.who {
        Some(Who::Member(id)) => team.iter().find(|person| person.member == id).map(|person| person.name.as_str()),
        _ => None,
    };
    let heading = filter.heading(name, filter.rack.and_then(|rack| places.get(&rack)).map(String::as_str));
    let wanted: Vec<Duty> = open.into_iter().filter(|duty| filter.takes(duty, &today)).collect();
    let any = |words: &str| vec![Choice::new("", words)];
    let mut whose = any("anybody");
    whose.push(Choice::new("nobody", "nobody"));
    whose.extend(team.iter().map(|person| Choice::new(person.member, &person.name)));
    Ok(DutiesPage {
        layout: Layout::of(app, me, Section::Today).await?,
        today,
        heading,
        count: wanted.len(),
        seconds: wanted.iter().map(|duty| if matches!(filter.who, Some(Who::Member(_))) { duty.seconds } else { duty.work() }).sum(),
        rows: wanted.into_iter().take(MOST).map(|duty| Row::new(duty, &team, today)).collect(),
        people: team.iter().map(|person| Choice::new(person.member, person.called())).collect(),
        whose,
        racks: any("any place").into_iter().chain(places.iter().map(|(rack, place)| Choice::new(rack, place))).collect(),
        kinds: any("any kind").into_iter().chain(choices(DutyKind::ALL, DutyKind::code)).collect(),
        onlys: any("all of them").into_iter().chain(choices(Only::ALL, Only::code)).collect(),
        mistakes: Mistakes::none(),
        asked,
    })
}

/// The list.
pub(in crate::rounds) async fn duties(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    page(&list(&app, &me, &mut db, asked).await?)
}

/// Moves one duty; where that is not allowed, the list again with the reason beside it.
pub(in crate::rounds) async fn move_one(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<MoveForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let mut db = app.read().await?;
            let mut shown = list(&app, &me, &mut db, form.input.asked()).await?;
            if !shown.rows.iter().any(|row| row.duty.id == id) {
                let team = share::at_work(&mut db, app.today()).await?;
                shown.rows.insert(0, Row::new(store::require(&mut db, id).await?, &team, app.today()));
            }
            for row in shown.rows.iter_mut().filter(|row| row.duty.id == id) {
                (row.to, row.second) = (form.input.to.clone(), form.input.second.clone());
                (row.mistakes, row.refused) = (mistakes.clone(), true);
            }
            shown.mistakes = mistakes;
            page_again(&shown)
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: DutyId, form: &Form<MoveForm>) -> Answer {
    let wanted = form.input.check()?;
    let there = form.input.asked().link();
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = store::move_duty(&mut write, id, &wanted).await?;
    if (before.assigned_to, before.second_to) == (wanted.to, wanted.second) {
        me.visit.flash(format!("{} stands as it was.", before.name()), false).await?;
        return Ok(redirect(&there));
    }
    let after = store::require(write.db(), id).await?;
    let change = Change::new("duty.moved", format!("duty {id}"), format!("{}: {}", after.name(), hands(&after))).from(hands(&before));
    let says = format!("{}: {}, instead of {}.", after.name(), hands(&after), hands(&before));
    me.done(write, change, &there, says).await
}

/// `Bo`, `Bo with Cy`, `nobody`.
fn hands(duty: &Duty) -> String {
    match (&duty.assigned_name, &duty.second_name) {
        (Some(first), Some(second)) => format!("{first} with {second}"),
        (Some(first), None) => first.clone(),
        (None, _) => "nobody".to_owned(),
    }
}
