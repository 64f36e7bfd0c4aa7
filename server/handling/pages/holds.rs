//! Holds that people put on and lift by hand.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;

use super::{About, WhyForm, replan};
use crate::handling::model::{Hold, HoldSubject, NewHold, Subject};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::HoldId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::house::site::Site;
use crate::reckoning::calendar::{day_in, days_after};
use crate::reckoning::words::{Exposure, HoldKind};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct HoldForm {
    kind: String,
    last_day: String,
    reason: String,
}

/// What a checked form asks for.
struct Asked {
    kind: HoldKind,
    /// The last held day of a quarantine.
    last_day: Option<NaiveDate>,
    reason: String,
}

impl HoldForm {
    fn check(&self, today: NaiveDate) -> Result<Asked, Mistakes> {
        let mut check = Check::new();
        let kind = check.choice::<HoldKind>("kind", &self.kind).filter(|kind| BY_HAND.contains(kind));
        if kind.is_none() && check.ok() {
            check.add("kind", "Choose one of the list.");
        }
        let last_day = match kind {
            Some(HoldKind::Quarantine) => check.coming_day("last_day", &self.last_day, today),
            _ => None,
        };
        let reason = check.text("reason", &self.reason, 200);
        match (kind, reason) {
            (Some(kind), Some(reason)) if check.ok() => Ok(Asked { kind, last_day, reason }),
            _ => Err(check.mistakes()),
        }
    }
}

/// The kinds that people set; holds around a moult come from what is recorded of it.
const BY_HAND: [HoldKind; 2] = [HoldKind::Agitated, HoldKind::Quarantine];

#[derive(Template)]
#[template(path = "handling/new_hold.html")]
struct NewPage {
    layout: Layout,
    subject: Subject,
    site: std::sync::Arc<Site>,
    kinds: Vec<Choice>,
    input: HoldForm,
    mistakes: Mistakes,
}

impl NewPage {
    async fn of(app: &App, me: &SignedIn, subject: Subject, input: HoldForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Handling).await?;
        let kinds = BY_HAND.map(|kind| Choice::new(kind.code(), kind)).to_vec();
        Ok(Self { layout, subject, site: app.site(), kinds, input, mistakes })
    }
}

pub(in crate::handling) async fn new(State(app): State<App>, me: SignedIn, Query(about): Query<About>) -> Answer {
    let subject = store::require_subject(&mut *app.read().await?, about.subject()?).await?;
    let input = HoldForm { kind: HoldKind::Agitated.code().to_owned(), ..HoldForm::default() };
    page(&NewPage::of(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::handling) async fn create(State(app): State<App>, me: SignedIn, Query(about): Query<About>, form: Form<HoldForm>) -> Answer {
    let on = about.subject()?;
    let subject = store::require_subject(&mut *app.read().await?, on).await?;
    match save(&app, &me, on, &subject, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&NewPage::of(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, on: HoldSubject, subject: &Subject, form: &Form<HoldForm>) -> Answer {
    let Asked { kind, last_day, reason } = form.input.check(app.today())?;
    if !subject.here {
        return Err(AppError::refused("", format!("{} is no longer in the house: there is nothing to hold.", subject.label)));
    }
    let mut write = app.begin(me.id(), &form.once).await?;
    match last_day {
        Some(day) => {
            // A quarantine stops what would carry it on; feeding and looking go on.
            let until_at = Some(end_of(write.zone, day)?);
            let hold = NewHold { subject: on, kind, blocks: Exposure::HandsIn, until_at, reason: reason.clone(), signoff: None };
            store::add_hold(&mut write, &hold).await?;
        }
        None => store::agitate(&mut write, on, &app.site(), None, &reason).await?,
    }
    replan(&mut write, on).await?;
    let change = Change::new("hold.added", on.words(), format!("{}: {kind}, {reason}", subject.label));
    me.done(write, change, &subject.page(), format!("{} is on hold: {kind}.", subject.label)).await
}

/// The first instant after a local day.
fn end_of(zone: Tz, day: NaiveDate) -> Result<DateTime<Utc>, AppError> {
    let next = days_after(day, 1);
    // A zone may have skipped a day: then the one after it ends the hold.
    let start = day_in(zone, next).or_else(|_| day_in(zone, days_after(day, 2)));
    start.map(|next| next.start).map_err(|error| AppError::refused("last_day", error.to_string()))
}

#[derive(Template)]
#[template(path = "handling/lift.html")]
struct LiftPage {
    layout: Layout,
    hold: Hold,
    zone: Tz,
    input: WhyForm,
    mistakes: Mistakes,
}

pub(in crate::handling) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<HoldId>) -> Answer {
    let hold = store::require_hold(&mut *app.read().await?, id).await?;
    let layout = Layout::of(&app, &me, Section::Handling).await?;
    page(&LiftPage { layout, hold, zone: app.site().zone, input: WhyForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn lift(State(app): State<App>, me: SignedIn, Path(id): Path<HoldId>, form: Form<WhyForm>) -> Answer {
    let hold = store::require_hold(&mut *app.read().await?, id).await?;
    match save_lift(&app, &me, &hold, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let layout = Layout::of(&app, &me, Section::Handling).await?;
            page_again(&LiftPage { layout, hold, zone: app.site().zone, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_lift(app: &App, me: &SignedIn, hold: &Hold, form: &Form<WhyForm>) -> Answer {
    let why = form.input.check()?;
    let on = hold.subject().ok_or(AppError::NotFound)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::lift(&mut write, hold.id, &why).await?;
    replan(&mut write, on).await?;
    let change = Change::new("hold.lifted", on.words(), why).from(format!("{}: {}, {}", hold.label, hold.kind, hold.reason));
    me.done(write, change, paths::HANDLING, format!("The hold on {} ({}) is lifted.", hold.label, hold.blocks)).await
}
