//! Keeping buyers no longer than needed, while the house is served: the house's rule, the journal of erasures, and the file that is
//! written anew without whoever was erased.

use std::time::Duration;

use super::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::erased;
use crate::house::errors::AppError;
use crate::house::ids::BuyerId;
use crate::house::paths;

/// How often to look.
const LOOK_EVERY: Duration = Duration::from_secs(600);

/// Looks at once and then again and again, for as long as the house is served.
pub async fn keep_buyers(app: App) {
    loop {
        if let Err(error) = keep(&app).await {
            tracing::error!(?error, "buyers could not be looked after; the next try follows soon");
        }
        tokio::time::sleep(LOOK_EVERY).await;
    }
}

/// What one look did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Kept {
    /// Who was erased again, having come back with an older backup.
    pub again: Vec<BuyerId>,
    /// Who was erased by the house's rule.
    pub by_rule: Vec<BuyerId>,
}

/// Erases again who came back with an older backup, erases whom the rule says, and brings journal and file up to date. A second
/// look finds nothing to do.
///
/// # Errors
/// The database or the journal can't be read or written.
pub async fn keep(app: &App) -> Result<Kept, AppError> {
    let again = replay(app).await?;
    begin(app).await?;
    let by_rule = erase_due(app).await?;
    finish(app).await?;
    Ok(Kept { again, by_rule })
}

/// Erases again everybody whom the folder's journal names and whom an older backup brought back.
///
/// # Errors
/// A journal that can't be read; the database can't be written.
pub async fn replay(app: &App) -> Result<Vec<BuyerId>, AppError> {
    let journal = erased::read(&erased::file(&app.config.data))?;
    let back = store::erasure::back_again(&mut *app.read().await?, &journal).await?;
    if back.is_empty() {
        return Ok(Vec::new());
    }
    let mut write = app.write(None).await?;
    for one in &back {
        store::erasure::erase_again(&mut write, one.buyer, one.at).await?;
    }
    let ids: Vec<BuyerId> = back.iter().map(|one| one.buyer).collect();
    write.commit(Change::new("buyers.erased-again", "buyers", named(&ids, "after an older backup was put back")), paths::BUYERS).await?;
    Ok(ids)
}

/// Lets the rule begin, and folds the names that were entered before the program did so.
async fn begin(app: &App) -> Result<(), AppError> {
    let mut db = app.read().await?;
    let rule = store::retention::rule(&mut db).await?;
    let unfolded = store::any_unfolded(&mut db).await?;
    drop(db);
    if rule.since.is_some() && !unfolded {
        return Ok(());
    }
    let mut write = app.write(None).await?;
    store::retention::begin_rule(&mut write).await?;
    let folded = store::fold_missing(&mut write).await?;
    let after = format!("{} months after the last dealing, from {}; {folded} names made ready to be found", rule.months, write.today);
    write.commit(Change::new("buyers.rule-began", "buyers", after), paths::BUYERS_RULE).await
}

async fn erase_due(app: &App) -> Result<Vec<BuyerId>, AppError> {
    let due = store::retention::due(&mut *app.read().await?, app.today()).await?;
    if due.is_empty() {
        return Ok(due);
    }
    let mut write = app.write(None).await?;
    // Asked again within the change: somebody may have begun something with them meanwhile.
    let today = write.today;
    let due = store::retention::due(write.db(), today).await?;
    for id in &due {
        store::erasure::erase(&mut write, *id).await?;
    }
    write.commit(Change::new("buyers.erased", "buyers", named(&due, "by the house's rule")), paths::BUYERS_RULE).await?;
    Ok(due)
}

/// How many, and their numbers: the trail names nobody.
fn named(ids: &[BuyerId], why: &str) -> String {
    let numbers: Vec<String> = ids.iter().map(ToString::to_string).collect();
    format!("{} erased {why}: {}", ids.len(), numbers.join(", "))
}

/// Brings the journal up to date, and writes the file anew when somebody was erased since. Called after each erasure; what it can't
/// do at once, the next look does.
///
/// # Errors
/// The journal or the file can't be written.
pub async fn finish(app: &App) -> Result<(), AppError> {
    let mut db = app.read().await?;
    let known = store::erasure::erased(&mut db).await?;
    let wanted = store::erasure::wipe_wanted(&mut db).await?;
    drop(db);
    erased::join(&app.config.data, &known)?;
    if wanted {
        app.database.wipe().await?;
        store::erasure::wiped(&mut *app.database.writer.acquire().await?).await?;
    }
    Ok(())
}
