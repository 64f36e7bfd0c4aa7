//! Whether a paper is as it was issued, for anybody who holds one. It tells the kind, the number and the day, and nothing else.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse as _};
use chrono::NaiveDate;
use serde::Deserialize;

use super::private;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query};
use crate::house::forms::Mistakes;
use crate::papers::model::PaperKind;
use crate::papers::store;

/// The length of a whole fingerprint.
const WHOLE: usize = 64;
/// The fewest of its characters that are taken: 64 bits, which nobody meets by chance.
const LEAST: usize = 16;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::papers) struct Asked {
    number: String,
    fingerprint: String,
}

/// What is known of a paper.
struct Found {
    kind: PaperKind,
    number: String,
    issued_on: NaiveDate,
    /// How many characters of the fingerprint were compared.
    compared: usize,
    fingerprint: String,
}

/// What the page answers.
enum Verdict {
    /// Nothing was asked yet.
    Asking,
    /// As issued.
    Unchanged(Found),
    /// The part that named its buyer was erased.
    Erased(Found),
    /// The copy kept here was changed.
    Damaged(Found),
    /// No such number with such a fingerprint.
    Unknown,
}

#[derive(Template)]
#[template(path = "papers/verify.html")]
struct VerifyPage {
    house: String,
    input: Asked,
    mistakes: Mistakes,
    verdict: Verdict,
}

/// The number and the fingerprint as they are compared.
fn read(input: &Asked) -> Result<(String, String), Mistakes> {
    let squeezed = |text: &str| text.chars().filter(|letter| !letter.is_whitespace()).collect::<String>();
    let number = squeezed(&input.number).to_uppercase();
    let fingerprint = squeezed(&input.fingerprint).to_lowercase();
    let mut mistakes = Mistakes::none();
    if !is_number(&number) {
        mistakes.add("number", "Enter the number as it stands on the paper: a letter, the year and four digits, such as C-2026-0007.");
    }
    let hexadecimal = fingerprint.bytes().all(|byte| byte.is_ascii_hexdigit());
    if !hexadecimal || !(LEAST..=WHOLE).contains(&fingerprint.len()) {
        mistakes.add("fingerprint", "Enter the fingerprint (SHA-256) as it stands on the paper: 64 characters from 0 to 9 and a to f, or the first 16 of them at least.");
    }
    if mistakes.is_empty() { Ok((number, fingerprint)) } else { Err(mistakes) }
}

fn is_number(number: &str) -> bool {
    let mut parts = number.split('-');
    let digits = |part: Option<&str>, least: usize, most: usize| {
        part.is_some_and(|part| (least..=most).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit()))
    };
    parts.next().is_some_and(|letter| letter.len() == 1 && letter.bytes().all(|byte| byte.is_ascii_uppercase()))
        && digits(parts.next(), 4, 4)
        && digits(parts.next(), 4, 9)
        && parts.next().is_none()
}

/// The form, and the answer when it was filled in.
pub(in crate::papers) async fn ask(State(app): State<App>, asked: Result<Query<Asked>, AppError>) -> Answer {
    let input = asked.map(|Query(asked)| asked).unwrap_or_default();
    if input.number.trim().is_empty() && input.fingerprint.trim().is_empty() {
        return answer(&app, input, Mistakes::none(), Verdict::Asking);
    }
    judge(&app, input).await
}

/// What the code on a paper opens. A malformed address is answered like a mistyped form.
pub(in crate::papers) async fn scanned(State(app): State<App>, path: Result<Path<(String, String)>, AppError>) -> Answer {
    let (number, fingerprint) = path.map(|Path(parts)| parts).unwrap_or_default();
    judge(&app, Asked { number, fingerprint }).await
}

async fn judge(app: &App, input: Asked) -> Answer {
    match read(&input) {
        Ok((number, fingerprint)) => {
            let verdict = verdict(app, &number, &fingerprint).await?;
            answer(app, input, Mistakes::none(), verdict)
        }
        Err(mistakes) => answer(app, input, mistakes, Verdict::Asking),
    }
}

/// A number that was never issued and a fingerprint that is not that paper's are answered alike: nobody learns which numbers exist.
async fn verdict(app: &App, number: &str, fingerprint: &str) -> Result<Verdict, AppError> {
    let paper = match store::require_by_number(&mut *app.read().await?, number).await {
        Err(AppError::NotFound) => return Ok(Verdict::Unknown),
        paper => paper?,
    };
    if !paper.fingerprint.starts_with(fingerprint) {
        return Ok(Verdict::Unknown);
    }
    let found = Found {
        kind: paper.kind,
        number: paper.number.clone(),
        issued_on: paper.issued_on,
        compared: fingerprint.len(),
        fingerprint: paper.fingerprint.clone(),
    };
    Ok(match (paper.is_as_issued(), paper.person_is_gone()) {
        (true, _) => Verdict::Unchanged(found),
        (false, true) => Verdict::Erased(found),
        (false, false) => {
            tracing::error!(paper = %paper.number, "a stored paper does not match its fingerprint");
            Verdict::Damaged(found)
        }
    })
}

fn answer(app: &App, input: Asked, mistakes: Mistakes, verdict: Verdict) -> Answer {
    let status = match (&verdict, mistakes.is_empty()) {
        (_, false) => StatusCode::UNPROCESSABLE_ENTITY,
        (Verdict::Unknown, _) => StatusCode::NOT_FOUND,
        (Verdict::Damaged(_), _) => StatusCode::INTERNAL_SERVER_ERROR,
        _ => StatusCode::OK,
    };
    // What is shown again in the form has a bound, whatever was sent.
    let short = |text: &str| text.chars().take(200).collect::<String>();
    let input = Asked { number: short(&input.number), fingerprint: short(&input.fingerprint) };
    let page = VerifyPage { house: app.site().name.clone(), input, mistakes, verdict };
    Ok(private((status, Html(page.render()?)).into_response()))
}
