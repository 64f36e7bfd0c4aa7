//! The round on paper, for a day without wireless or power: printed in walking order, and typed in afterwards in the same
//! order, marked as entered from paper. Work with hands in is never put on paper: it is signed at once, by two where it takes two.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde::Deserialize;

use super::batch::Chosen;
use super::intake;
use super::stop::Stop;
use crate::house::access::May;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Fields, Form, Mistakes};
use crate::house::ids::MemberId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::rounds::model::Outcome;
use crate::rounds::model::arrival::Arrival;
use crate::rounds::store;
use crate::staff;

/// The page that paper is typed in at.
const ENTER: &str = "/round/paper/enter";
/// What was done longer ago than this is entered where it happened to the animal, with its own day.
const OLDEST_HOURS: i64 = 48;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::rounds) struct Asked {
    who: Option<MemberId>,
}

#[derive(Template)]
#[template(path = "rounds/paper.html")]
struct PaperPage {
    layout: Layout,
    today: NaiveDate,
    whose: String,
    printed_at: String,
    stops: Vec<Stop>,
    emergency: String,
}

/// Everybody prints their own round; a lead prints anybody's.
pub(in crate::rounds) async fn paper(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let who = asked.who.unwrap_or(me.id());
    if who != me.id() && !May::Lead.allows(&me.member) {
        return Err(AppError::forbidden("You can print your own round. The lead can print anybody's."));
    }
    let mut db = app.read().await?;
    let whose = staff::store::require(&mut db, who).await?.name;
    let stops = stops(&app, who).await?;
    page(&PaperPage {
        layout: Layout::of(&app, &me, Section::Round).await?,
        today: app.today(),
        whose,
        printed_at: text::instant(&app.now(), &app.site().zone),
        stops,
        emergency: app.site().emergency.clone(),
    })
}

async fn stops(app: &App, who: MemberId) -> Result<Vec<Stop>, AppError> {
    let mut db = app.read().await?;
    let known = store::known(&mut db, app.now(), app.site().zone).await?;
    let round = store::round_of(&mut db, who).await?;
    Ok(round.into_iter().map(|duty| Stop::new(duty, &known, app.today())).collect())
}

/// When the work on the sheet was done, as typed.
#[derive(Debug, Default)]
struct When {
    day: String,
    hour: String,
}

#[derive(Template)]
#[template(path = "rounds/paper_enter.html")]
struct EnterPage {
    layout: Layout,
    stops: Vec<Stop>,
    when: When,
    chosen: Chosen,
    mistakes: Mistakes,
}

impl EnterPage {
    async fn build(app: &App, me: &SignedIn, when: When, chosen: Chosen, mistakes: Mistakes) -> Result<Self, AppError> {
        let stops = stops(app, me.id()).await?.into_iter().filter(|stop| !stop.buttons.is_empty() && stop.duty.may_wait()).collect();
        Ok(Self { layout: Layout::of(app, me, Section::Round).await?, stops, when, chosen, mistakes })
    }

    fn marked(&self, stop: &Stop, outcome: &Outcome) -> bool {
        self.chosen.get(&stop.duty.id).is_some_and(|chosen| chosen == outcome.code())
    }

    fn unmarked(&self, stop: &Stop) -> bool {
        self.chosen.get(&stop.duty.id).is_none_or(|chosen| chosen == "leave")
    }
}

pub(in crate::rounds) async fn enter(State(app): State<App>, me: SignedIn) -> Answer {
    let when = When { day: text::iso_day(&app.today()), hour: String::new() };
    page(&EnterPage::build(&app, &me, when, Chosen::new(), Mistakes::none()).await?)
}

/// The time of the sheet, and the rest of what was sent.
fn split(sent: &Fields) -> (When, Fields) {
    let mut when = When::default();
    let mut rest = Fields::new();
    for (name, value) in sent {
        match name.as_str() {
            "day" => when.day.clone_from(value),
            "hour" => when.hour.clone_from(value),
            _ => rest.push((name.clone(), value.clone())),
        }
    }
    (when, rest)
}

impl When {
    fn check(&self, app: &App) -> Result<DateTime<Utc>, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, app.today());
        let made = day.and_then(|day| check.hour("hour", &self.hour, day, app.site().zone, app.now()));
        let (true, Some(made)) = (check.ok(), made) else { return Err(check.mistakes()) };
        if app.now() - made > TimeDelta::hours(OLDEST_HOURS) {
            check.add("day", "What was done more than two days ago is entered on each animal's own page, with its day.");
        }
        if check.ok() { Ok(made) } else { Err(check.mistakes()) }
    }
}

pub(in crate::rounds) async fn save_entered(State(app): State<App>, me: SignedIn, form: Form<Fields>) -> Answer {
    let (when, rest) = split(&form.input);
    match save(&app, &me, &form, (&when, &rest)).await {
        Err(AppError::Refused(mistakes)) => page_again(&EnterPage::build(&app, &me, when, super::batch::chosen(&rest), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<Fields>, (when, rest): (&When, &Fields)) -> Answer {
    let (batch, _) = intake::Batch::read(rest)?;
    let made_at = when.check(app)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let signed = batch.sign(&mut write, Arrival::Paper { made_at }).await?;
    let refused: Vec<String> = signed.refused.into_iter().map(|(_, _, why)| why).collect();
    if signed.written.is_empty() {
        let why = if refused.is_empty() { "Nothing was chosen, so nothing was written.".to_owned() } else { refused.join(" ") };
        return Err(AppError::refused("", why));
    }
    let made = text::instant(&made_at, &write.zone);
    let change = Change::new("paper.entered", format!("member {}", me.id()), format!("done {made}: {}", signed.written.join("; ")));
    write.commit(change, if refused.is_empty() { paths::ROUND } else { ENTER }).await?;
    let written = text::count(&i64::try_from(signed.written.len()).unwrap_or(i64::MAX), "sign-off", "sign-offs");
    me.visit.flash(format!("{written} entered from paper, done {made}."), false).await?;
    if refused.is_empty() {
        return Ok(crate::house::errors::redirect(paths::ROUND));
    }
    me.visit.flash(format!("Not written: {}", refused.join(" ")), true).await?;
    Ok(crate::house::errors::redirect(ENTER))
}
