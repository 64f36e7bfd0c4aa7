//! What is sent, how it arrives, and what comes back.

mod arrival;
mod credit;
mod journey;
mod returned;
mod rules;

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use sqlx::SqliteConnection;

pub(in crate::sales) use arrival::{arrival, record_arrival};
pub(in crate::sales) use credit::{credit, issue_credit};
pub(in crate::sales) use journey::{collect, journey, plan_journey};
pub(in crate::sales) use returned::{returned, take_back};
pub(in crate::sales) use rules::{change_rules, rules};

use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::Check;
use crate::house::ids::ShelfId;
use crate::house::layout::{Choice, Layout, Section, page};
use crate::reckoning::dispatch::Verdict;
use crate::reckoning::sale_readiness::Finding;
use crate::rooms;
use crate::sales::model::{Arrival, CreditNote, Handover, HandoverState, Journey, Returned, RoadRules, Sent};
use crate::sales::store::{arrivals, credits, returns, road};

/// How many that have arrived the list shows.
const SHOWN: i64 = 100;

/// What a handover's page tells of its way.
pub(super) struct OnTheWay {
    pub(super) journey: Option<Journey>,
    pub(super) verdict: Option<Verdict>,
    /// What speaks against sending it today, while it is a draft.
    pub(super) against: Vec<Finding>,
    pub(super) arrival: Option<Arrival>,
    pub(super) returned: Vec<Returned>,
    pub(super) credits: Vec<CreditNote>,
}

impl OnTheWay {
    pub(super) async fn read(db: &mut SqliteConnection, handover: &Handover, today: NaiveDate) -> Result<Self, AppError> {
        let journey = road::journey(&mut *db, handover.id).await?;
        let verdict = match &journey {
            Some(journey) => Some(road::judged(&mut *db, journey).await?),
            None => None,
        };
        let draft = handover.state == HandoverState::Draft;
        Ok(Self {
            against: if draft { road::against(&mut *db, handover, today).await? } else { Vec::new() },
            arrival: arrivals::of(&mut *db, handover.id).await?,
            returned: returns::of(&mut *db, handover.id).await?,
            credits: credits::of(db, handover.id).await?,
            journey,
            verdict,
        })
    }
}

#[derive(Template)]
#[template(path = "sales/road/dispatch.html")]
struct DispatchPage {
    layout: Layout,
    rules: RoadRules,
    to_send: Vec<Sent>,
    untold: Vec<Sent>,
    told: Vec<Sent>,
    zone: chrono_tz::Tz,
}

pub(in crate::sales) async fn dispatch(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    page(&DispatchPage {
        layout: Layout::of(&app, &me, Section::Sales).await?,
        rules: road::rules(&mut db).await?,
        to_send: road::to_send(&mut db).await?,
        untold: road::sent(&mut db, true, SHOWN).await?,
        told: road::sent(&mut db, false, SHOWN).await?,
        zone: app.site().zone,
    })
}

/// The shelves of the house, with a first choice that is none of them.
pub(super) async fn places(app: &App, none: &str) -> Result<Vec<Choice>, AppError> {
    let shelves = rooms::store::shelves(&mut *app.read().await?).await?;
    let first = Choice::new("", none);
    Ok(std::iter::once(first).chain(shelves.into_iter().map(|shelf| Choice::new(shelf.shelf_id, shelf.label))).collect())
}

/// A shelf of the list, or none.
pub(super) fn shelf(check: &mut Check, typed: &str, places: &[Choice]) -> Option<ShelfId> {
    let typed = typed.trim();
    if !places.iter().any(|place| place.code == typed) {
        check.add("shelf", "Choose one of the list.");
        return None;
    }
    typed.parse().ok()
}
