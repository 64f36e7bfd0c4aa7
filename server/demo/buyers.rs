//! What the made-up house does with its buyers: the languages they read, one who was erased, and a recall.

use super::Building;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, BuyerId};
use crate::house::paths;
use crate::reckoning::language::Language;
use crate::sales::model::recall::{ContactKind, NewRecall, Origin, RecallReason, Scope};
use crate::sales::store;

/// Who reads what.
const READS: [(&str, &str); 4] = [("R. Quillfeather", "de"), ("Wend Valley School", "en"), ("柳田 はね", "ja"), ("ليلى الريشة", "ar")];
/// Who asked to be erased.
const ERASED: &str = "J. Larkmoss";

/// Notes the languages, erases one buyer as the lead did after a letter, and makes the recall of the last weeks.
pub(super) async fn settle(building: &mut Building) -> Result<(), AppError> {
    building.at(9);
    let buyers = store::buyers(&mut *building.app.read().await?).await?;
    let named = |name: &str| buyers.iter().find(|buyer| buyer.name == name).map(|buyer| buyer.id);
    for (name, language) in READS {
        if let (Some(buyer), Ok(language)) = (named(name), language.parse::<Language>()) {
            let mut write = building.app.write(Some(building.named("odile"))).await?;
            store::set_language(&mut write, buyer, Some(&language)).await?;
            write.commit(Change::new("buyer.corrected", format!("buyer {buyer}"), "corrected"), &paths::buyer(&buyer)).await?;
        }
    }
    recall(building).await?;
    if let Some(buyer) = named(ERASED) {
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        store::erasure::erase(&mut write, buyer).await?;
        write.commit(Change::new("buyer.erased", format!("buyer {buyer}"), "erased"), &paths::buyer(&buyer)).await?;
    }
    crate::sales::keep(&building.app).await.map(drop)
}

/// From the dam whose young went to the most buyers.
async fn recall(building: &mut Building) -> Result<(), AppError> {
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let mut most: Option<(usize, AnimalId)> = None;
    for sac in crate::breeding::store::sacs(write.db()).await? {
        let Some(dam) = sac.dam_id else { continue };
        let found = store::recall::related(write.db(), Origin::Animal(dam), SCOPE).await?;
        let sold = found.iter().filter(|one| one.line.is_some()).count();
        if sold > most.map_or(0, |(sold, _)| sold) {
            most = Some((sold, dam));
        }
    }
    let Some((_, dam)) = most else { return Ok(()) };
    let words = "Some of the young of this dam turned out heavier and paler than the species should be. We had named her wrongly.";
    let new = NewRecall { origin: Origin::Animal(dam), scope: SCOPE, reason: RecallReason::WrongSpecies, words: words.to_owned() };
    let found = store::recall::related(write.db(), new.origin, new.scope).await?;
    let id = store::recall::insert(&mut write, &new, &found).await?;
    store::recall::write_letters(&mut write, &building.app, id).await?;
    let concerned: Vec<BuyerId> = store::recall::concerned(write.db(), id).await?.iter().map(|one| one.buyer.id).collect();
    for (buyer, what) in concerned.iter().zip([ContactKind::Reached, ContactKind::NotReached]) {
        store::recall::note_contact(&mut write, id, *buyer, what, None, "").await?;
    }
    let after = format!("animal {dam}; {} found, {} buyers", found.len(), concerned.len());
    write.commit(Change::new("recall.made", format!("recall {id}"), after), &paths::recall(&id)).await
}

const SCOPE: Scope = Scope { mates: false, descent: true, rack: false };
