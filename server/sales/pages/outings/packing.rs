//! Packing an outing by scanning, and the moment it goes out.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::{at_field, standing};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{CohortId, OutingId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::write::Write;
use crate::house::{paths, text};
use crate::reckoning::stage::Stage;
use crate::sales::model::{Item, Lot, Outing, OutingItem, OutingState};
use crate::sales::store::outings;
use crate::sales::store::packing::{no_such_tag, scanned};
use crate::{animals, cohorts};

#[derive(Debug, Default)]
struct Typed {
    scan: String,
    quantity: String,
    leave_rest: String,
}

#[derive(Template)]
#[template(path = "sales/outings/pack.html")]
struct PackPage {
    layout: Layout,
    outing: Outing,
    stock: Vec<OutingItem>,
    typed: Typed,
    mistakes: Mistakes,
}

impl PackPage {
    async fn read(app: &App, me: &SignedIn, id: OutingId, typed: Typed, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let outing = outings::require_in(&mut db, id, OutingState::Packing).await?;
        let stock = outings::stock(&mut db, id).await?;
        Ok(Self { layout: Layout::of(app, me, Section::Sales).await?, outing, stock, typed, mistakes })
    }

    fn packed(&self) -> u32 {
        self.stock.iter().map(|item| item.packed).sum()
    }

    fn some_missing(&self) -> bool {
        self.stock.iter().any(|item| item.packed < item.reserved)
    }
}

pub(in crate::sales) async fn pack(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>) -> Answer {
    page(&PackPage::read(&app, &me, id, Typed::default(), Mistakes::none()).await?)
}

async fn again(app: &App, me: &SignedIn, id: OutingId, answer: Answer, typed: Typed) -> Answer {
    match answer {
        Err(AppError::Refused(mistakes)) => page_again(&PackPage::read(app, me, id, typed, mistakes).await?),
        answer => answer,
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct ScanForm {
    scan: String,
    quantity: String,
}

pub(in crate::sales) async fn scan(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>, form: Form<ScanForm>) -> Answer {
    let answer = save_scan(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { scan: form.input.scan, quantity: form.input.quantity, ..Typed::default() }).await
}

async fn save_scan(app: &App, me: &SignedIn, id: OutingId, form: &Form<ScanForm>) -> Answer {
    let mut check = Check::new();
    let typed = check.text("scan", &form.input.scan, 200);
    let quantity = check.optional_whole::<u32>("quantity", &form.input.quantity, 1..=3000);
    let Some(typed) = typed.filter(|_| check.ok()) else { return Err(check.mistakes().into()) };
    let label = scanned(&typed);
    let mut write = app.begin(me.id(), &form.once).await?;
    let item = found(&mut write, id, &label, quantity).await?;
    outings::pack(&mut write, id, item).await.map_err(|error| at_field(error, "scan"))?;
    let (what, say) = match item {
        Item::Animal(animal) => (format!("animal {animal}"), format!("Tag {label} is in the boxes.")),
        Item::Lot(lot) => {
            let what = format!("{} of cohort {}, {}", lot.quantity, lot.cohort, lot.stage.code());
            (what, format!("{} of cohort {label}, {}, are in the boxes.", lot.quantity, lot.stage))
        }
    };
    me.done(write, Change::new("outing.packed", format!("outing {id}"), what), &pack_path(id), say).await
}

fn pack_path(id: OutingId) -> String {
    format!("{}/pack", paths::outing(&id))
}

/// The animal or lot that carries a label. Of a cohort without a number, as many as were chosen.
async fn found(write: &mut Write, id: OutingId, label: &str, quantity: Option<u32>) -> Result<Item, AppError> {
    if let Some(animal) = animals::store::find_by_tag(write.db(), label).await? {
        return match quantity {
            Some(more) if more > 1 => Err(AppError::refused("quantity", "This is the tag of one animal. Leave the number empty.")),
            _ => Ok(Item::Animal(animal)),
        };
    }
    let Some(cohort) = cohorts::store::find_by_code(write.db(), label).await? else {
        return Err(AppError::refused("scan", no_such_tag(label)));
    };
    let stock = outings::stock(write.db(), id).await?;
    let chosen: Vec<&OutingItem> = stock.iter().filter(|item| item.cohort_id == Some(cohort)).collect();
    let (stage, kept) = match chosen.as_slice() {
        [one] => (one.stage, one.reserved),
        [] => (only_stage(write, cohort).await?, 0),
        _ => (None, 0),
    };
    let Some(stage) = stage else {
        let why = "This cohort stands at several stages. Choose the stage and the number on the outing's page first.";
        return Err(AppError::refused("scan", why));
    };
    let quantity = quantity.or((kept > 0).then_some(kept));
    let quantity = quantity.ok_or_else(|| AppError::refused("quantity", "Enter how many of this cohort are in the boxes."))?;
    let lot = Lot { cohort, stage, quantity };
    standing(write.db(), lot).await?;
    Ok(Item::Lot(lot))
}

async fn only_stage(write: &mut Write, cohort: CohortId) -> Result<Option<Stage>, AppError> {
    let standing = cohorts::store::standing(write.db(), cohort).await?;
    match standing.as_slice() {
        [one] => Ok(Some(one.stage)),
        [] => Err(AppError::refused("scan", "Nothing of this cohort is alive in the house.")),
        _ => Ok(None),
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct ItemForm {
    item: String,
}

pub(in crate::sales) async fn unpack(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>, form: Form<ItemForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let stock = outings::stock(write.db(), id).await?;
    let Some(item) = stock.iter().find(|item| item.code() == form.input.item) else {
        return Err(AppError::conflict("This is not on the list any more."));
    };
    let taken_off = item.item(1).ok_or(AppError::NotFound)?;
    outings::unpack(&mut write, id, taken_off).await?;
    let change = Change::new("outing.taken-off", format!("outing {id}"), "").from(item.words());
    let say = format!("{} stays here.", text::capitalised(&item.words()));
    me.done(write, change, &pack_path(id), say).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct GoForm {
    version: String,
    leave_rest: String,
}

pub(in crate::sales) async fn go(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>, form: Form<GoForm>) -> Answer {
    let answer = save_go(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { leave_rest: form.input.leave_rest, ..Typed::default() }).await
}

async fn save_go(app: &App, me: &SignedIn, id: OutingId, form: &Form<GoForm>) -> Answer {
    let mut check = Check::new();
    let Some(version) = check.whole("version", &form.input.version, 1..=i64::MAX) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let gone = outings::go(&mut write, id, version, form.input.leave_rest == "yes").await.map_err(|error| match error {
        AppError::Refused(mistakes) if mistakes.all().all(|mistake| mistake.field != "leave_rest") => {
            at_field(AppError::Refused(mistakes), "scan")
        }
        error => error,
    })?;
    let change = Change::new("outing.went-out", format!("outing {id}"), format!("{gone} animals")).from("packing");
    let say = format!("It is out, with {}. This take-out count stands.", text::count(&i64::from(gone), "animal", "animals"));
    me.done(write, change, &paths::outing(&id), say).await
}
