//! Sign-offs that waited in a browser for the wireless: each is written once, or kept for a person to settle, and never lost.
//!
//! The browser sends the form as it was, with its own one-time key. A form whose answer got lost on the way is therefore known
//! again, and what arrives here a second time is answered as the first time.

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse as _, Response};
use chrono::{DateTime, SubsecRound as _, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

use super::intake::{Batch, Deed};
use super::next::change;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Fields, Form, Once};
use crate::house::ids::DutyId;
use crate::house::write::Write;
use crate::house::{paths, text};
use crate::rounds::model::arrival::{Arrival, NewRefusal};
use crate::rounds::model::{Duty, NewSignoff, Outcome};
use crate::rounds::store;

/// How long a sign-off may wait: what is older must be looked at by a person.
const LONGEST_HOURS: i64 = 12;
/// How long its last sending may take.
const SLACK_MINUTES: i64 = 15;
/// How far a browser's clock may run ahead while it says when something was made.
const AHEAD_MINUTES: i64 = 2;

/// Who is signed in, and the token that their forms carry now: a browser asks before it sends what waited.
#[derive(Serialize)]
struct Known<'a> {
    member: i64,
    name: &'a str,
    token: String,
    /// What our clock says, so that all that waited is told by it.
    now: DateTime<Utc>,
}

pub(in crate::rounds) async fn who(State(app): State<App>, me: SignedIn) -> Answer {
    json(&Known { member: me.id().0, name: &me.member.name, token: me.visit.token().await?, now: app.now() })
}

fn json<T: Serialize>(told: &T) -> Result<Response, AppError> {
    let body = serde_json::to_string(told).map_err(anyhow::Error::from)?;
    Ok(([(header::CONTENT_TYPE, HeaderValue::from_static("application/json"))], body).into_response())
}

/// A form that waited, as the browser kept it.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct QueueForm {
    /// Where the form would have gone.
    path: String,
    /// Its fields, written as a form sends them.
    fields: String,
    /// What it was about, in words.
    label: String,
    /// When it was made, by the browser's clock.
    made_at: String,
    /// When it is sent now, by the same clock: so a clock that is wrong does not matter.
    sent_at: String,
}

/// What the browser is told: `done`, `already` (it had been written before) or `refused` (it is kept for a person).
#[derive(Serialize)]
struct Said {
    state: &'static str,
    words: String,
}

/// A form that waited, read.
struct Item {
    path: String,
    fields: Fields,
    label: String,
    made_at: DateTime<Utc>,
    /// Why it can't be written whatever it holds.
    fault: Option<String>,
}

impl Item {
    fn read(form: &QueueForm, now: DateTime<Utc>) -> Result<Self, AppError> {
        if form.path.is_empty() || form.path.len() > 200 {
            return Err(AppError::BadRequest("Nothing that waited came with this.".to_owned()));
        }
        let instant = |typed: &str| typed.parse::<DateTime<Utc>>().ok();
        let (made, sent) = (instant(&form.made_at), instant(&form.sent_at));
        let made = made.zip(sent).map(|(made, sent)| by_our_clock(made, sent, now).trunc_subsecs(0));
        let label: String = form.label.chars().filter(|letter| !letter.is_control()).take(200).collect();
        Ok(Self {
            path: form.path.clone(),
            fields: url::form_urlencoded::parse(form.fields.as_bytes()).into_owned().collect(),
            label: if label.trim().is_empty() { "A sign-off".to_owned() } else { label },
            fault: fault(made, now),
            made_at: made.unwrap_or(now).min(now),
        })
    }

    /// What was entered, in words: the outcome, and what goes with it. What belongs to a death is told with a death only.
    fn entered(&self) -> String {
        let outcome: Option<Outcome> = self.fields.iter().find(|(name, _)| name == "outcome").and_then(|(_, code)| code.parse().ok());
        let of_death = ["cause", "stage", "quantity"];
        let idle = |name: &str| name == "outcome" || (outcome.is_some_and(|how| how != Outcome::FoundDead) && of_death.contains(&name));
        let others = self.fields.iter().filter(|(name, value)| !value.is_empty() && !idle(name));
        let words = outcome
            .map(|how| how.to_string())
            .into_iter()
            .chain(others.map(|(name, value)| format!("{}: {value}", name.replace('_', " "))));
        words.collect::<Vec<_>>().join("; ").chars().take(1000).collect()
    }

    /// The duty that it is about, when it is about one, and which of its forms it is.
    fn deed(&self) -> Option<(DutyId, Deed)> {
        let rest = self.path.strip_prefix(paths::ROUND)?.strip_prefix("/duties/")?;
        let (id, part) = rest.split_once('/').unwrap_or((rest, ""));
        Some((id.parse().ok()?, Deed::of(part)?))
    }

    fn is_batch(&self) -> bool {
        self.path.starts_with("/round/racks/")
    }
}

/// A browser that knows our clock tells the time by it; by one that runs otherwise, how long it waited is what counts.
fn by_our_clock(made: DateTime<Utc>, sent: DateTime<Utc>, now: DateTime<Utc>) -> DateTime<Utc> {
    if (now - sent).abs() <= TimeDelta::minutes(AHEAD_MINUTES) { made } else { now - (sent - made) }
}

fn fault(made: Option<DateTime<Utc>>, now: DateTime<Utc>) -> Option<String> {
    let Some(made) = made else { return Some("The browser did not say when this was made.".to_owned()) };
    if made > now + TimeDelta::minutes(AHEAD_MINUTES) {
        return Some("By the browser's clock this was made after it arrived, so its time can't be right.".to_owned());
    }
    if made < now - TimeDelta::hours(LONGEST_HOURS) - TimeDelta::minutes(SLACK_MINUTES) {
        return Some(format!("This waited for more than {LONGEST_HOURS} hours, so it must be looked at before it is written."));
    }
    None
}

pub(in crate::rounds) async fn arrive(State(app): State<App>, me: SignedIn, form: Form<QueueForm>) -> Answer {
    let item = Item::read(&form.input, app.now())?;
    let once = Once::of(form.once.key, &item.path, &item.fields);
    let said = match write(&app, &me, &item, &once).await {
        Ok(said) => said,
        Err(AppError::Repeat { at, .. }) => said_before(&app, &me, &once, at).await?,
        Err(AppError::Conflict(why) | AppError::Forbidden(why) | AppError::BadRequest(why)) => keep(&app, &me, &item, &once, why).await?,
        Err(AppError::Refused(mistakes)) => {
            let why = mistakes.all().map(|mistake| mistake.message.as_str()).collect::<Vec<_>>().join(" ");
            keep(&app, &me, &item, &once, why).await?
        }
        Err(AppError::NotFound) => keep(&app, &me, &item, &once, "There is no such duty.".to_owned()).await?,
        Err(other) => return Err(other),
    };
    json(&said)
}

/// It arrived before: the same is said again.
async fn said_before(app: &App, me: &SignedIn, once: &Once, at: DateTime<Utc>) -> Result<Said, AppError> {
    let refused = store::queue::reasons(&mut *app.read().await?, me.id(), &once.key).await?;
    if !refused.is_empty() {
        return Ok(Said { state: "refused", words: refused.join(" ") });
    }
    Ok(Said { state: "already", words: format!("This was written at {} already.", text::hour(&at, &app.site().zone)) })
}

async fn write(app: &App, me: &SignedIn, item: &Item, once: &Once) -> Result<Said, AppError> {
    let mut write = app.begin(me.id(), once).await?;
    let refused = store::queue::reasons(write.db(), me.id(), &once.key).await?;
    if !refused.is_empty() {
        return Ok(Said { state: "refused", words: refused.join(" ") });
    }
    if let Some(fault) = &item.fault {
        return Err(AppError::conflict(fault.as_str()));
    }
    let arrival = Arrival::Queued { made_at: item.made_at };
    if item.is_batch() {
        return write_batch(write, item, once, arrival).await;
    }
    let (id, deed) =
        item.deed().ok_or_else(|| AppError::conflict("This can't wait for the wireless: it is done where a page answers at once."))?;
    let duty = store::require(write.db(), id).await?;
    let day = crate::house::clock::local_date(write.zone, item.made_at);
    let new: NewSignoff = deed.read(&duty, &item.fields, day)?.by(arrival);
    let signed = store::sign_off(&mut write, &new).await?;
    let told = change(&signed);
    let (words, after) = (told.after.clone(), format!("{}, made {}", told.after, when(&write, item)));
    write.commit(Change { after, ..told }, paths::ROUND).await?;
    let told = signed.told.map(|told| format!(" {told}")).unwrap_or_default();
    Ok(Said { state: "done", words: format!("{words}.{told}") })
}

fn when(write: &Write, item: &Item) -> String {
    text::instant(&item.made_at, &write.zone)
}

/// Those that could be written are; the others are kept, all in one change.
async fn write_batch(mut write: Write, item: &Item, once: &Once, arrival: Arrival) -> Result<Said, AppError> {
    let (mut batch, shelf) = Batch::read(&item.fields)?;
    if let Some(shelf) = shelf {
        let mut here = Vec::new();
        for (id, outcome) in batch.chosen {
            if store::require(write.db(), id).await?.shelf_id == Some(shelf) {
                here.push((id, outcome));
            }
        }
        batch = Batch { chosen: here, unseen: Vec::new() };
    }
    let signed = batch.sign(&mut write, arrival).await?;
    let mut refused: Vec<NewRefusal> =
        signed.refused.iter().map(|(duty, outcome, why)| refusal(item, once, duty, &outcome.to_string(), why)).collect();
    for id in &batch.unseen {
        let duty = store::require(write.db(), *id).await?;
        refused.push(refusal(item, once, &duty, "", "Nothing was chosen for it, so nothing was written."));
    }
    if signed.written.is_empty() && refused.is_empty() {
        return Err(AppError::conflict("Nothing was chosen, so nothing was written."));
    }
    for new in &refused {
        store::queue::keep(&mut write, new).await?;
    }
    let words = format!("{} written, {} not.", signed.written.len(), refused.len());
    let after = format!("{}; not written: {}; made {}", signed.written.join("; "), refused.len(), when(&write, item));
    write.commit(Change::new("queue.arrived", item.path.trim_start_matches('/'), after), paths::ROUND).await?;
    if refused.is_empty() {
        return Ok(Said { state: "done", words });
    }
    let why = refused.iter().map(|new| new.why.as_str()).collect::<Vec<_>>().join(" ");
    Ok(Said { state: "refused", words: format!("{words} {why}") })
}

fn refusal(item: &Item, once: &Once, duty: &Duty, entered: &str, why: &str) -> NewRefusal {
    NewRefusal {
        once_key: once.key.clone(),
        duty: Some(duty.id),
        label: duty.name(),
        entered: entered.to_owned(),
        made_at: item.made_at,
        why: why.to_owned(),
    }
}

/// Keeps what could not be written, once, for a person to settle.
async fn keep(app: &App, me: &SignedIn, item: &Item, once: &Once, why: String) -> Result<Said, AppError> {
    let mut write = app.write(Some(me.id())).await?;
    if !store::queue::reasons(write.db(), me.id(), &once.key).await?.is_empty() {
        return Ok(Said { state: "refused", words: why });
    }
    let new = NewRefusal {
        once_key: once.key.clone(),
        duty: item.deed().map(|(id, _)| id),
        label: item.label.clone(),
        entered: item.entered(),
        made_at: item.made_at,
        why: why.clone(),
    };
    store::queue::keep(&mut write, &new).await?;
    write.commit(Change::new("queue.refused", item.path.trim_start_matches('/'), format!("{}: {why}", item.label)), paths::WAITING).await?;
    Ok(Said { state: "refused", words: why })
}
