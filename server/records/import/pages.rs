//! The page of the import: choose a file, see what would happen, import it.

use askama::Template;
use axum::extract::State;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;

use super::columns::{self, Column};
use super::report::{LineReport, Outcome, Report};
use super::{Dates, Kind};
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Mistakes, Upload};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};

/// Files up to this size come back with the report, so that they need not be chosen again.
const CARRIED_BYTES: usize = 256 * 1024;
/// The most lines of a report that a page shows; errors come first.
const SHOWN_LINES: usize = 500;

#[derive(Template)]
#[template(path = "records/import.html")]
struct ImportPage {
    layout: Layout,
    zone: chrono_tz::Tz,
    kind: String,
    dates: String,
    kinds: Vec<Choice>,
    ways: Vec<Choice>,
    documented: Vec<(Kind, &'static [Column])>,
    mistakes: Mistakes,
    report: Option<Shown>,
}

impl ImportPage {
    /// Whether the page tells of something to mend.
    fn failed(&self) -> bool {
        !self.mistakes.is_empty() || self.report.as_ref().is_some_and(|shown| !shown.report.is_sound())
    }
}

/// A report as a page shows it.
struct Shown {
    report: Report,
    lines: Vec<LineReport>,
    hidden: usize,
    /// The file again, for the button “Import”; empty when it is too large.
    carried: String,
}

pub(super) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    page(&import_page(&app, &me, (Kind::Animals.code(), Dates::Iso.code()), Mistakes::none(), None).await?)
}

async fn import_page(
    app: &App,
    me: &SignedIn,
    (kind, dates): (&str, &str),
    mistakes: Mistakes,
    report: Option<Shown>,
) -> Result<ImportPage, AppError> {
    Ok(ImportPage {
        layout: Layout::of(app, me, Section::Records).await?,
        zone: app.site().zone,
        kind: kind.to_owned(),
        dates: dates.to_owned(),
        kinds: choices(Kind::ALL, Kind::code),
        ways: choices(Dates::ALL, Dates::code),
        documented: Kind::ALL.iter().map(|kind| (*kind, columns::of(*kind))).collect(),
        mistakes,
        report,
    })
}

/// What was sent, checked.
struct Sent {
    kind: Kind,
    dates: Dates,
    bytes: Vec<u8>,
    /// Whether to import, rather than only try.
    import: bool,
}

fn check(upload: &Upload) -> Result<Sent, Mistakes> {
    let mut check = Check::new();
    let (kind, dates) = (check.choice("kind", upload.field("kind")), check.choice("dates", upload.field("dates")));
    let carried = BASE64.decode(upload.field("carried")).unwrap_or_default();
    let bytes = if upload.file.is_empty() { carried } else { upload.file.clone() };
    let import = match upload.field("what") {
        "import" => Some(true),
        "try" => Some(false),
        _ => None,
    };
    if import.is_none() {
        check.add("", "Use one of the two buttons.");
    }
    match (kind, dates, import) {
        (Some(kind), Some(dates), Some(import)) => Ok(Sent { kind, dates, bytes, import }),
        _ => Err(check.mistakes()),
    }
}

pub(super) async fn send(State(app): State<App>, me: SignedIn, upload: Upload) -> Answer {
    let chosen = (upload.field("kind"), upload.field("dates"));
    let sent = match check(&upload) {
        Ok(sent) if sent.bytes.is_empty() => Err(Mistakes::one("file", "Choose a file that is not empty.")),
        other => other,
    };
    let sent = match sent {
        Ok(sent) => sent,
        Err(mistakes) => return page_again(&import_page(&app, &me, chosen, mistakes, None).await?),
    };
    let carried = if sent.bytes.len() <= CARRIED_BYTES { BASE64.encode(&sent.bytes) } else { String::new() };
    let report = if sent.import {
        let mut write = app.begin(me.id(), &upload.once).await?;
        let report = super::import(&mut write, sent.kind, sent.dates, sent.bytes).await?;
        if report.imported {
            let said = format!("Imported {} {}; {} were in the book already.", report.added(), sent.kind.code(), report.unchanged());
            return me.done(write, report.change(), paths::IMPORT, said).await;
        }
        report
    } else {
        super::inspect(&app, sent.kind, sent.dates, sent.bytes).await?
    };
    let sound = report.is_sound();
    let shown = import_page(&app, &me, chosen, Mistakes::none(), Some(shown(report, carried))).await?;
    if sound { page(&shown) } else { page_again(&shown) }
}

/// The lines that a page shows: errors first, then those with remarks, then the rest, each in the order of the file.
fn shown(report: Report, carried: String) -> Shown {
    let mut lines: Vec<&LineReport> = report.lines.iter().collect();
    lines.sort_by_key(|line| match &line.outcome {
        Outcome::Refused(_) => 0,
        Outcome::Added(remarks) if !remarks.is_empty() => 1,
        Outcome::Added(_) => 2,
        Outcome::Unchanged => 3,
    });
    let hidden = lines.len().saturating_sub(SHOWN_LINES);
    let lines = lines.into_iter().take(SHOWN_LINES).cloned().collect();
    Shown { carried: if report.can_import() { carried } else { String::new() }, lines, hidden, report }
}
