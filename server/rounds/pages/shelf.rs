//! A shelf's feeding at once: every animal by name, “took it” unless something else is chosen.

use std::collections::HashMap;

use askama::Template;
use axum::extract::State;

use super::next::{change, next_stop, round_ids};
use super::stop::Stop;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::Form;
use crate::house::ids::{DutyId, ShelfId};
use crate::house::layout::{Layout, Section, page};
use crate::house::write::Write;
use crate::rooms;
use crate::rounds::model::{NewSignoff, Outcome};
use crate::rounds::store;

#[derive(Template)]
#[template(path = "rounds/shelf.html")]
struct ShelfPage {
    layout: Layout,
    shelf: ShelfId,
    place: String,
    stops: Vec<Stop>,
}

impl ShelfPage {
    fn dangerous(&self) -> Vec<&Stop> {
        self.stops.iter().filter(|stop| stop.duty.band >= 3).collect()
    }
}

pub(in crate::rounds) async fn feed_shelf(State(app): State<App>, me: SignedIn, Path(shelf): Path<ShelfId>) -> Answer {
    let mut db = app.read().await?;
    let place = rooms::store::shelf_label(&mut db, shelf).await?;
    let known = store::known(&mut db, app.now(), app.site().zone).await?;
    let feeds = store::feeds_on_shelf(&mut db, me.id(), shelf).await?;
    let usual = store::prey::usual_book(&mut db).await?;
    let stops = feeds.into_iter().map(|duty| Stop::new(duty, &known, app.today()).fed(&usual)).collect();
    page(&ShelfPage { layout: Layout::of(&app, &me, Section::Round).await?, shelf, place, stops })
}

/// What was sent: `duty` once for each that was listed, and `outcome-ID` where something else than “took it” was chosen.
type Sent = Vec<(String, String)>;

pub(in crate::rounds) async fn sign_shelf(State(app): State<App>, me: SignedIn, Path(shelf): Path<ShelfId>, form: Form<Sent>) -> Answer {
    let wanted = wanted(&form.input)?;
    let place = rooms::store::shelf_label(&mut *app.read().await?, shelf).await?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = round_ids(&mut write, &me).await?;
    let (written, refused) = sign_all(&mut write, shelf, &wanted).await?;
    if written.is_empty() {
        return Err(AppError::Conflict(if refused.is_empty() {
            "Nothing was chosen, so nothing was written. Open the shelf again and choose.".to_owned()
        } else {
            refused.join(" ")
        }));
    }
    let signed: Vec<DutyId> = wanted.iter().map(|(id, _)| *id).collect();
    let next = next_stop(&mut write, &me, &before, &signed).await?;
    let say = tally(&written);
    write.commit(Change::new("shelf.fed", format!("shelf {shelf}"), written.join("; ")), &next).await?;
    me.visit.flash(format!("{place}: {say}."), false).await?;
    if !refused.is_empty() {
        me.visit.flash(format!("Not written: {}", refused.join(" ")), true).await?;
    }
    Ok(redirect(&next))
}

/// The duties to sign and how; those that were to be left out are not among them.
fn wanted(sent: &Sent) -> Result<Vec<(DutyId, Outcome)>, AppError> {
    let chosen: HashMap<&str, &str> =
        sent.iter().filter_map(|(name, value)| Some((name.strip_prefix("outcome-")?, value.as_str()))).collect();
    let mut wanted = Vec::new();
    for (name, value) in sent {
        if name.starts_with("outcome-") {
            continue;
        }
        let id = value.parse::<DutyId>().ok().filter(|_| name == "duty");
        let id = id.ok_or_else(|| AppError::BadRequest("This form holds something that the page does not ask for.".to_owned()))?;
        let outcome = match chosen.get(value.as_str()) {
            None => Outcome::Took,
            Some(&"leave") => continue,
            Some(code) => code.parse().map_err(|_| AppError::BadRequest("An outcome on this form is not one of the list.".to_owned()))?,
        };
        if wanted.iter().all(|(listed, _)| *listed != id) {
            wanted.push((id, outcome));
        }
    }
    Ok(wanted)
}

/// Signs each by itself: what somebody else did meanwhile, or what this person may not, is named and left alone.
async fn sign_all(write: &mut Write, shelf: ShelfId, wanted: &[(DutyId, Outcome)]) -> Result<(Vec<String>, Vec<String>), AppError> {
    let (mut written, mut refused) = (Vec::new(), Vec::new());
    for (id, outcome) in wanted {
        let duty = store::require(write.db(), *id).await?;
        if duty.shelf_id.is_some_and(|stands| stands != shelf) || outcome.meal().is_none() {
            return Err(AppError::BadRequest("A duty on this form is not a feed of this shelf. Open the shelf again.".to_owned()));
        }
        match store::sign_off(write, &NewSignoff::plain(*id, *outcome)).await {
            Ok(signed) => written.push(change(&signed).after),
            Err(AppError::Conflict(why) | AppError::Forbidden(why)) => refused.push(why),
            Err(other) => return Err(other),
        }
    }
    Ok((written, refused))
}

/// `12 took it, 2 prey left in`.
fn tally(written: &[String]) -> String {
    super::round::counted(written.iter().filter_map(|words| Some(words.rsplit_once(": ")?.1.to_owned())).collect())
}
