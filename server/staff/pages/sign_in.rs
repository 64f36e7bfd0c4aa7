//! Signing in and out.

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode};
use axum::response::{IntoResponse as _, Response};
use serde::Deserialize;

use super::fields::{begin_session, sign_in_name};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{ButtonForm, Form, Mistakes};
use crate::house::ids::MemberId;
use crate::house::layout::{Layout, page, page_again};
use crate::house::paths;
use crate::house::session::Visit;
use crate::staff::kept::{Kept, Sealed};
use crate::staff::store::throttle::{self, Secret};
use crate::staff::{passphrase, store};

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::staff) struct Asked {
    next: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct SignInForm {
    sign_in_name: String,
    pass_phrase: String,
    next: String,
    kept: String,
    kept_seal: String,
}

#[derive(Template)]
#[template(path = "staff/sign_in.html")]
struct SignInPage {
    layout: Layout,
    sign_in_name: String,
    next: String,
    kept: Sealed,
    mistakes: Mistakes,
}

#[derive(Template)]
#[template(path = "staff/send_again.html")]
struct SendAgainPage {
    layout: Layout,
    kept: Kept,
}

pub(in crate::staff) async fn show(State(app): State<App>, me: Option<SignedIn>, visit: Visit, Query(asked): Query<Asked>) -> Answer {
    let next = paths::local_or(&asked.next, paths::HOME);
    if me.is_some() {
        return Ok(redirect(next));
    }
    let layout = Layout::outside(&app, &visit).await?;
    page(&SignInPage { layout, sign_in_name: String::new(), next: next.to_owned(), kept: Sealed::default(), mistakes: Mistakes::none() })
}

/// Asks somebody whose sign-in had ended to sign in again, and keeps what they typed.
pub(in crate::staff) async fn ask_again(app: &App, visit: &Visit, kept: Sealed) -> Answer {
    let layout = Layout::outside(app, visit).await?;
    let (sign_in_name, next) = (String::new(), paths::HOME.to_owned());
    let mut answer = page(&SignInPage { layout, sign_in_name, next, kept, mistakes: Mistakes::none() })?;
    *answer.status_mut() = StatusCode::UNAUTHORIZED;
    Ok(answer)
}

pub(in crate::staff) async fn sign_in(State(app): State<App>, visit: Visit, headers: HeaderMap, form: Form<SignInForm>) -> Answer {
    let next = paths::local_or(&form.input.next, paths::HOME).to_owned();
    let refusal = match checked(&app, &form.input).await {
        Ok(member) => {
            begin_session(&app, &visit, member, &headers).await?;
            tracing::info!(event = "signed.in", member = member.0, "signed in");
            let kept = Sealed { text: form.input.kept, seal: form.input.kept_seal }.open(&app, member);
            return match kept {
                Some(kept) => page(&SendAgainPage { layout: Layout::outside(&app, &visit).await?, kept }),
                None => Ok(redirect(&next)),
            };
        }
        Err(refusal @ (AppError::Refused(_) | AppError::TooMany(_))) => refusal,
        Err(other) => return Err(other),
    };
    let (mistakes, status) = match refusal {
        AppError::TooMany(why) => (Mistakes::one("", why), StatusCode::TOO_MANY_REQUESTS),
        AppError::Refused(mistakes) => (mistakes, StatusCode::UNPROCESSABLE_ENTITY),
        other => return Err(other),
    };
    let layout = Layout::outside(&app, &visit).await?;
    let kept = Sealed { text: form.input.kept, seal: form.input.kept_seal };
    let mut answer = page_again(&SignInPage { layout, sign_in_name: form.input.sign_in_name, next, kept, mistakes })?;
    *answer.status_mut() = status;
    Ok(answer)
}

/// An unknown name, a disabled member and a wrong pass phrase take the same time and get the same answer.
async fn checked(app: &App, typed: &SignInForm) -> Result<MemberId, AppError> {
    let name = sign_in_name(&typed.sign_in_name);
    let guess = throttle::count(app, Secret::Name(&name)).await?;
    let known = store::secret_of_name(&mut *app.read().await?, &name).await?;
    let right = match &known {
        Some(known) => passphrase::verify(app, &known.pass_hash, &typed.pass_phrase).await?,
        None => passphrase::verify_nobody(app, &typed.pass_phrase).await.map(|()| false)?,
    };
    let Some(member) = known.filter(|known| right && known.enabled) else {
        throttle::was_wrong(app, Secret::Name(&name)).await?;
        return Err(AppError::refused(
            "",
            "This name and this pass phrase do not go together. Check both; an owner can give you a link for a new pass phrase.",
        ));
    };
    throttle::was_right(app, guess).await?;
    if passphrase::is_weak(&member.pass_hash) {
        strengthen(app, member.id, &member.pass_hash, &typed.pass_phrase).await?;
    }
    Ok(member.id)
}

async fn strengthen(app: &App, member: MemberId, old_hash: &str, typed: &str) -> Result<(), AppError> {
    let new_hash = passphrase::hash(app, typed).await?;
    let mut write = app.write(Some(member)).await?;
    store::strengthen(&mut write, member, old_hash, &new_hash).await?;
    let change = Change::new("member.hash_strengthened", format!("member {member}"), "the same pass phrase at today's cost");
    write.commit(change, paths::HOME).await
}

pub(in crate::staff) async fn sign_out(me: SignedIn, _form: Form<ButtonForm>) -> Answer {
    leave(&me.visit).await
}

/// Ends this browser's sign-in and has it forget our pages.
pub(super) async fn leave(visit: &Visit) -> Result<Response, AppError> {
    visit.sign_out().await?;
    let forget = (HeaderName::from_static("clear-site-data"), HeaderValue::from_static("\"cache\", \"cookies\", \"storage\""));
    Ok(([forget], redirect(paths::SIGN_IN)).into_response())
}
