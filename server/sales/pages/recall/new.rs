//! Making a recall: what it begins with, how far it reaches, and what it would find.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;

use crate::animals;
use crate::cohorts;
use crate::handling;
use crate::handling::model::{HoldSubject, NewHold};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, CohortId};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::paths;
use crate::house::write::Write;
use crate::reckoning::calendar::{day_in, days_after};
use crate::reckoning::words::{Exposure, HoldKind};
use crate::rounds;
use crate::sales::model::recall::{Fate, NewFound, NewRecall, Origin, RecallReason, Scope};
use crate::sales::store;

/// What the address may name: an animal, a cohort, or a tag or code as typed; and how far to look.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::sales) struct Asked {
    animal: String,
    cohort: String,
    of: String,
}

impl Asked {
    /// The tag or code that it means.
    async fn label(&self, app: &App) -> Result<String, AppError> {
        let mut db = app.read().await?;
        if let Ok(id) = self.animal.parse::<AnimalId>() {
            return Ok(animals::store::require(&mut db, id).await?.tag);
        }
        if let Ok(id) = self.cohort.parse::<CohortId>() {
            return Ok(cohorts::store::require(&mut db, id).await?.code);
        }
        Ok(self.of.clone())
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct RecallForm {
    of: String,
    mates: String,
    descent: String,
    rack: String,
    reason: String,
    words: String,
    hold: String,
    last_day: String,
    /// Which button was pressed: to look first, or to record.
    step: String,
}

/// What a checked form asks for.
struct Wanted {
    recall: NewRecall,
    /// The last day on which what is in the house is held.
    hold: Option<NaiveDate>,
}

impl RecallForm {
    fn scope(&self) -> Scope {
        Scope { mates: self.mates == "yes", descent: self.descent == "yes", rack: self.rack == "yes" }
    }

    async fn origin(&self, app: &App, check: &mut Check) -> Result<Option<Origin>, AppError> {
        let Some(of) = check.text("of", &self.of, 40) else { return Ok(None) };
        let mut db = app.read().await?;
        if let Some(cohort) = cohorts::store::find_by_code(&mut db, &of).await? {
            return Ok(Some(Origin::Cohort(cohort)));
        }
        let animal = animals::store::find_by_tag(&mut db, &of).await?.map(Origin::Animal);
        if animal.is_none() {
            check.add("of", "No animal has this tag and no cohort this code. Read it again from the label.");
        }
        Ok(animal)
    }

    async fn check(&self, app: &App) -> Result<Wanted, AppError> {
        let mut check = Check::new();
        let origin = self.origin(app, &mut check).await?;
        let reason = check.choice::<RecallReason>("reason", &self.reason);
        let words = check.paragraphs("words", &self.words, 2000).filter(|words| !words.is_empty());
        if words.is_none() && !self.words.chars().any(|letter| !letter.is_whitespace()) {
            check.add("words", "Say what was found: the letters carry these words.");
        }
        let hold = if self.hold == "yes" { check.coming_day("last_day", &self.last_day, app.today()) } else { None };
        match (origin, reason, words) {
            (Some(origin), Some(reason), Some(words)) if check.ok() => {
                Ok(Wanted { recall: NewRecall { origin, scope: self.scope(), reason, words }, hold })
            }
            _ => Err(check.mistakes().into()),
        }
    }
}

/// What a recall would find, in figures.
#[derive(Debug, Default)]
struct Outlook {
    sold: usize,
    buyers_lines: usize,
    here: u32,
    gone: u32,
    doubtful: usize,
}

impl Outlook {
    fn of(found: &[NewFound]) -> Self {
        let of = |fates: &[Fate]| found.iter().filter(|one| fates.contains(&one.fate)).map(|one| one.quantity).sum();
        Self {
            sold: found.iter().filter(|one| matches!(one.fate, Fate::Sold | Fate::Returned)).count(),
            buyers_lines: found.iter().filter(|one| one.line.is_some()).count(),
            here: of(&[Fate::Here]),
            gone: of(&[Fate::Dead, Fate::Escaped]),
            doubtful: found.iter().filter(|one| !one.certain).count(),
        }
    }
}

#[derive(Template)]
#[template(path = "sales/recall/new.html")]
struct NewPage {
    layout: Layout,
    reasons: Vec<Choice>,
    input: RecallForm,
    outlook: Option<Outlook>,
    mistakes: Mistakes,
}

impl NewPage {
    async fn of(app: &App, me: &SignedIn, input: RecallForm, outlook: Option<Outlook>, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Sales).await?;
        Ok(Self { layout, reasons: choices(RecallReason::ALL, RecallReason::code), input, outlook, mistakes })
    }
}

pub(in crate::sales) async fn new_recall(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let yes = "yes".to_owned();
    let input = RecallForm { of: asked.label(&app).await?, mates: yes.clone(), descent: yes, ..RecallForm::default() };
    page(&NewPage::of(&app, &me, input, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn create_recall(State(app): State<App>, me: SignedIn, form: Form<RecallForm>) -> Answer {
    let wanted = match form.input.check(&app).await {
        Ok(wanted) => wanted,
        Err(AppError::Refused(mistakes)) => return page_again(&NewPage::of(&app, &me, form.input, None, mistakes).await?),
        Err(error) => return Err(error),
    };
    if form.input.step != "record" {
        let found = store::recall::related(&mut *app.read().await?, wanted.recall.origin, wanted.recall.scope).await?;
        return page(&NewPage::of(&app, &me, form.input, Some(Outlook::of(&found)), Mistakes::none()).await?);
    }
    match record(&app, &me, &wanted, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&NewPage::of(&app, &me, form.input, None, mistakes).await?),
        answer => answer,
    }
}

async fn record(app: &App, me: &SignedIn, wanted: &Wanted, form: &Form<RecallForm>) -> Answer {
    let recall = &wanted.recall;
    let mut write = app.begin(me.id(), &form.once).await?;
    let found = store::recall::related(write.db(), recall.origin, recall.scope).await?;
    let id = store::recall::insert(&mut write, recall, &found).await?;
    let held = match wanted.hold {
        Some(day) => hold(&mut write, &found, day, &format!("recall {id}: {}", recall.reason)).await?,
        None => 0,
    };
    let sold = Outlook::of(&found).sold;
    let after = format!(
        "{}; {}; {}; {} found, {sold} sold, {held} held",
        recall.origin.words(),
        recall.scope.words(),
        recall.reason.code(),
        found.len()
    );
    me.done(write, Change::new("recall.made", format!("recall {id}"), after), &paths::recall(&id), "The recall is in the book.").await
}

/// Puts a quarantine on everything that is still in the house; gives how many were held.
async fn hold(write: &mut Write, found: &[NewFound], last_day: NaiveDate, reason: &str) -> Result<usize, AppError> {
    let until_at = Some(end_of(write.zone, last_day)?);
    let here = found.iter().filter(|one| one.fate == Fate::Here);
    let subjects: Vec<HoldSubject> =
        here.filter_map(|one| one.animal.map(HoldSubject::Animal).or(one.cohort.map(HoldSubject::Cohort))).collect();
    for subject in &subjects {
        let hold = NewHold {
            subject: *subject,
            kind: HoldKind::Quarantine,
            blocks: Exposure::HandsIn,
            until_at,
            reason: reason.to_owned(),
            signoff: None,
        };
        handling::store::add_hold(write, &hold).await?;
        match subject {
            HoldSubject::Animal(animal) => drop(rounds::store::replan_animal(write, *animal).await?),
            HoldSubject::Cohort(cohort) => drop(rounds::store::replan_cohort(write, *cohort).await?),
        }
    }
    Ok(subjects.len())
}

/// The first instant after a local day; a zone may have skipped a day: then the one after it.
fn end_of(zone: Tz, day: NaiveDate) -> Result<DateTime<Utc>, AppError> {
    let start = day_in(zone, days_after(day, 1)).or_else(|_| day_in(zone, days_after(day, 2)));
    start.map(|next| next.start).map_err(|error| AppError::refused("last_day", error.to_string()))
}
