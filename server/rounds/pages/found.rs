//! What is found at a stop besides its duty, in one tap; and what becomes of it.

use axum::extract::State;
use serde::Deserialize;

use super::next::{NoFields, next_stop, round_ids};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{DutyId, FindingId};
use crate::house::paths;
use crate::rounds::model::finding::{FindingEnd, FindingKind};
use crate::rounds::store;

/// One tap, and words if there is more to say.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct FoundForm {
    what: String,
    text: String,
}

/// What was tapped.
enum Found {
    Moult { skin_kept: bool },
    Finding(FindingKind, String),
}

impl FoundForm {
    fn check(&self) -> Result<Found, Mistakes> {
        let mut check = Check::new();
        let text = check.optional_text("text", &self.text, 400);
        match (self.what.as_str(), text) {
            ("moulted-kept", Some(_)) => Ok(Found::Moult { skin_kept: true }),
            ("moulted", Some(_)) => Ok(Found::Moult { skin_kept: false }),
            (_, Some(text)) => match check.choice("what", &self.what) {
                Some(kind) => Ok(Found::Finding(kind, text)),
                None => Err(check.mistakes()),
            },
            (_, None) => Err(check.mistakes()),
        }
    }

    /// What was typed.
    pub(super) fn text(&self) -> &str {
        &self.text
    }
}

pub(in crate::rounds) async fn found(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<FoundForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => super::duty::found_again(&app, &me, id, form.input, mistakes).await,
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: DutyId, form: &Form<FoundForm>) -> Answer {
    let found = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let duty = store::require(write.db(), id).await?;
    let before = round_ids(&mut write, me).await?;
    let mut voided = None;
    let (change, say) = match found {
        Found::Moult { skin_kept } => {
            voided = store::record_found_moult(&mut write, &duty, skin_kept).await?.zip(duty.animal_id);
            let words = format!("{} has moulted", duty.label);
            (
                Change::new("animal.moulted", duty.subject_words(), words.clone()),
                format!("{words}. It is not fed until the new skin is hard."),
            )
        }
        Found::Finding(kind, text) => {
            let finding = store::record_finding(&mut write, &duty, kind, &text).await?;
            let words = store::require_finding(write.db(), finding).await?.words();
            (
                Change::new("finding.noted", duty.subject_words(), words.clone()),
                format!("{words}. You can take it back for {} minutes.", store::UNDO_MINUTES),
            )
        }
    };
    // The stop itself where its duty still stands open, else the next one.
    let stays = store::round_of(write.db(), me.id()).await?.iter().any(|own| own.id == id);
    let next = if stays { format!("{}#duty-{id}", paths::ROUND) } else { next_stop(&mut write, me, &before, &[id]).await? };
    let answer = me.done(write, change, &next, say).await?;
    if let Some((words, dam)) = voided {
        me.visit.flash_offer(words, &paths::pair_with(&dam), "Pair again?").await?;
    }
    Ok(answer)
}

pub(in crate::rounds) async fn take_finding_back(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<FindingId>,
    form: Form<NoFields>,
) -> Answer {
    settle(&app, &me, id, &form, FindingEnd::TakenBack, paths::ROUND).await
}

pub(in crate::rounds) async fn finding_dealt_with(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<FindingId>,
    form: Form<NoFields>,
) -> Answer {
    settle(&app, &me, id, &form, FindingEnd::DealtWith, paths::HOME).await
}

async fn settle(app: &App, me: &SignedIn, id: FindingId, form: &Form<NoFields>, end: FindingEnd, back: &str) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let finding = store::settle_finding(&mut write, id, end).await?;
    let words = format!("{}: {end}", finding.words());
    me.done(write, Change::new("finding.settled", format!("finding {id}"), words.clone()), back, format!("{words}.")).await
}
