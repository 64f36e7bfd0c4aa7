//! What one animal or cohort is usually given: by the rule, or as somebody chose.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, CohortId, PreyKindId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::planner::{SubjectKey, SubjectKind};
use crate::rounds::model::prey::UsualBook;
use crate::rounds::store::prey as store;
use crate::{animals, cohorts};

/// Whose prey it is, in words.
struct Whose {
    key: SubjectKey,
    label: String,
    path: String,
}

impl Whose {
    async fn of(app: &App, kind: &str, id: i64) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        match kind {
            "animals" => {
                let animal = animals::store::require(&mut db, AnimalId(id)).await?;
                Ok(Self { key: SubjectKey { kind: SubjectKind::Animal, id }, label: animal.tag, path: paths::animal(&AnimalId(id)) })
            }
            "cohorts" => {
                let cohort = cohorts::store::require(&mut db, CohortId(id)).await?;
                let label = format!("Cohort {}", cohort.code);
                Ok(Self { key: SubjectKey { kind: SubjectKind::Cohort, id }, label, path: paths::cohort(&CohortId(id)) })
            }
            _ => Err(AppError::NotFound),
        }
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct UsualForm {
    kind: String,
    each: String,
    note: String,
}

#[derive(Template)]
#[template(path = "rounds/prey_usual.html")]
struct UsualPage {
    layout: Layout,
    whose: Whose,
    now: Option<(String, String)>,
    kinds: Vec<Choice>,
    input: UsualForm,
    mistakes: Mistakes,
}

impl UsualPage {
    async fn build(app: &App, me: &SignedIn, whose: Whose, input: Option<UsualForm>, mistakes: Mistakes) -> Result<Self, AppError> {
        let book: UsualBook = store::usual_book(&mut *app.read().await?).await?;
        let now = book.of(whose.key).map(|usual| (format!("{} × {}", usual.offer.each, usual.label), usual.why));
        let own = book.own.get(&whose.key);
        let input = input.unwrap_or_else(|| UsualForm {
            kind: own.map(|own| own.kind.to_string()).unwrap_or_default(),
            each: own.map_or(1, |own| own.each).to_string(),
            note: own.map(|own| own.note.clone()).unwrap_or_default(),
        });
        let mut kinds = vec![Choice::new("", "by the house's rule")];
        kinds.extend(book.kinds.iter().map(|kind| Choice::new(kind.id, kind.label())));
        Ok(Self { layout: Layout::of(app, me, Section::Today).await?, whose, now, kinds, input, mistakes })
    }
}

pub(in crate::rounds) async fn show(State(app): State<App>, me: SignedIn, Path((kind, id)): Path<(String, i64)>) -> Answer {
    let whose = Whose::of(&app, &kind, id).await?;
    page(&UsualPage::build(&app, &me, whose, None, Mistakes::none()).await?)
}

pub(in crate::rounds) async fn change(
    State(app): State<App>,
    me: SignedIn,
    Path((kind, id)): Path<(String, i64)>,
    form: Form<UsualForm>,
) -> Answer {
    let whose = Whose::of(&app, &kind, id).await?;
    match save(&app, &me, &whose, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&UsualPage::build(&app, &me, whose, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, whose: &Whose, form: &Form<UsualForm>) -> Answer {
    let mut check = Check::new();
    let kind: Option<PreyKindId> = check.optional_choice("kind", &form.input.kind);
    let each = check.whole("each", &form.input.each, 1..=50);
    let note = check.optional_text("note", &form.input.note, 200);
    let (Some(each), Some(note), true) = (each, note, check.ok()) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::set_own(&mut write, whose.key, kind, each, &note).await?;
    let usual = store::usual_of(write.db(), whose.key).await?;
    let words = usual.map_or_else(|| "nothing of the list fits".to_owned(), |usual| format!("{} × {}", usual.offer.each, usual.label));
    let change = Change::new("prey-usual.changed", format!("{} {}", whose.key.kind.code(), whose.key.id), format!("{words}. {note}"));
    me.done(write, change, &whose.path, format!("{}: usually {words}.", whose.label)).await
}
