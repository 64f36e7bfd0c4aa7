//! The one error type of the web shell, and how each kind is answered.

use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse, Response};
use chrono::{DateTime, Utc};

use super::forms::Mistakes;

/// What a handler answers.
pub type Answer = Result<Response, AppError>;

/// Marks the answer to somebody who must sign in first, so that what they typed can be kept.
#[derive(Debug, Clone, Copy)]
pub struct MustSignIn;

/// Why a request was not carried out.
#[derive(Debug)]
pub enum AppError {
    /// 404: no such page or record, or not one that this person may know of.
    NotFound,
    /// 403, with a sentence that says what is missing.
    Forbidden(String),
    /// 303 to sign-in.
    SignInNeeded,
    /// 409: somebody or something was faster; says what stands now.
    Conflict(String),
    /// 400: the request itself is malformed.
    BadRequest(String),
    /// 413: more was sent than the page takes.
    TooLarge,
    /// 429: too many tries.
    TooMany(String),
    /// 422: what was entered can't be saved; handlers show these beside the fields.
    Refused(Mistakes),
    /// 303 to where the first sending of the same form led. It is here so that `?` ends a handler that has nothing left to do.
    Repeat {
        /// Where the first sending led.
        location: String,
        /// When it was carried out.
        at: DateTime<Utc>,
    },
    /// 500: logged with its cause, shown without it.
    Internal(anyhow::Error),
}

impl AppError {
    /// A 403 with its reason.
    pub fn forbidden(reason: impl Into<String>) -> Self {
        Self::Forbidden(reason.into())
    }

    /// A 409 with what stands now.
    pub fn conflict(reason: impl Into<String>) -> Self {
        Self::Conflict(reason.into())
    }

    /// A 422 at one field.
    pub fn refused(field: &'static str, message: impl Into<String>) -> Self {
        Self::Refused(Mistakes::one(field, message))
    }
}

impl std::fmt::Display for AppError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotFound => f.write_str("not found"),
            Self::TooLarge => f.write_str("too large"),
            Self::SignInNeeded => f.write_str("sign-in needed"),
            Self::Repeat { at, .. } => write!(f, "carried out before, at {at}"),
            Self::Refused(mistakes) => f.write_str(&mistakes.all().map(|mistake| mistake.message.as_str()).collect::<Vec<_>>().join(" ")),
            Self::Internal(error) => write!(f, "{error:#}"),
            Self::Forbidden(why) | Self::Conflict(why) | Self::BadRequest(why) | Self::TooMany(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for AppError {}

impl From<Mistakes> for AppError {
    fn from(mistakes: Mistakes) -> Self {
        Self::Refused(mistakes)
    }
}

impl From<anyhow::Error> for AppError {
    fn from(error: anyhow::Error) -> Self {
        Self::Internal(error)
    }
}

impl From<askama::Error> for AppError {
    fn from(error: askama::Error) -> Self {
        Self::Internal(error.into())
    }
}

impl From<tower_sessions::session::Error> for AppError {
    fn from(error: tower_sessions::session::Error) -> Self {
        Self::Internal(error.into())
    }
}

impl From<sqlx::Error> for AppError {
    /// What a constraint or a trigger refuses becomes a sentence for the person; the rest is internal.
    fn from(error: sqlx::Error) -> Self {
        if let sqlx::Error::RowNotFound = error {
            return Self::NotFound;
        }
        let Some(refusal) = error.as_database_error().and_then(|database| refusal(database.message())) else {
            return Self::Internal(error.into());
        };
        refusal
    }
}

/// Reads SQLite's message for a failed constraint. Triggers name their subject before a colon.
fn refusal(message: &str) -> Option<AppError> {
    if let Some(columns) = message.strip_prefix("UNIQUE constraint failed: ") {
        return Some(taken(columns));
    }
    if message == "CHECK constraint failed: ledger_never_negative" || message == "ledger: fewer than that stood there on that day" {
        return Some(AppError::refused(
            "quantity",
            "Fewer than that stand at this stage on that day. Check the count, the stage and the day.",
        ));
    }
    let (subject, sentence) = message.split_once(": ")?;
    match subject {
        "clearance" => Some(AppError::forbidden(super::text::sentence(&sentence))),
        "signoff" | "handover" | "plan" | "outing" | "credit" | "pairing" | "sac" | "care-text" | "reservation" => {
            Some(AppError::conflict(super::text::sentence(&sentence)))
        }
        "absence" => Some(AppError::refused("first_day", super::text::sentence(&sentence))),
        "ledger" | "holdback" | "animal" | "prey" | "line" => Some(AppError::refused("quantity", super::text::sentence(&sentence))),
        _ => None,
    }
}

/// SQLite reports columns, not a constraint's name: `room.name` or `rack.room_id, rack.name`. The last one is the field.
fn taken(columns: &str) -> AppError {
    let field = columns.rsplit('.').next().unwrap_or_default();
    let (field, message): (&'static str, &str) = match field {
        "name" => ("name", "This name is already used here. Choose another."),
        "accepted_name" => ("accepted_name", "This species is in the book already."),
        "sign_in_name" => ("sign_in_name", "Somebody already signs in with this name. Choose another."),
        "tag" => ("tag", "This tag is already on another animal."),
        "code" => ("code", "Another cohort has this code."),
        "sac_id" => ("sac", "This sac has been opened already."),
        "number" => ("number", "This number is already there."),
        "duty_id" => return AppError::conflict("This duty has been signed off already."),
        "reverses_id" => ("line", "This line has been reversed already."),
        "corrects_id" => return AppError::conflict("This entry has been corrected already."),
        "animal_id" => ("tag", "This animal is already on the list."),
        "stage" => ("lot", "This cohort's stage is already on the list: change its line."),
        _ => ("", "This is there already."),
    };
    AppError::refused(field, message)
}

/// What an error page says; the shell draws it in the house's own frame.
#[derive(Debug, Clone)]
pub struct Problem {
    /// The page's heading.
    pub title: &'static str,
    /// What happened and what to do about it, each a paragraph.
    pub sentences: Vec<String>,
}

impl Problem {
    /// The page for a status that no handler explained.
    #[must_use]
    pub fn for_status(status: StatusCode) -> Self {
        let (title, sentence) = match status {
            StatusCode::NOT_FOUND => {
                ("Not found", "There is nothing at this address, or it is not for you to see. Check the address, or search.")
            }
            StatusCode::METHOD_NOT_ALLOWED => {
                ("Not possible here", "This page does not take that kind of request. Go back and use the page's own buttons.")
            }
            StatusCode::PAYLOAD_TOO_LARGE => ("Too large", "What you sent is larger than this page takes. Send less at once."),
            StatusCode::REQUEST_TIMEOUT => {
                ("Took too long", "The request did not arrive in time. Check the connection and try again: nothing was saved.")
            }
            StatusCode::URI_TOO_LONG => ("Address too long", "This address is longer than any of ours."),
            StatusCode::SERVICE_UNAVAILABLE => ("Busy", "The house is busy or stopping. Try again in a moment: nothing was saved."),
            _ if status.is_server_error() => (
                "Something went wrong",
                "This is our fault, not yours, and nothing was saved. Try again; if it happens twice, tell the owner the number below.",
            ),
            _ => ("Not understood", "The request could not be read. Go back and try again."),
        };
        Self { title, sentences: vec![sentence.to_owned()] }
    }
}

impl IntoResponse for AppError {
    fn into_response(self) -> Response {
        let (status, title, sentences) = match self {
            Self::SignInNeeded => {
                let mut response = redirect(super::paths::SIGN_IN);
                response.extensions_mut().insert(MustSignIn);
                return response;
            }
            Self::Repeat { location, .. } => return redirect(&location),
            Self::NotFound => (StatusCode::NOT_FOUND, "Not found", Problem::for_status(StatusCode::NOT_FOUND).sentences),
            Self::Forbidden(why) => (StatusCode::FORBIDDEN, "Not allowed", vec![why]),
            Self::Conflict(why) => (StatusCode::CONFLICT, "Already changed", vec![why]),
            Self::BadRequest(why) => (StatusCode::BAD_REQUEST, "Not understood", vec![why]),
            Self::TooLarge => {
                let status = StatusCode::PAYLOAD_TOO_LARGE;
                (status, "Too large", Problem::for_status(status).sentences)
            }
            Self::TooMany(why) => (StatusCode::TOO_MANY_REQUESTS, "Too many tries", vec![why]),
            Self::Refused(mistakes) => {
                (StatusCode::UNPROCESSABLE_ENTITY, "Not saved", mistakes.all().map(|mistake| mistake.message.clone()).collect())
            }
            Self::Internal(error) => {
                tracing::error!(error = format!("{error:#}"), "request failed");
                let status = StatusCode::INTERNAL_SERVER_ERROR;
                (status, "Something went wrong", Problem::for_status(status).sentences)
            }
        };
        let mut response = status.into_response();
        response.extensions_mut().insert(Problem { title, sentences });
        response
    }
}

/// A 303: after a change, or to another page.
#[must_use]
pub fn redirect(location: &str) -> Response {
    let location = axum::http::HeaderValue::try_from(location).unwrap_or(axum::http::HeaderValue::from_static("/"));
    (StatusCode::SEE_OTHER, [(LOCATION, location)]).into_response()
}
