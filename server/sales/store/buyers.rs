//! Buyers: entering, correcting, and finding them.

use std::collections::BTreeSet;

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::BuyerId;
use crate::house::text;
use crate::house::write::Write;
use crate::papers::model::PaperKind;
use crate::reckoning::language::Language;
use crate::sales::model::{Buyer, FoundBuyer, NewBuyer};
use crate::{animals, cohorts};

/// How many buyers a search or a page of the list gives.
pub const PER_PAGE: i64 = 50;

/// All buyers who were not erased, by name.
///
/// # Errors
/// The database can't be read.
pub async fn buyers(db: &mut SqliteConnection) -> Result<Vec<Buyer>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, name, contact, address, language, erased_at, kept_until, kept_reason, version FROM buyer
         WHERE erased_at IS NULL ORDER BY name, id",
    )
    .fetch_all(db)
    .await?)
}

/// A page of the buyers, the newest first, those who were erased too. Pages count from 0; one more than a page holds comes along
/// when there is a next page.
///
/// # Errors
/// The database can't be read.
pub async fn page_of_buyers(db: &mut SqliteConnection, page: i64) -> Result<Vec<Buyer>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, name, contact, address, language, erased_at, kept_until, kept_reason, version FROM buyer
         ORDER BY id DESC LIMIT ?1 + 1 OFFSET ?1 * ?2",
    )
    .bind(PER_PAGE)
    .bind(page)
    .fetch_all(db)
    .await?)
}

/// One buyer.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_buyer(db: &mut SqliteConnection, id: BuyerId) -> Result<Buyer, AppError> {
    Ok(sqlx::query_as("SELECT id, name, contact, address, language, erased_at, kept_until, kept_reason, version FROM buyer WHERE id = ?")
        .bind(id)
        .fetch_one(db)
        .await?)
}

/// What a search compares: name and contact folded, and the digits of the contact.
fn folded(name: &str, contact: &str) -> (String, String) {
    (format!("{}\n{}", text::searchable(name), text::searchable(contact)), text::digits(contact))
}

/// Adds a buyer.
///
/// # Errors
/// The database can't be written.
pub async fn insert_buyer(write: &mut Write, new: &NewBuyer) -> Result<BuyerId, AppError> {
    let at = write.at;
    let (search, digits) = folded(&new.name, &new.contact);
    Ok(sqlx::query_scalar("INSERT INTO buyer (name, contact, address, search, digits, created_at) VALUES (?, ?, ?, ?, ?, ?) RETURNING id")
        .bind(&new.name)
        .bind(&new.contact)
        .bind(&new.address)
        .bind(search)
        .bind(digits)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}

/// Corrects what is known of a buyer.
///
/// # Errors
/// A conflict when somebody else changed it since `version` was read, or when they were erased.
pub async fn update_buyer(write: &mut Write, id: BuyerId, version: i64, new: &NewBuyer) -> Result<(), AppError> {
    if require_buyer(write.db(), id).await?.is_erased() {
        return Err(AppError::conflict("This buyer was erased. Enter them as somebody new if they come again."));
    }
    let (search, digits) = folded(&new.name, &new.contact);
    let changed = sqlx::query(
        "UPDATE buyer SET name = ?, contact = ?, address = ?, search = ?, digits = ?, version = version + 1 WHERE id = ? AND version = ?",
    )
    .bind(&new.name)
    .bind(&new.contact)
    .bind(&new.address)
    .bind(search)
    .bind(digits)
    .bind(id)
    .bind(version)
    .execute(write.db())
    .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("Somebody changed this buyer since you opened the page. Open it again and look first."));
    }
    Ok(())
}

/// Notes which language a buyer reads; none: the house's own.
///
/// # Errors
/// Somebody who was erased.
pub async fn set_language(write: &mut Write, id: BuyerId, language: Option<&Language>) -> Result<(), AppError> {
    sqlx::query("UPDATE buyer SET language = ? WHERE id = ?")
        .bind(language.map_or("", Language::code))
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Folds the names that were entered before the program did so; gives how many there were.
///
/// # Errors
/// The database can't be written.
pub async fn fold_missing(write: &mut Write) -> Result<u64, AppError> {
    let missing: Vec<(BuyerId, String, String)> =
        sqlx::query_as("SELECT id, name, contact FROM buyer WHERE search = '' AND erased_at IS NULL").fetch_all(write.db()).await?;
    for (id, name, contact) in &missing {
        let (search, digits) = folded(name, contact);
        sqlx::query("UPDATE buyer SET search = ?, digits = ? WHERE id = ?").bind(search).bind(digits).bind(id).execute(write.db()).await?;
    }
    Ok(missing.len() as u64)
}

/// Whether any name is still to be folded.
///
/// # Errors
/// The database can't be read.
pub async fn any_unfolded(db: &mut SqliteConnection) -> Result<bool, AppError> {
    Ok(sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM buyer WHERE search = '' AND erased_at IS NULL)").fetch_one(db).await?)
}

/// Buyers by a part of their name or contact in any script and any order of words, by the number of a paper, by the tag of an
/// animal or the code of a cohort that they bought, or by the digits of their telephone.
///
/// # Errors
/// The database can't be read.
pub async fn find(db: &mut SqliteConnection, typed: &str) -> Result<Vec<FoundBuyer>, AppError> {
    let mut found = Finding::default();
    for number in paper_numbers(typed) {
        found.add(of_paper(db, &number).await?, &format!("paper {number}"));
    }
    if let Some(animal) = animals::store::find_by_tag(db, typed).await? {
        let tag = animals::store::require(db, animal).await?.tag;
        let buyers = sqlx::query_scalar(
            "SELECT DISTINCT handover.buyer_id FROM handover_line AS line JOIN handover ON handover.id = line.handover_id
             WHERE line.animal_id = ? AND handover.state = 'done' ORDER BY 1",
        );
        found.add(buyers.bind(animal).fetch_all(&mut *db).await?, &format!("tag {tag}"));
    }
    if let Some(cohort) = cohorts::store::find_by_code(db, typed).await? {
        let code = cohorts::store::require(db, cohort).await?.code;
        let buyers = sqlx::query_scalar(
            "SELECT DISTINCT handover.buyer_id FROM handover_line AS line JOIN handover ON handover.id = line.handover_id
             WHERE line.cohort_id = ? AND handover.state = 'done' ORDER BY 1",
        );
        found.add(buyers.bind(cohort).fetch_all(&mut *db).await?, &format!("cohort {code}"));
    }
    if let Some(digits) = telephone(typed) {
        let buyers = sqlx::query_scalar("SELECT id FROM buyer WHERE instr(digits, ?) > 0 ORDER BY id LIMIT ?");
        found.add(buyers.bind(digits).bind(PER_PAGE).fetch_all(&mut *db).await?, "telephone");
    }
    found.add(by_name(db, typed).await?, "name or contact");
    let mut buyers = Vec::new();
    for (id, by) in found.order {
        buyers.push(FoundBuyer { buyer: require_buyer(db, id).await?, by });
    }
    Ok(buyers)
}

/// Who was found, each once, by what came first.
#[derive(Default)]
struct Finding {
    seen: BTreeSet<BuyerId>,
    order: Vec<(BuyerId, String)>,
}

impl Finding {
    fn add(&mut self, ids: Vec<BuyerId>, by: &str) {
        for id in ids {
            if self.seen.insert(id) {
                self.order.push((id, by.to_owned()));
            }
        }
    }
}

async fn of_paper(db: &mut SqliteConnection, number: &str) -> Result<Vec<BuyerId>, AppError> {
    Ok(sqlx::query_scalar("SELECT buyer_id FROM paper WHERE number = ? AND buyer_id IS NOT NULL").bind(number).fetch_all(db).await?)
}

/// Every word must be somewhere in the name or the contact. What is not folded yet is compared as SQLite folds it.
async fn by_name(db: &mut SqliteConnection, typed: &str) -> Result<Vec<BuyerId>, AppError> {
    let folded = text::searchable(typed);
    let mut words: Vec<&str> = folded.split(' ').filter(|word| !word.is_empty()).collect();
    words.sort_by_key(|word| std::cmp::Reverse(word.len()));
    let Some((longest, rest)) = words.split_first() else { return Ok(Vec::new()) };
    let rows: Vec<(BuyerId, String)> = sqlx::query_as(
        "SELECT id, CASE search WHEN '' THEN lower(name || char(10) || contact) ELSE search END AS text FROM buyer
         WHERE erased_at IS NULL AND instr(CASE search WHEN '' THEN lower(name || char(10) || contact) ELSE search END, ?) > 0
         ORDER BY name, id",
    )
    .bind(*longest)
    .fetch_all(db)
    .await?;
    let most = usize::try_from(PER_PAGE).unwrap_or(usize::MAX);
    Ok(rows.into_iter().filter(|(_, text)| rest.iter().all(|word| text.contains(word))).map(|(id, _)| id).take(most).collect())
}

/// The digits to look for in telephone numbers: at least four, without the zeros that lead into a country or a town.
fn telephone(typed: &str) -> Option<String> {
    let plain = typed.chars().all(|letter| !letter.is_alphabetic());
    let digits = text::digits(typed).trim_start_matches('0').to_owned();
    (plain && digits.len() >= 4).then_some(digits)
}

/// The numbers of papers that somebody may mean: `S-2026-0007`, also as `s20260007` or `S 2026 7`, and `2026-0007` of any kind.
fn paper_numbers(typed: &str) -> Vec<String> {
    let upper = typed.trim().to_uppercase();
    let plain: String = upper.chars().filter(char::is_ascii_alphanumeric).collect();
    let letters: Vec<char> = PaperKind::ALL.iter().map(|kind| kind.letter()).collect();
    let (kinds, digits) = match plain.chars().next().filter(|letter| letters.contains(letter)) {
        Some(letter) => (vec![letter], plain.get(1..).unwrap_or_default()),
        None if upper.split('-').count() == 2 && upper.find('-') == Some(4) => (letters, plain.as_str()),
        None => return Vec::new(),
    };
    let (Some(year), Some(running)) = (digits.get(..4), digits.get(4..)) else { return Vec::new() };
    let Ok(running) = running.parse::<u32>() else { return Vec::new() };
    if year.parse::<u32>().is_err() {
        return Vec::new();
    }
    kinds.into_iter().map(|letter| format!("{letter}-{year}-{running:04}")).collect()
}
