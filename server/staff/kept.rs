//! What somebody typed into a form after their sign-in had ended: it travels through the sign-in page, sealed, and is offered
//! to the same person again. Whoever else signs in there gets nothing of it.

use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{Request, State};
use axum::http::{Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde::{Deserialize, Serialize};

use super::pages;
use crate::house::app::App;
use crate::house::errors::{AppError, MustSignIn};
use crate::house::extract::{Ended, session_of};
use crate::house::forms::SECRETS;
use crate::house::ids::MemberId;
use crate::house::paths;
use crate::house::router::FORM_BYTES;

/// The sign-in form that carries it must stay below the limit of all forms.
const LONGEST: usize = 48 * 1024;

/// A form that was sent too late.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Kept {
    member: MemberId,
    /// Where it was sent.
    pub path: String,
    /// Its one-time key.
    pub once: String,
    /// What was typed, field by field.
    pub fields: Vec<(String, String)>,
}

/// The same as it travels: as text, with a seal that only this house can make.
#[derive(Debug, Default)]
pub(super) struct Sealed {
    /// The form.
    pub text: String,
    /// The seal over it.
    pub seal: String,
}

impl Kept {
    fn read(member: MemberId, path: &str, body: &Bytes) -> Self {
        let mut kept = Self { member, path: path.to_owned(), once: String::new(), fields: Vec::new() };
        for (name, value) in url::form_urlencoded::parse(body) {
            match name.as_ref() {
                "csrf" => {}
                "once" => kept.once = value.into_owned(),
                secret if SECRETS.contains(&secret) => {}
                _ => kept.fields.push((name.into_owned(), value.into_owned())),
            }
        }
        kept
    }

    /// A field's name as people read it.
    pub fn label(&self, name: &str) -> String {
        name.replace('_', " ")
    }

    /// Nothing when there is nothing worth keeping, or too much.
    fn sealed(&self, app: &App) -> Option<Sealed> {
        if self.fields.is_empty() || [paths::SIGN_OUT, paths::THEME].contains(&self.path.as_str()) {
            return None;
        }
        let text = URL_SAFE_NO_PAD.encode(serde_json::to_vec(self).ok()?);
        (text.len() <= LONGEST).then(|| Sealed { seal: seal(app, &text), text })
    }
}

impl Sealed {
    /// The form again, for the person who typed it.
    pub fn open(&self, app: &App, member: MemberId) -> Option<Kept> {
        if self.text.is_empty() || self.seal != seal(app, &self.text) {
            return None;
        }
        let kept: Kept = serde_json::from_slice(&URL_SAFE_NO_PAD.decode(&self.text).ok()?).ok()?;
        (kept.member == member).then_some(kept)
    }
}

/// Buyers' links are worked out from the same key, from nonces that never begin like this.
fn seal(app: &App, text: &str) -> String {
    app.link_key.token(&format!("kept form: {text}"))
}

/// Answers a form from somebody whose sign-in has ended with the sign-in page, keeping what they typed.
pub async fn keep_typed(State(app): State<App>, request: Request, next: Next) -> Response {
    let is_form =
        request.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(b"application/x-www-form-urlencoded"));
    let ended = request.extensions().get::<Ended>().copied();
    let (Some(Ended(member)), true, true) = (ended, is_form, request.method() == Method::POST) else { return next.run(request).await };
    let visit = match session_of(request.extensions()) {
        Ok(visit) => visit,
        Err(error) => return error.into_response(),
    };
    let (parts, body) = request.into_parts();
    let Ok(body) = to_bytes(body, FORM_BYTES).await else { return AppError::TooLarge.into_response() };
    let kept = Kept::read(member, parts.uri.path(), &body).sealed(&app);
    let response = next.run(Request::from_parts(parts, Body::from(body))).await;
    match kept {
        Some(kept) if response.extensions().get::<MustSignIn>().is_some() => {
            pages::sign_in::ask_again(&app, &visit, kept).await.unwrap_or_else(AppError::into_response)
        }
        _ => response,
    }
}
