//! Adding to an order or a handover: many scanned tags and a number out of a cohort, in one go.

use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::animals;
use crate::house::errors::AppError;
use crate::house::forms::{Check, Mistakes};
use crate::house::layout::Choice;
use crate::house::write::Write;
use crate::sales::model::{Item, Keeper, Offer, Sale, Wanted, item_of};
use crate::sales::store;
use crate::sales::store::packing::{cohort_of, no_such_tag, scanned};

/// How many codes one form takes.
const MOST_CODES: usize = 200;

/// What was typed into the form that adds.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct AddForm {
    pub(super) tag: String,
    pub(super) lot: String,
    pub(super) quantity: String,
    pub(super) pack_of: String,
}

impl AddForm {
    /// The scanned codes, and the packs out of a cohort.
    fn check(&self) -> Result<(Vec<String>, Option<Wanted>), Mistakes> {
        let mut check = Check::new();
        let typed = check.paragraphs("tag", &self.tag, 8000).unwrap_or_default();
        let codes: Vec<String> = typed.lines().flat_map(codes_of).collect();
        if codes.len() > MOST_CODES {
            check.add("tag", format!("These are {} codes; at most {MOST_CODES} are taken at once.", codes.len()));
        }
        let untouched = self.lot.trim().is_empty() && self.quantity.trim().is_empty();
        let packs = if untouched && !codes.is_empty() { None } else { self.packs(&mut check, codes.is_empty() && untouched) };
        if check.ok() { Ok((codes, packs)) } else { Err(check.mistakes()) }
    }

    fn packs(&self, check: &mut Check, nothing: bool) -> Option<Wanted> {
        if nothing {
            check.add("tag", "Scan or type a tag, or choose a cohort and how many.");
            return None;
        }
        let chosen = item_of(&self.lot);
        if !matches!(chosen, Some(Item::Lot(_))) {
            check.add("lot", "Choose one of the list.");
        }
        let packs = check.whole("quantity", &self.quantity, 1..=3000);
        let pack_of = if self.pack_of.trim().is_empty() { Some(1) } else { check.whole("pack_of", &self.pack_of, 1..=1000) };
        let (Some(Item::Lot(lot)), Some(packs), Some(pack_of)) = (chosen, packs, pack_of) else { return None };
        if packs * pack_of > 3000 {
            check.add("quantity", "At most 3000 of one lot are taken at once.");
            return None;
        }
        Some(Wanted::Packs { cohort: lot.cohort, stage: lot.stage, packs, pack_of })
    }
}

/// The codes on a line: a scanner ends each with Enter, people put spaces or commas between. A tag that was typed in groups, with
/// spaces, is one code when that alone makes it hold.
fn codes_of(line: &str) -> Vec<String> {
    let line = line.trim();
    let whole = crate::reckoning::tag::normalise(line);
    if !line.contains("/t/") && line.contains(' ') && whole.len() <= 8 && crate::reckoning::tag::holds(&whole) {
        return vec![whole];
    }
    line.split([' ', ',', ';', '\t']).filter(|code| !code.is_empty()).map(scanned).collect()
}

/// Adds all that was typed, or nothing: every mistake is named. Gives what was added, in words.
pub(super) async fn add_all(write: &mut Write, to: Sale, form: &AddForm) -> Result<Vec<String>, AppError> {
    let (codes, packs) = form.check()?;
    let (mut mistakes, mut told) = (Mistakes::none(), Vec::new());
    let mut note = |answer: Result<String, AppError>, at: Option<&'static str>| -> Result<(), AppError> {
        match answer {
            Ok(words) => told.push(words),
            Err(AppError::Refused(why)) => why.all().for_each(|one| mistakes.add(at.unwrap_or(one.field), one.message.clone())),
            Err(other) => return Err(other),
        }
        Ok(())
    };
    for code in codes {
        note(add_code(write, to, &code).await, Some("tag"))?;
    }
    if let Some(wanted) = packs {
        note(add_packs(write, to, wanted).await, None)?;
    }
    if mistakes.is_empty() { Ok(told) } else { Err(mistakes.into()) }
}

async fn add_code(write: &mut Write, to: Sale, code: &str) -> Result<String, AppError> {
    if let Some(animal) = animals::store::find_by_tag(write.db(), code).await? {
        store::sale_lines::add(write, to, Wanted::Animal(animal)).await?;
        return Ok(format!("tag {}", crate::reckoning::tag::normalise(code)));
    }
    let Some(cohort) = cohort_of(write.db(), code).await? else {
        return Err(AppError::refused("tag", no_such_tag(code)));
    };
    let (today, keeper) = (write.today, keeper(write, to).await?);
    let offers = store::offers(write.db(), today, keeper).await?;
    let mut of_it = offers.iter().filter(|offer| offer.cohort_id == cohort && offer.free > 0);
    match (of_it.next(), of_it.next()) {
        (Some(offer), None) => add_packs(write, to, Wanted::Packs { cohort, stage: offer.stage, packs: 1, pack_of: 1 }).await,
        (None, _) => Err(AppError::refused("tag", format!("None of cohort {} are free.", code))),
        (Some(_), Some(_)) => Err(AppError::refused("tag", format!("Cohort {} stands at more than one stage. Choose it below.", code))),
    }
}

async fn add_packs(write: &mut Write, to: Sale, wanted: Wanted) -> Result<String, AppError> {
    let Wanted::Packs { stage, packs, pack_of, .. } = wanted else { return Err(AppError::NotFound) };
    match store::sale_lines::add(write, to, wanted).await {
        Err(AppError::NotFound) => Err(AppError::refused("lot", "Nothing stands there any more. Choose one of the list.")),
        Err(error) => Err(error),
        Ok(_) if pack_of == 1 => Ok(format!("{packs} of the {stage}")),
        Ok(_) => Ok(format!("{packs} × {pack_of} of the {stage}")),
    }
}

async fn keeper(write: &mut Write, to: Sale) -> Result<Keeper, AppError> {
    match to {
        Sale::Handover(id) => store::reserved::keeper_of(write.db(), id).await,
        Sale::Order(id) => Ok(Keeper { order: Some(id), ..Keeper::default() }),
    }
}

/// The cohorts' stages that have some free, for the form's list.
pub(super) fn lot_choices(offers: &[Offer]) -> Vec<Choice> {
    let first = Choice::new("", "choose a cohort and stage");
    let rest = offers.iter().map(|offer| {
        let label = format!("{} · {} · {} · {} free", offer.species, offer.code, offer.stage, offer.free);
        Choice::new(format!("{}-{}", offer.cohort_id, offer.stage.code()), label)
    });
    std::iter::once(first).chain(rest).collect()
}

/// The sizes of pack that today's list has, for the form's hint.
pub(super) async fn pack_hint(db: &mut SqliteConnection, today: chrono::NaiveDate) -> Result<String, AppError> {
    let mut packs: Vec<u32> = store::prices::prices_on(db, today).await?.iter().map(|price| price.pack_of).filter(|of| *of > 1).collect();
    packs.sort_unstable();
    packs.dedup();
    let packs: Vec<String> = packs.iter().map(ToString::to_string).collect();
    Ok(if packs.is_empty() {
        "1 for singles.".to_owned()
    } else {
        format!("1 for singles. The price list has packs of {}.", packs.join(", "))
    })
}
