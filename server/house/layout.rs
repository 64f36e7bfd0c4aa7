//! What every page has around it, and the one way to answer with a page.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};

use super::app::App;
use super::errors::{Answer, AppError};
use super::extract::{Member, SignedIn};
use super::secrets::random_token;
use super::session::{Flash, Theme, Visit};

/// The parts of the house that the navigation names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Section {
    /// The lead's day.
    Today,
    /// One person's duties.
    Round,
    /// Cohorts and their counts.
    Cohorts,
    /// Tagged animals.
    Animals,
    /// Pairings and sacs.
    Breeding,
    /// Risk, clearances, incidents.
    Handling,
    /// Species and care profiles.
    Species,
    /// Buyers and handovers.
    Sales,
    /// Rooms and racks.
    Rooms,
    /// Search, import, audit.
    Records,
    /// Members of staff.
    Staff,
    /// Pages outside the navigation.
    Outside,
}

/// One entry of the navigation.
#[derive(Debug)]
pub struct NavEntry {
    /// Where it leads.
    pub href: &'static str,
    /// What it says.
    pub label: &'static str,
    /// Whether this page is in it.
    pub current: bool,
}

/// What every page has around it.
#[derive(Debug)]
pub struct Layout {
    /// The house's name.
    pub site_name: String,
    /// Who is signed in.
    pub member: Option<Member>,
    /// The token that forms carry.
    pub token: String,
    /// What was done just now.
    pub flash: Vec<Flash>,
    /// The chosen colours.
    pub theme: Theme,
    /// Where in the house this page is.
    pub section: Section,
}

impl Layout {
    /// The frame of a page for somebody who is signed in.
    ///
    /// # Errors
    /// The session can't be read.
    pub async fn of(app: &App, me: &SignedIn, section: Section) -> Result<Self, AppError> {
        Self::build(app, &me.visit, Some(me.member.clone()), section).await
    }

    /// The frame of a page for a visitor.
    ///
    /// # Errors
    /// The session can't be read.
    pub async fn outside(app: &App, visit: &Visit) -> Result<Self, AppError> {
        Self::build(app, visit, None, Section::Outside).await
    }

    async fn build(app: &App, visit: &Visit, member: Option<Member>, section: Section) -> Result<Self, AppError> {
        Ok(Self {
            site_name: app.site().name.clone(),
            member,
            token: visit.token().await?,
            flash: visit.take_flash().await?,
            theme: visit.theme().await?,
            section,
        })
    }

    /// A fresh one-time key for a form: each form on a page has its own.
    #[must_use]
    pub fn once(&self) -> String {
        random_token()
    }

    /// The entries of the navigation that this member can use.
    #[must_use]
    pub fn nav(&self) -> Vec<NavEntry> {
        use super::access::May;
        use super::paths;
        let Some(member) = &self.member else { return Vec::new() };
        [
            (Section::Round, paths::ROUND, "My round", May::Keep),
            (Section::Today, paths::TODAY, "Today", May::Lead),
            (Section::Cohorts, paths::COHORTS, "Cohorts", May::Member),
            (Section::Animals, paths::ANIMALS, "Animals", May::Member),
            (Section::Sales, paths::SALES, "Sales", May::Sell),
            (Section::Breeding, paths::BREEDING, "Breeding", May::Member),
            (Section::Handling, paths::HANDLING, "Handling", May::Member),
            (Section::Species, paths::SPECIES, "Species", May::Member),
            (Section::Rooms, paths::ROOMS, "Rooms", May::Member),
            (Section::Records, paths::RECORDS, "Records", May::Member),
            (Section::Staff, paths::STAFF, "Staff", May::Own),
        ]
        .into_iter()
        .filter(|(_, _, _, may)| may.allows(member))
        .map(|(section, href, label, _)| NavEntry { href, label, current: section == self.section })
        .collect()
    }

    /// The other pages of this section that this member can use: a row of links under the bar. None where the section is one page.
    #[must_use]
    pub fn ways(&self) -> Vec<(&'static str, &'static str)> {
        use super::access::May;
        use super::paths;
        let Some(member) = &self.member else { return Vec::new() };
        let ways: &[(&str, &str, May)] = match self.section {
            Section::Sales => &[
                (paths::STOCK, "Stock", May::Sell),
                (paths::ORDERS, "Orders", May::Sell),
                (paths::RESERVATIONS, "Reserved", May::Sell),
                (paths::SALES, "Handovers", May::Sell),
                (paths::OUTINGS, "Outings", May::Sell),
                (paths::DISPATCH, "Dispatch", May::Sell),
                (paths::BUYERS, "Buyers", May::Sell),
                (paths::RECALLS, "Recalls", May::Sell),
                (paths::PRICES, "Prices", May::Sell),
                (paths::PAPER_SETTINGS, "Settings of papers", May::Lead),
                (paths::VERIFY, "Check a paper", May::Sell),
            ],
            Section::Breeding => &[
                (paths::BREEDING, "Pairings and sacs", May::Member),
                (paths::PLANNED_PAIRING, "Planned pairing", May::Member),
                (paths::LINES, "Lines", May::Member),
                (paths::KINSHIP, "Kinship and best pairs", May::Member),
            ],
            _ => &[],
        };
        ways.iter().filter(|(_, _, may)| may.allows(member)).map(|(href, label, _)| (*href, *label)).collect()
    }

    /// Whether the member looks after animals.
    #[must_use]
    pub fn keeps(&self) -> bool {
        self.member.as_ref().is_some_and(|member| super::access::May::Keep.allows(member))
    }

    /// Whether the member leads.
    #[must_use]
    pub fn leads(&self) -> bool {
        self.member.as_ref().is_some_and(|member| super::access::May::Lead.allows(member))
    }

    /// Whether the member hands animals over.
    #[must_use]
    pub fn sells(&self) -> bool {
        self.member.as_ref().is_some_and(|member| super::access::May::Sell.allows(member))
    }

    /// Whether the member is an owner.
    #[must_use]
    pub fn owns(&self) -> bool {
        self.member.as_ref().is_some_and(|member| member.is_owner)
    }
}

/// Answers with a page.
///
/// # Errors
/// The template fails.
pub fn page<T: Template>(template: &T) -> Answer {
    Ok(html(StatusCode::OK, template.render()?))
}

/// Answers with the same form again, and what to mend in it: 422.
///
/// # Errors
/// The template fails.
pub fn page_again<T: Template>(template: &T) -> Answer {
    Ok(html(StatusCode::UNPROCESSABLE_ENTITY, template.render()?))
}

/// Answers with the same form again when somebody or something was faster, and says what stands now: 409.
///
/// # Errors
/// The template fails.
pub fn page_overtaken<T: Template>(template: &T) -> Answer {
    Ok(html(StatusCode::CONFLICT, template.render()?))
}

fn html(status: StatusCode, body: String) -> Response {
    (status, Html(body)).into_response()
}

/// One choice of a list in a form.
#[derive(Debug, Clone)]
pub struct Choice {
    /// What is sent.
    pub code: String,
    /// What is read.
    pub label: String,
}

impl Choice {
    /// A choice.
    pub fn new(code: impl ToString, label: impl ToString) -> Self {
        Self { code: code.to_string(), label: label.to_string() }
    }
}

/// The choices of a coded list, such as `choices(LossCause::ALL, LossCause::code)`.
pub fn choices<C: Copy + std::fmt::Display>(all: &[C], code: impl Fn(C) -> &'static str) -> Vec<Choice> {
    all.iter().map(|choice| Choice::new(code(*choice), choice)).collect()
}
