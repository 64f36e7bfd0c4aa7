//! The list of kinds and sizes of prey, and changing it.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::PreyKindId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::rounds::model::prey::{NewPreyKind, PreyKind};
use crate::rounds::store::prey as store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct KindForm {
    name: String,
    size: String,
    length_mm: String,
    per_pack: String,
    staple: String,
    active: String,
    version: String,
}

impl KindForm {
    fn of(kind: &PreyKind) -> Self {
        let yes = |is: bool| if is { "yes".to_owned() } else { String::new() };
        Self {
            name: kind.name.clone(),
            size: kind.size.clone(),
            length_mm: kind.length_mm.to_string(),
            per_pack: kind.per_pack.to_string(),
            staple: yes(kind.staple),
            active: yes(kind.active),
            version: kind.version.to_string(),
        }
    }

    fn check(&self) -> Result<NewPreyKind, Mistakes> {
        let mut check = Check::new();
        let name = check.text("name", &self.name, 40);
        let size = check.text("size", &self.size, 40);
        let length_mm = check.whole("length_mm", &self.length_mm, 1..=100);
        let per_pack = check.whole("per_pack", &self.per_pack, 1..=100_000);
        match (name, size, length_mm, per_pack) {
            (Some(name), Some(size), Some(length_mm), Some(per_pack)) => {
                Ok(NewPreyKind { name, size, length_mm, per_pack, staple: self.staple == "yes", active: self.active == "yes" })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "rounds/prey_kinds.html")]
struct KindsPage {
    layout: Layout,
    kinds: Vec<PreyKind>,
    /// The kind that is changed; none to add one.
    changed: Option<PreyKind>,
    input: KindForm,
    mistakes: Mistakes,
}

impl KindsPage {
    async fn build(
        app: &App,
        me: &SignedIn,
        id: Option<PreyKindId>,
        input: Option<KindForm>,
        mistakes: Mistakes,
    ) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let changed = match id {
            Some(id) => Some(store::require_kind(&mut db, id).await?),
            None => None,
        };
        let fresh = KindForm { staple: "yes".to_owned(), active: "yes".to_owned(), ..KindForm::default() };
        let input = input.unwrap_or_else(|| changed.as_ref().map_or(fresh, KindForm::of));
        Ok(Self { layout: Layout::of(app, me, Section::Today).await?, kinds: store::kinds(&mut db).await?, changed, input, mistakes })
    }
}

pub(in crate::rounds) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    page(&KindsPage::build(&app, &me, None, None, Mistakes::none()).await?)
}

pub(in crate::rounds) async fn edit(State(app): State<App>, me: SignedIn, Path(id): Path<PreyKindId>) -> Answer {
    page(&KindsPage::build(&app, &me, Some(id), None, Mistakes::none()).await?)
}

pub(in crate::rounds) async fn add(State(app): State<App>, me: SignedIn, form: Form<KindForm>) -> Answer {
    match save(&app, &me, None, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&KindsPage::build(&app, &me, None, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

pub(in crate::rounds) async fn change(State(app): State<App>, me: SignedIn, Path(id): Path<PreyKindId>, form: Form<KindForm>) -> Answer {
    match save(&app, &me, Some(id), &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&KindsPage::build(&app, &me, Some(id), Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: Option<PreyKindId>, form: &Form<KindForm>) -> Answer {
    let new = form.input.check()?;
    let words = format!(
        "{}, {}, {} mm, packs of {}{}{}",
        new.name,
        new.size,
        new.length_mm,
        new.per_pack,
        if new.staple { "" } else { ", only where chosen" },
        if new.active { "" } else { ", not in use" }
    );
    let mut write = app.begin(me.id(), &form.once).await?;
    let (action, kind) = match id {
        None => ("prey-kind.added", store::add_kind(&mut write, &new).await?),
        Some(id) => {
            store::require_kind(write.db(), id).await?;
            store::change_kind(&mut write, id, form.input.version.trim().parse().unwrap_or(0), &new).await?;
            ("prey-kind.changed", id)
        }
    };
    me.done(write, Change::new(action, format!("prey kind {kind}"), &words), paths::PREY_KINDS, format!("Saved: {words}.")).await
}

/// Adds the usual kinds, for a house that has none yet.
pub(in crate::rounds) async fn add_usual(State(app): State<App>, me: SignedIn, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let added = store::add_usual_kinds(&mut write).await?;
    let say = format!("{added} kinds added. Change what your house has otherwise, then count what is there.");
    me.done(write, Change::new("prey-kind.added", "prey", format!("{added} usual kinds")), paths::PREY_KINDS, say).await
}
