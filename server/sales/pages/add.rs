//! Putting animals and lots on a handover, and taking them off.

use axum::extract::State;
use serde::Deserialize;

use super::{Typed, again};
use crate::animals;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{CohortId, HandoverId, HandoverLineId};
use crate::house::paths;
use crate::reckoning::stage::Stage;
use crate::reckoning::tag;
use crate::sales::model::{Item, Lot};
use crate::sales::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct AnimalForm {
    tag: String,
}

pub(in crate::sales) async fn add_animal(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<AnimalForm>,
) -> Answer {
    let answer = save_animal(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { tag: form.input.tag, ..Typed::default() }).await
}

async fn save_animal(app: &App, me: &SignedIn, id: HandoverId, form: &Form<AnimalForm>) -> Answer {
    let mut check = Check::new();
    let Some(typed) = check.text("tag", &form.input.tag, 40) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let Some(animal) = animals::store::find_by_tag(write.db(), &typed).await? else {
        return Err(AppError::refused("tag", no_such_tag(&typed)));
    };
    if store::outings::left_for(write.db(), id, Item::Animal(animal)).await? == Some(0) {
        return Err(AppError::refused("tag", "This animal is not out on the outing, or is sold already. Choose one of the list."));
    }
    let line = store::add_animal_line(&mut write, id, animal).await?;
    let (at, zone) = (write.at, write.zone);
    let added = store::lines(write.db(), id).await?.into_iter().find(|added| added.id == line).ok_or(AppError::NotFound)?;
    let checked = store::check(write.db(), added, at, zone).await?;
    if let Some(why) = checked.impossible {
        return Err(AppError::refused("tag", why));
    }
    let change = Change::new("handover.line-added", format!("handover {id}"), format!("animal {animal}"));
    me.done(write, change, &paths::handover(&id), format!("Tag {} is on the list.", checked.line.label)).await
}

/// What to say of a tag that no animal has: where it may be mistyped, when its check character tells so.
pub(super) fn no_such_tag(typed: &str) -> String {
    let typed = tag::normalise(typed);
    if tag::holds(&typed) {
        return format!("No animal has the tag {typed}. Read it again from the label.");
    }
    let meant: Vec<String> = tag::corrections(&typed)
        .into_iter()
        .take(3)
        .map(|slip| format!("{} (character {}: {} for {})", slip.tag, slip.position, slip.typed, slip.meant))
        .collect();
    if meant.is_empty() {
        return format!("{typed} is not a tag of this house. Read it again from the label.");
    }
    format!("{typed} is mistyped: its check character does not fit. Perhaps {}.", meant.join(", or "))
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct LotForm {
    lot: String,
    quantity: String,
}

impl LotForm {
    fn check(&self) -> Result<Lot, Mistakes> {
        let mut check = Check::new();
        let chosen = self.lot.split_once('-').and_then(|(cohort, stage)| Some((cohort.parse().ok()?, stage.parse().ok()?)));
        if chosen.is_none() {
            check.add("lot", "Choose one of the list.");
        }
        let quantity = check.whole("quantity", &self.quantity, 1..=3000);
        match (chosen, quantity) {
            (Some((cohort, stage)), Some(quantity)) => Ok(Lot { cohort, stage, quantity }),
            _ => Err(check.mistakes()),
        }
    }
}

pub(in crate::sales) async fn add_lot(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>, form: Form<LotForm>) -> Answer {
    let answer = save_lot(&app, &me, id, &form).await;
    let typed = Typed { lot: form.input.lot, quantity: form.input.quantity, ..Typed::default() };
    again(&app, &me, id, answer, typed).await
}

async fn save_lot(app: &App, me: &SignedIn, id: HandoverId, form: &Form<LotForm>) -> Answer {
    let lot = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let left = store::outings::left_for(write.db(), id, Item::Lot(lot)).await?.map(i64::from);
    if let Some(left) = left.filter(|left| i64::from(lot.quantity) > *left) {
        return Err(AppError::refused("quantity", format!("Only {left} are left on the outing. Enter fewer.")));
    }
    let free = free_at(&mut write, id, lot.cohort, lot.stage).await?;
    if i64::from(lot.quantity) > free {
        return Err(AppError::refused("quantity", format!("Only {free} are free at this stage. Enter fewer, or release some first.")));
    }
    store::add_lot_line(&mut write, id, lot).await?;
    let what = format!("{} of cohort {}, {}", lot.quantity, lot.cohort, lot.stage.code());
    let change = Change::new("handover.line-added", format!("handover {id}"), what);
    me.done(write, change, &paths::handover(&id), format!("{} of the {} are on the list.", lot.quantity, lot.stage)).await
}

async fn free_at(write: &mut crate::house::write::Write, id: HandoverId, cohort: CohortId, stage: Stage) -> Result<i64, AppError> {
    let (today, keeper) = (write.today, store::reserved::keeper_of(write.db(), id).await?);
    let offers = store::offers(write.db(), today, keeper).await?;
    let offer = offers.iter().find(|offer| offer.cohort_id == cohort && offer.stage == stage);
    offer.map(|offer| offer.free).ok_or_else(|| AppError::refused("lot", "Nothing stands there any more. Choose one of the list."))
}

pub(in crate::sales) async fn remove_line(
    State(app): State<App>,
    me: SignedIn,
    Path((id, line)): Path<(HandoverId, HandoverLineId)>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    store::remove_line(&mut write, id, line).await?;
    let change = Change::new("handover.line-removed", format!("handover {id}"), "").from(format!("line {line}"));
    me.done(write, change, &paths::handover(&id), "Taken off the list.").await
}
