//! The whole router: every room's routes behind one set of layers.

use std::any::Any;
use std::time::Duration;

use askama::Template;
use axum::Router;
use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{Html, IntoResponse, Response};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::request_id::{MakeRequestUuid, PropagateRequestIdLayer, SetRequestIdLayer};
use tower_http::timeout::TimeoutLayer;
use tower_http::trace::TraceLayer;
use tower_sessions::cookie::SameSite;
use tower_sessions::{Expiry, SessionManagerLayer};

use super::access::{May, Routes};
use super::app::App;
use super::assets;
use super::errors::{AppError, Problem};
use super::extract::{recognise, session_of};
use super::session::{SqliteSessions, Theme};

/// Forms are small; the import page takes more on its own route.
pub const FORM_BYTES: usize = 64 * 1024;

/// No script, style or frame but our own files; scripts speak with this house only.
const POLICY: &str = "default-src 'none'; script-src 'self'; connect-src 'self'; worker-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; \
form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'";

/// Every route of the house with its permission.
#[must_use]
pub fn all_routes() -> Routes {
    Routes::new()
        .get("/healthz", May::Anybody, healthz)
        .get("/readyz", May::Anybody, readyz)
        .and(assets::routes())
        .and(crate::animals::routes())
        .and(crate::breeding::routes())
        .and(crate::cohorts::routes())
        .and(crate::handling::routes())
        .and(crate::papers::routes())
        .and(crate::records::routes())
        .and(crate::rooms::routes())
        .and(crate::rounds::routes())
        .and(crate::sales::routes())
        .and(crate::species::routes())
        .and(crate::staff::routes())
}

/// The router, ready to serve.
pub fn build(app: &App) -> Router {
    build_with(app, all_routes())
}

/// Routes behind the house's layers: tests put routes of their own behind them.
pub fn build_with(app: &App, routes: Routes) -> Router {
    let sessions = SessionManagerLayer::new(SqliteSessions::new(app.database.clone(), app.clock.clone()))
        .with_name(if app.config.secure { "__Host-silkward" } else { "silkward" })
        .with_secure(app.config.secure)
        .with_http_only(true)
        .with_same_site(SameSite::Lax)
        .with_path("/")
        .with_expiry(Expiry::OnSessionEnd);
    let request_id = HeaderName::from_static("x-request-id");
    routes
        .into_router()
        .fallback(async || AppError::NotFound)
        .layer(middleware::from_fn_with_state(app.clone(), crate::staff::keep_typed))
        .layer(middleware::from_fn_with_state(app.clone(), recognise))
        .layer(DefaultBodyLimit::max(FORM_BYTES))
        .layer(CatchPanicLayer::custom(panicked))
        .layer(TimeoutLayer::with_status_code(StatusCode::REQUEST_TIMEOUT, Duration::from_secs(30)))
        .layer(middleware::from_fn(dress_errors))
        .layer(sessions)
        .layer(middleware::from_fn(dress_errors))
        .layer(middleware::from_fn_with_state(app.clone(), right_host))
        .layer(middleware::from_fn_with_state(app.clone(), secure_headers))
        .layer(CompressionLayer::new())
        .layer(PropagateRequestIdLayer::new(request_id.clone()))
        .layer(TraceLayer::new_for_http().make_span_with(span))
        .layer(SetRequestIdLayer::new(request_id, MakeRequestUuid))
        .with_state(app.clone())
}

/// The process is alive. Touches nothing.
async fn healthz() -> &'static str {
    "alive\n"
}

/// The database can be read and written, and the process is not stopping.
async fn readyz(State(app): State<App>) -> Response {
    let not_ready = (StatusCode::SERVICE_UNAVAILABLE, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], "not ready\n");
    if app.draining.load(std::sync::atomic::Ordering::SeqCst) {
        return not_ready.into_response();
    }
    let reads = app.read().await.is_ok();
    let writes = match app.database.writer.begin_with("BEGIN IMMEDIATE").await {
        Ok(transaction) => transaction.rollback().await.is_ok(),
        Err(_) => false,
    };
    if reads && writes { "ready\n".into_response() } else { not_ready.into_response() }
}

/// A span names the route as registered, never the address, which may hold a buyer's link.
fn span(request: &Request) -> tracing::Span {
    let route = request.extensions().get::<axum::extract::MatchedPath>().map_or("unmatched", |path| path.as_str());
    tracing::info_span!("request", method = %request.method(), route, id = request_number(request.headers()))
}

fn request_number(headers: &HeaderMap) -> String {
    headers.get("x-request-id").and_then(|id| id.to_str().ok()).unwrap_or_default().chars().take(8).collect()
}

fn panicked(panic: Box<dyn Any + Send + 'static>) -> Response {
    let text = panic.downcast_ref::<String>().map(String::as_str).or_else(|| panic.downcast_ref::<&str>().copied());
    tracing::error!(panic = text.unwrap_or("unknown"), "a handler panicked");
    StatusCode::INTERNAL_SERVER_ERROR.into_response()
}

/// Links are built from configuration, and a request under another name is somebody's trick or a proxy's mistake.
async fn right_host(State(app): State<App>, request: Request, next: Next) -> Response {
    let probe = matches!(request.uri().path(), "/healthz" | "/readyz");
    let ours = app.config.public_url.split_once("://").map_or("", |(_, host)| host);
    let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok());
    if probe || host == Some(ours) {
        return next.run(request).await;
    }
    dress(
        AppError::BadRequest(format!("This house answers at {} only.", app.config.public_url)).into_response(),
        &request_number(request.headers()),
        Theme::Auto,
    )
}

async fn secure_headers(State(app): State<App>, request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let always = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()"),
    ];
    for (name, value) in always {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::REFERRER_POLICY).or_insert(HeaderValue::from_static("same-origin"));
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    if app.config.secure {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static("max-age=31536000"));
    }
    response
}

/// Gives every error that has no page of its own the house's page, in the colours that the visitor chose.
async fn dress_errors(request: Request, next: Next) -> Response {
    let number = request_number(request.headers());
    let visit = session_of(request.extensions());
    let response = next.run(request).await;
    if !response.status().is_client_error() && !response.status().is_server_error() {
        return response;
    }
    // Read only now: whether a sign-in has ended is for `recognise` to see first.
    let theme = match (response.extensions().get::<Theme>(), visit) {
        (Some(tablets), _) => *tablets,
        (None, Ok(visit)) => visit.theme().await.unwrap_or_default(),
        (None, Err(_)) => Theme::Auto,
    };
    dress(response, &number, theme)
}

#[derive(Template)]
#[template(path = "shared/problem.html")]
struct ProblemPage<'a> {
    problem: &'a Problem,
    number: &'a str,
    theme: Theme,
}

fn dress(response: Response, number: &str, theme: Theme) -> Response {
    let status = response.status();
    let is_page = response.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    let told = response.extensions().get::<Problem>().cloned();
    let probe = status == StatusCode::SERVICE_UNAVAILABLE && response.headers().contains_key(header::CONTENT_TYPE);
    if !(status.is_client_error() || status.is_server_error()) || probe || (is_page && told.is_none()) {
        return response;
    }
    let problem = told.unwrap_or_else(|| Problem::for_status(status));
    let page = ProblemPage { problem: &problem, number, theme };
    let (mut parts, _) = response.into_parts();
    parts.extensions.remove::<Problem>();
    parts.headers.remove(header::CONTENT_LENGTH);
    parts.headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"));
    match page.render() {
        Ok(body) => Response::from_parts(parts, Body::from(body)),
        Err(error) => {
            tracing::error!(%error, "the error page could not be drawn");
            (status, Html(format!("<!doctype html><title>Error</title><p>Something went wrong ({number}).</p>"))).into_response()
        }
    }
}
