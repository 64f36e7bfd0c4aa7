//! Outings: days on which stock is taken along to sell.

mod back;
mod new;
mod packing;
mod sell;

use askama::Template;
use axum::extract::State;
use sqlx::SqliteConnection;

pub(in crate::sales) use back::{back, reconcile};
pub(in crate::sales) use new::{create, new};
pub(in crate::sales) use packing::{go, pack, scan, unpack};
pub(in crate::sales) use sell::{begin_sale, sell};

use super::adding::lot_choices;
use crate::animals;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::OutingId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::outing::{Sum, reconcile as add_up};
use crate::sales::model::{Handover, Item, Keeper, Lot, Outing, OutingItem, OutingLine, OutingState};
use crate::sales::store::packing::{no_such_tag, scanned};
use crate::sales::store::{self, outings};

#[derive(Template)]
#[template(path = "sales/outings/list.html")]
struct ListPage {
    layout: Layout,
    outings: Vec<Outing>,
}

pub(in crate::sales) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let outings = outings::all(&mut *app.read().await?).await?;
    page(&ListPage { layout: Layout::of(&app, &me, Section::Sales).await?, outings })
}

/// What was typed into the forms of an outing's page.
#[derive(Debug, Default)]
struct Typed {
    tag: String,
    lot: String,
    quantity: String,
}

#[derive(Template)]
#[template(path = "sales/outings/outing.html")]
struct OutingPage {
    layout: Layout,
    outing: Outing,
    stock: Vec<OutingItem>,
    lines: Vec<OutingLine>,
    sums: Vec<Sum>,
    total: Option<Sum>,
    handovers: Vec<Handover>,
    lots: Vec<Choice>,
    typed: Typed,
    mistakes: Mistakes,
    zone: chrono_tz::Tz,
}

impl OutingPage {
    async fn read(app: &App, me: &SignedIn, id: OutingId, typed: Typed, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let outing = outings::require(&mut db, id).await?;
        let packing = outing.state == OutingState::Packing;
        let stock = if packing { outings::stock(&mut db, id).await? } else { Vec::new() };
        let lots = if packing {
            let offers = store::offers(&mut db, app.today(), Keeper::default()).await?;
            lot_choices(&offers.into_iter().filter(|offer| offer.free > 0).collect::<Vec<_>>())
        } else {
            Vec::new()
        };
        let lines = outings::lines(&mut db, id).await?;
        let counted: Vec<_> = lines.iter().filter_map(OutingLine::reconciled).collect();
        let sums = add_up(&counted);
        Ok(Self {
            layout: Layout::of(app, me, Section::Sales).await?,
            handovers: store::handovers_of_outing(&mut db, id).await?,
            total: (!sums.lines.is_empty()).then_some(sums.total),
            sums: sums.lines,
            outing,
            stock,
            lines,
            lots,
            typed,
            mistakes,
            zone: app.site().zone,
        })
    }

    /// How many animals went out.
    fn went_out(&self) -> u32 {
        self.lines.iter().map(|line| line.quantity).sum()
    }

    /// The line of a sum: both stand in the same order.
    fn line_at(&self, place: &usize) -> Option<&OutingLine> {
        self.lines.get(*place)
    }

    /// How many of them are sold so far.
    fn sold(&self) -> u32 {
        self.lines.iter().map(|line| line.sold).sum()
    }
}

pub(in crate::sales) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>) -> Answer {
    page(&OutingPage::read(&app, &me, id, Typed::default(), Mistakes::none()).await?)
}

async fn again(app: &App, me: &SignedIn, id: OutingId, answer: Answer, typed: Typed) -> Answer {
    match answer {
        Err(AppError::Refused(mistakes)) => page_again(&OutingPage::read(app, me, id, typed, mistakes).await?),
        answer => answer,
    }
}

#[derive(Debug, Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct AnimalForm {
    tag: String,
}

pub(in crate::sales) async fn take_animal(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<OutingId>,
    form: Form<AnimalForm>,
) -> Answer {
    let answer = save_animal(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { tag: form.input.tag, ..Typed::default() }).await
}

async fn save_animal(app: &App, me: &SignedIn, id: OutingId, form: &Form<AnimalForm>) -> Answer {
    let mut check = Check::new();
    let Some(typed) = check.text("tag", &form.input.tag, 200) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let tag = scanned(&typed);
    let Some(animal) = animals::store::find_by_tag(write.db(), &tag).await? else {
        return Err(AppError::refused("tag", no_such_tag(&tag)));
    };
    outings::take(&mut write, id, Item::Animal(animal)).await.map_err(|error| at_field(error, "tag"))?;
    let change = Change::new("outing.chosen", format!("outing {id}"), format!("animal {animal}"));
    me.done(write, change, &paths::outing(&id), "It is kept for this outing.").await
}

#[derive(Debug, Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct LotForm {
    lot: String,
    quantity: String,
}

pub(in crate::sales) async fn take_lot(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>, form: Form<LotForm>) -> Answer {
    let answer = save_lot(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { lot: form.input.lot, quantity: form.input.quantity, ..Typed::default() }).await
}

async fn save_lot(app: &App, me: &SignedIn, id: OutingId, form: &Form<LotForm>) -> Answer {
    let mut check = Check::new();
    let chosen = form.input.lot.split_once('-').and_then(|(cohort, stage)| Some((cohort.parse().ok()?, stage.parse().ok()?)));
    if chosen.is_none() {
        check.add("lot", "Choose one of the list.");
    }
    let quantity = check.whole("quantity", &form.input.quantity, 1..=3000);
    let (Some((cohort, stage)), Some(quantity)) = (chosen, quantity) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let lot = Lot { cohort, stage, quantity };
    standing(write.db(), lot).await?;
    outings::take(&mut write, id, Item::Lot(lot)).await?;
    let change = Change::new("outing.chosen", format!("outing {id}"), format!("{quantity} of cohort {cohort}, {}", stage.code()));
    me.done(write, change, &paths::outing(&id), format!("{quantity} of the {stage} are kept for this outing.")).await
}

/// Refuses more than stand at a stage: what is reserved is counted for the cohort as a whole.
async fn standing(db: &mut SqliteConnection, lot: Lot) -> Result<(), AppError> {
    let standing = crate::cohorts::store::standing(db, lot.cohort).await?;
    let there = standing.iter().find(|count| count.stage == lot.stage).map_or(0, |count| count.quantity);
    if i64::from(lot.quantity) > there {
        return Err(AppError::refused("quantity", format!("Only {there} stand at this stage. Enter fewer.")));
    }
    Ok(())
}

pub(in crate::sales) async fn cancel(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    outings::cancel(&mut write, id).await?;
    let change = Change::new("outing.cancelled", format!("outing {id}"), "cancelled").from("packing");
    me.done(write, change, paths::OUTINGS, "Cancelled. What was kept for it is free again.").await
}

/// A refusal at the field that this form has for it.
fn at_field(error: AppError, field: &'static str) -> AppError {
    match error {
        AppError::Refused(mistakes) => {
            let told: Vec<String> = mistakes.all().map(|mistake| mistake.message.clone()).collect();
            AppError::refused(field, told.join(" "))
        }
        error => error,
    }
}
