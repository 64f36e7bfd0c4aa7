//! Handing over: the stock leaves and the papers are issued, all in the caller's one transaction.

use super::{checked_lines, orders, packing, receipt, require_draft, reserved};
use crate::animals;
use crate::animals::model::AnimalStatus;
use crate::cohorts;
use crate::cohorts::model::NewLine;
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{CohortId, HandoverId};
use crate::house::write::Write;
use crate::papers;
use crate::papers::model::{Issued, NewSheet, Subject};
use crate::reckoning::sale_readiness::{Finding, may_leave};
use crate::sales::model::{CheckedLine, Item, Line};

/// What a handover did.
#[derive(Debug, Default)]
pub struct Done {
    /// The papers that were issued, in the order of the lines.
    pub papers: Vec<Issued>,
    /// The receipt, when there are prices.
    pub receipt: Option<Issued>,
    /// The cohorts that some were taken from: their duties are to be planned anew.
    pub cohorts: Vec<CohortId>,
    /// Whether a lead's reason was needed.
    pub overridden: bool,
}

/// Hands over everything on a draft: issues a care sheet and a statement of origin a line, risk acknowledgements and the note, moves
/// animals and lots out of the stock, and closes the handover, and with it the order that it fulfils when that was the last of it.
/// With prices comes a receipt. `reason` is a lead's written reason for letting blocked lines, or unpacked ones, go; the caller has
/// made sure that a lead gave it.
///
/// # Errors
/// A handover that has ended, has nothing on it, or has something on it that is gone or not free any more: conflicts.
/// Lines that the readiness check blocks, or that were ordered and not packed, without a reason: what blocks them. Animals of band 2
/// or 3 before [`show_risk`]: at the field `age_seen`, whatever reason is given. Prices on some lines only.
pub async fn hand_over(write: &mut Write, app: &App, id: HandoverId, reason: Option<&str>) -> Result<Done, AppError> {
    let draft = require_draft(write.db(), id).await?;
    let order = draft.order_id;
    let (at, zone, today) = (write.at, write.zone, write.today);
    let lines = checked_lines(write.db(), id, at, zone).await?;
    let against = Against {
        unpacked: if order.is_some() { packing::missing(write.db(), id).await? } else { Vec::new() },
        journey: super::road::against(write.db(), &draft, today).await?,
        risk: risk_to_show(write, id, &lines).await?,
    };
    let overridden = may_go(&lines, &against, reason)?;
    let mut done = Done { overridden, ..Done::default() };
    let keeper = reserved::keeper_of(write.db(), id).await?;
    let mut sheets = Vec::new();
    for checked in &lines {
        let item = checked.line.item().ok_or(AppError::NotFound)?;
        reserved::use_up(write, keeper, item).await?;
        let sheet = sheet(id, &checked.line, item);
        done.papers.push(papers::store::issue_care_sheet(write, app, &sheet).await?);
        sheets.push(sheet);
        if let Some(cohort) = leave(write, id, &checked.line, item).await? {
            done.cohorts.push(cohort);
        }
    }
    // The note lists every paper that goes along, the receipt among them.
    done.receipt = receipt::issue(write, app, id).await?;
    done.papers.extend(papers::store::issue_for_handover(write, app, id, &sheets).await?);
    done.cohorts.sort_unstable();
    done.cohorts.dedup();
    close(write, id, reason.filter(|_| overridden)).await?;
    if let Some(order) = order {
        orders::settle(write, order).await?;
    }
    Ok(done)
}

/// What else speaks against a handover, beside what is said of each line.
struct Against {
    /// What was ordered and is not packed.
    unpacked: Vec<String>,
    /// What is said of the journey.
    journey: Vec<Finding>,
    /// What is to be ticked before animals of band 2 or 3 leave.
    risk: Option<String>,
}

/// Whether the lines may go, on their journey if they are sent; gives whether a reason was needed.
fn may_go(lines: &[CheckedLine], against: &Against, reason: Option<&str>) -> Result<bool, AppError> {
    if lines.is_empty() {
        return Err(AppError::refused("", "Nothing is on this handover yet. Add an animal or a number out of a cohort first."));
    }
    let impossible: Vec<&str> = lines.iter().filter_map(|line| line.impossible.as_deref()).collect();
    if !impossible.is_empty() {
        return Err(AppError::conflict(impossible.join(" ")));
    }
    let blocked = !against.unpacked.is_empty() || lines.iter().any(CheckedLine::blocked) || !may_leave(&against.journey);
    let let_go = !blocked || reason.is_some_and(|reason| !reason.is_empty());
    let mut mistakes = Mistakes::none();
    if let Some(risk) = &against.risk {
        mistakes.add("age_seen", risk.clone());
    }
    for checked in lines.iter().filter(|line| !let_go && line.blocked()) {
        for finding in checked.findings.iter().filter(|finding| finding.blocks) {
            mistakes.add("override_reason", format!("{}: {}.", capital(&checked.line.words()), finding.text));
        }
    }
    for missing in against.unpacked.iter().filter(|_| !let_go) {
        mistakes.add("override_reason", format!("Not packed yet: {missing}."));
    }
    for finding in against.journey.iter().filter(|finding| !let_go && finding.blocks) {
        mistakes.add("override_reason", format!("The journey: {}.", finding.text));
    }
    if mistakes.is_empty() { Ok(blocked) } else { Err(AppError::Refused(mistakes)) }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// What is still to be ticked before animals of band 2 or 3 leave; nothing when it was, or none is on the list.
///
/// # Errors
/// The database can't be read.
async fn risk_to_show(write: &mut Write, id: HandoverId, lines: &[CheckedLine]) -> Result<Option<String>, AppError> {
    papers::store::risk_to_show(write.db(), id, highest_band(lines)).await
}

/// The highest band of anything on a list.
#[must_use]
pub fn highest_band(lines: &[CheckedLine]) -> i64 {
    lines.iter().filter_map(|line| line.band).max().unwrap_or(0)
}

/// Notes that the cautions of what is on a draft were shown to its buyer, and their age seen where the house asks for one.
///
/// # Errors
/// A handover that has ended.
pub async fn show_risk(write: &mut Write, id: HandoverId) -> Result<(), AppError> {
    require_draft(write.db(), id).await?;
    let (at, zone) = (write.at, write.zone);
    let band = highest_band(&checked_lines(write.db(), id, at, zone).await?);
    let least_age = papers::store::settings(write.db()).await?.least_age(band);
    if band >= 2 { papers::store::record_risk_shown(write, id, least_age).await } else { Ok(()) }
}

fn sheet(id: HandoverId, line: &Line, item: Item) -> NewSheet {
    let subject = match item {
        Item::Animal(animal) => Subject::Animal(animal),
        Item::Lot(lot) => Subject::Lot { cohort: lot.cohort, stage: lot.stage, quantity: lot.quantity },
    };
    NewSheet { handover: id, line: line.id, subject }
}

/// Takes a line out of the stock; gives the cohort that it came out of. An animal's open duties are dropped with it by
/// the database.
async fn leave(write: &mut Write, id: HandoverId, line: &Line, item: Item) -> Result<Option<CohortId>, AppError> {
    let day = write.today;
    match item {
        Item::Animal(animal) => {
            animals::store::record_leaving(write, animal, AnimalStatus::Sold, None, day).await?;
            Ok(None)
        }
        Item::Lot(lot) => {
            let mut sold = NewLine::sold(day, lot.stage, lot.quantity);
            sold.note = format!("handover {id}");
            let ledger_line = cohorts::store::post(write, lot.cohort, &sold).await?;
            sqlx::query("UPDATE handover_line SET ledger_line_id = ? WHERE id = ?")
                .bind(ledger_line)
                .bind(line.id)
                .execute(write.db())
                .await?;
            Ok(Some(lot.cohort))
        }
    }
}

async fn close(write: &mut Write, id: HandoverId, reason: Option<&str>) -> Result<(), AppError> {
    let (who, at, day) = (write.who, write.at, write.today);
    sqlx::query(
        "UPDATE handover SET state = 'done', day = ?1, done_at = ?2, done_by = ?3, override_reason = COALESCE(?4, ''),
                override_by = CASE WHEN ?4 IS NULL THEN NULL ELSE ?3 END, version = version + 1
         WHERE id = ?5",
    )
    .bind(day)
    .bind(at)
    .bind(who)
    .bind(reason)
    .bind(id)
    .execute(write.db())
    .await?;
    Ok(())
}
