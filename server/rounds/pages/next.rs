//! Where a sign-off leads: the next stop of the round, with a word on what was written; and taking it back.

use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::Form;
use crate::house::ids::{DutyId, SignoffId};
use crate::house::paths;
use crate::house::write::Write;
use crate::rounds::model::{NewSignoff, Outcome, Signed};
use crate::rounds::store;

/// Signs one duty off and goes on to the next stop.
pub(super) async fn sign_one(me: &SignedIn, mut write: Write, new: &NewSignoff) -> Answer {
    let before = round_ids(&mut write, me).await?;
    let signed = store::sign_off(&mut write, new).await?;
    let next = next_stop(&mut write, me, &before, &[new.duty]).await?;
    let mut said = format!("{}.", signed.words());
    let voided = signed.told.as_ref().filter(|_| signed.outcome == Outcome::Moulted).zip(signed.duty.animal_id);
    if let Some(told) = signed.told.as_ref().filter(|_| voided.is_none()) {
        said = format!("{said} {told}");
    }
    if signed.can_be_undone() {
        said = format!("{said} You can take it back for {} minutes.", store::UNDO_MINUTES);
    }
    let answer = me.done(write, change(&signed), &next, said).await?;
    if let Some((words, dam)) = voided {
        me.visit.flash_offer(words, &paths::pair_with(&dam), "Pair again?").await?;
    }
    Ok(answer)
}

/// The audit row of a sign-off.
pub(super) fn change(signed: &Signed) -> Change {
    Change::new("duty.signed", format!("duty {}", signed.duty.id), signed.words())
}

/// The duties of a round, in walking order.
pub(super) async fn round_ids(write: &mut Write, me: &SignedIn) -> Result<Vec<DutyId>, AppError> {
    Ok(store::round_of(write.db(), me.id()).await?.iter().map(|duty| duty.id).collect())
}

/// The first stop after those that were just signed which still stands open; the round's top when there is none.
pub(super) async fn next_stop(write: &mut Write, me: &SignedIn, before: &[DutyId], signed: &[DutyId]) -> Result<String, AppError> {
    let standing = round_ids(write, me).await?;
    let after = before.iter().rposition(|id| signed.contains(id)).map_or(0, |place| place + 1);
    let next = before.iter().skip(after).find(|id| standing.contains(id));
    Ok(next.map_or_else(|| paths::ROUND.to_owned(), |id| format!("{}#duty-{id}", paths::ROUND)))
}

/// A form that holds nothing but its tokens.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct NoFields {}

pub(in crate::rounds) async fn undo(State(app): State<App>, me: SignedIn, Path(id): Path<SignoffId>, form: Form<NoFields>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let signed = store::undo(&mut write, id).await?;
    let next = place_of(&mut write, &signed).await?;
    let change = Change::new("duty.sign-off taken back", format!("duty {}", signed.duty.id), signed.duty.name());
    done(&me, write, change, &next, &signed).await
}

/// The duty that stands again in the place of one that was taken back.
async fn place_of(write: &mut Write, signed: &Signed) -> Result<String, AppError> {
    let again = store::open_of(write.db(), &signed.duty).await?;
    Ok(again.map_or_else(|| paths::ROUND.to_owned(), |duty| format!("{}#duty-{}", paths::ROUND, duty.id)))
}

async fn done(me: &SignedIn, write: Write, change: Change, next: &str, signed: &Signed) -> Result<Response, AppError> {
    me.done(write, change, next, format!("{} is taken back and stands open again.", signed.duty.name())).await
}
