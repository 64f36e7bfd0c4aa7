//! What handlers take from a request: who asks, the parts of the address, the question.

use axum::extract::{FromRequestParts, OptionalFromRequestParts, Request, State};
use axum::http::{Extensions, Method, header, request::Parts};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde::de::DeserializeOwned;
use tower_sessions::Session;

use super::app::App;
use super::errors::{AppError, redirect};
use super::ids::MemberId;
use super::session::{Visit, member_of_ended};
use super::tablet;
use super::write::Write;
use crate::house::audit::Change;

/// A member of staff, as they stand at this request.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Member {
    /// Their id.
    pub id: MemberId,
    /// Their name, as buttons and lists show it.
    pub name: String,
    /// Role: owner.
    pub is_owner: bool,
    /// Role: lead.
    pub is_lead: bool,
    /// Role: keeper.
    pub is_keeper: bool,
    /// Role: counter.
    pub is_counter: bool,
}

/// The member of this request, if somebody is signed in.
pub(super) fn member_of(extensions: &Extensions) -> Option<&Member> {
    extensions.get::<Member>()
}

/// Whose sign-in it was that ended before this request.
#[derive(Debug, Clone, Copy)]
pub struct Ended(pub MemberId);

/// The session of this request.
pub(crate) fn session_of(extensions: &Extensions) -> Result<Visit, AppError> {
    extensions.get::<Session>().cloned().map(Visit).ok_or_else(|| AppError::Internal(anyhow::anyhow!("the session layer is missing")))
}

/// Finds out who asks, afresh at every request, so that a disabled or demoted member is so at once; and refuses changes that
/// another site's page sends.
pub async fn recognise(State(app): State<App>, mut request: Request, next: Next) -> Response {
    if let Err(error) = same_origin(&app, &request) {
        return error.into_response();
    }
    match tablet::recognise(&app, request.headers()).await {
        // A tablet is itself, whoever else signed in on it before: no member rides along.
        Ok(Some(device)) => {
            let theme = device.theme;
            request.extensions_mut().insert(device);
            let mut response = next.run(request).await;
            // For error pages, which are dressed further out.
            response.extensions_mut().insert(theme);
            return response;
        }
        Ok(None) => {}
        Err(error) => return error.into_response(),
    }
    match signed_in(&app, request.extensions()).await {
        Ok(Who::Member(member)) => {
            request.extensions_mut().insert(member);
        }
        Ok(Who::Ended(ended)) => {
            request.extensions_mut().insert(ended);
        }
        Ok(Who::Visitor) => {}
        Err(error) => return error.into_response(),
    }
    next.run(request).await
}

/// Refuses a form whose token is not that of this browser's session, or of this tablet.
///
/// # Errors
/// A 403 when it is not.
pub(super) async fn check_token(extensions: &Extensions, sent: &str) -> Result<(), AppError> {
    // A tablet that is opened anew sends the form of its browser's session.
    let of_browser = session_of(extensions)?.check_token(sent).await;
    match (tablet::device_of(extensions), of_browser) {
        (Some(device), Err(_)) => device.check_token(sent),
        (_, of_browser) => of_browser,
    }
}

enum Who {
    Visitor,
    Ended(Ended),
    Member(Member),
}

async fn signed_in(app: &App, extensions: &Extensions) -> Result<Who, AppError> {
    let visit = session_of(extensions)?;
    // Taken before the session is read: one that has ended loses its id then.
    let id_hash = visit.id_hash();
    let Some(id) = visit.member().await? else {
        let ended = member_of_ended(&mut *app.read().await?, &id_hash).await?;
        return Ok(ended.map_or(Who::Visitor, |id| Who::Ended(Ended(id))));
    };
    let member: Option<Member> =
        sqlx::query_as("SELECT id, name, is_owner, is_lead, is_keeper, is_counter FROM member WHERE id = ? AND disabled_at IS NULL")
            .bind(id)
            .fetch_optional(&mut *app.read().await?)
            .await?;
    let Some(member) = member else {
        visit.sign_out().await?;
        return Ok(Who::Visitor);
    };
    Ok(Who::Member(member))
}

/// A change must come from a page of this house: by `Sec-Fetch-Site` where the browser says it, and by `Origin` always.
fn same_origin(app: &App, request: &Request) -> Result<(), AppError> {
    if matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS) {
        return Ok(());
    }
    let text = |name: &str| request.headers().get(name).map(|value| value.to_str().unwrap_or("unreadable"));
    let site_is_ours = text("sec-fetch-site").is_none_or(|site| site == "same-origin");
    let origin_is_ours = text(header::ORIGIN.as_str()).is_some_and(|origin| origin == app.config.public_url);
    if site_is_ours && origin_is_ours {
        return Ok(());
    }
    tracing::warn!(origin = text(header::ORIGIN.as_str()), "a change from another site was refused");
    Err(AppError::forbidden(format!(
        "This change did not come from a page of this house, so nothing was saved. Open {} and try there.",
        app.config.public_url
    )))
}

/// Somebody who is signed in, and their session.
#[derive(Debug, Clone)]
pub struct SignedIn {
    /// Who.
    pub member: Member,
    /// Their session.
    pub visit: Visit,
}

impl SignedIn {
    /// Their id.
    #[must_use]
    pub fn id(&self) -> MemberId {
        self.member.id
    }

    /// Commits a change, says so on the next page, and goes there.
    ///
    /// # Errors
    /// The database can't be written.
    pub async fn done(&self, write: Write, change: Change, location: &str, say: impl Into<String>) -> Result<Response, AppError> {
        write.commit(change, location).await?;
        self.visit.flash(say, false).await?;
        Ok(redirect(location))
    }
}

impl FromRequestParts<App> for SignedIn {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, _app: &App) -> Result<Self, AppError> {
        let member = member_of(&parts.extensions).cloned().ok_or(AppError::SignInNeeded)?;
        Ok(Self { member, visit: session_of(&parts.extensions)? })
    }
}

impl OptionalFromRequestParts<App> for SignedIn {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, _app: &App) -> Result<Option<Self>, AppError> {
        let visit = session_of(&parts.extensions)?;
        Ok(member_of(&parts.extensions).cloned().map(|member| Self { member, visit }))
    }
}

impl FromRequestParts<App> for Visit {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, _app: &App) -> Result<Self, AppError> {
        session_of(&parts.extensions)
    }
}

/// The parts of the address. One that can't be read is a page that does not exist.
#[derive(Debug)]
pub struct Path<T>(pub T);

#[expect(clippy::disallowed_types, reason = "the one place that reads paths")]
impl<T: DeserializeOwned + Send> FromRequestParts<App> for Path<T> {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, AppError> {
        let read = <axum::extract::Path<T> as FromRequestParts<App>>::from_request_parts(parts, app).await;
        read.map(|axum::extract::Path(value)| Self(value)).map_err(|_| AppError::NotFound)
    }
}

/// The question behind the `?`. Unknown names are ignored; a value of the wrong kind is named.
#[derive(Debug)]
pub struct Query<T>(pub T);

impl<T: DeserializeOwned> FromRequestParts<App> for Query<T> {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, _app: &App) -> Result<Self, AppError> {
        serde_html_form::from_str(parts.uri.query().unwrap_or_default())
            .map(Self)
            .map_err(|error| AppError::BadRequest(format!("The address asks for something that can't be read ({error}).")))
    }
}
