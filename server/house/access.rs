//! Who may do what. A room registers its routes with the permission that each needs; there is no other way to register one.

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::handler::Handler;
use axum::http::Method;
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::{MethodRouter, get, post};

use super::app::App;
use super::errors::{AppError, redirect};
use super::extract::{Member, member_of};

/// The most that a form with a file may weigh: the largest file that is taken, and the form around it.
const FILE_BYTES: usize = 17 * 1024 * 1024;

/// Whether somebody with these roles looks after animals.
#[must_use]
pub fn looks_after(owner: bool, lead: bool, keeper: bool) -> bool {
    keeper || lead || owner
}

/// What a route asks of whoever calls it. Roles are additive: any one that is named will do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum May {
    /// Anybody, signed in or not.
    Anybody,
    /// Anybody who is signed in.
    Member,
    /// Those who look after animals: keeper, lead, owner.
    Keep,
    /// Those who hand animals over: counter, lead, owner.
    Sell,
    /// Those who plan the house's day: lead, owner.
    Lead,
    /// Owners.
    Own,
}

impl May {
    /// Its name in the table of routes.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Anybody => "anybody",
            Self::Member => "member",
            Self::Keep => "keep",
            Self::Sell => "sell",
            Self::Lead => "lead",
            Self::Own => "own",
        }
    }

    /// Whether a member's roles are enough.
    #[must_use]
    pub fn allows(self, member: &Member) -> bool {
        match self {
            Self::Anybody | Self::Member => true,
            Self::Keep => looks_after(member.is_owner, member.is_lead, member.is_keeper),
            Self::Sell => member.is_counter || member.is_lead || member.is_owner,
            Self::Lead => member.is_lead || member.is_owner,
            Self::Own => member.is_owner,
        }
    }

    fn refusal(self) -> AppError {
        AppError::forbidden(match self {
            Self::Keep => "This needs the role of keeper. Ask an owner if it should be yours.",
            Self::Sell => "This needs the role of counter. Ask an owner if it should be yours.",
            Self::Lead => "This is for the lead. Ask them to do it, or an owner to give you the role.",
            Self::Anybody | Self::Member | Self::Own => "This is for the owners of the house.",
        })
    }
}

/// One registered route.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Route {
    /// Its path, with the names of its parts in braces.
    pub path: &'static str,
    /// Its method.
    pub method: Verb,
    /// What it asks.
    pub may: May,
}

/// The two methods that this house uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verb {
    /// Reads; HEAD comes with it.
    Get,
    /// Changes.
    Post,
}

impl Verb {
    /// As HTTP writes it.
    #[must_use]
    pub fn http(self) -> Method {
        match self {
            Self::Get => Method::GET,
            Self::Post => Method::POST,
        }
    }
}

/// The routes of a room, each with its permission.
#[derive(Default)]
pub struct Routes {
    router: Router<App>,
    listed: Vec<Route>,
}

impl Routes {
    /// None yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A page.
    #[must_use]
    pub fn get<H, T>(self, path: &'static str, may: May, handler: H) -> Self
    where
        H: Handler<T, App>,
        T: 'static,
    {
        self.add(path, Verb::Get, may, get(handler))
    }

    /// A change.
    #[must_use]
    pub fn post<H, T>(self, path: &'static str, may: May, handler: H) -> Self
    where
        H: Handler<T, App>,
        T: 'static,
    {
        self.add(path, Verb::Post, may, post(handler))
    }

    /// A change that comes with a file.
    #[must_use]
    pub fn post_large<H, T>(self, path: &'static str, may: May, handler: H) -> Self
    where
        H: Handler<T, App>,
        T: 'static,
    {
        self.add(path, Verb::Post, may, post(handler).layer(DefaultBodyLimit::max(FILE_BYTES)))
    }

    /// All of another room's routes too.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.router = self.router.merge(other.router);
        self.listed.extend(other.listed);
        self
    }

    /// The list, for the test that holds it against the table of roles and routes.
    #[must_use]
    pub fn listed(&self) -> &[Route] {
        &self.listed
    }

    pub(super) fn into_router(self) -> Router<App> {
        self.router
    }

    fn add(mut self, path: &'static str, method: Verb, may: May, handler: MethodRouter<App>) -> Self {
        let guarded = handler.layer(middleware::from_fn(move |request: Request, next: Next| guard(may, request, next)));
        self.router = self.router.route(path, guarded);
        self.listed.push(Route { path, method, may });
        self
    }
}

async fn guard(may: May, request: Request, next: Next) -> Response {
    if may == May::Anybody {
        return next.run(request).await;
    }
    match member_of(request.extensions()) {
        Some(member) if may.allows(member) => next.run(request).await,
        Some(_) => may.refusal().into_response(),
        None if request.method() == Method::GET || request.method() == Method::HEAD => {
            let next: String =
                url::form_urlencoded::byte_serialize(request.uri().path_and_query().map_or("/", |path| path.as_str()).as_bytes()).collect();
            redirect(&format!("{}?next={next}", super::paths::SIGN_IN))
        }
        None => AppError::SignInNeeded.into_response(),
    }
}
