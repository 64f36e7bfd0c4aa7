//! Pairings of the made-up house with their introductions, and what is noted beside its sacs.

use rand::RngExt as _;

use super::Building;
use super::stock::Stock;
use crate::breeding;
use crate::breeding::model::incubation::NewSacReading;
use crate::breeding::model::{NewIntroduction, NewPairing};
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SacId};
use crate::reckoning::breeding::{Insertion, IntroductionEnd};
use crate::reckoning::stage::Stage;

/// So many days before the house's last, pairs are put together of which a sac is then waited for.
const WAITED_FOR_DAYS: u64 = 75;

/// Plans a pairing and puts the two together once. Where one of them is held on that day, nothing happens.
pub(super) async fn pair(building: &Building, dam: AnimalId, sire: AnimalId, insertion: Insertion) -> Result<(), AppError> {
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let (day, began_at) = (building.day, write.at);
    let new = NewPairing { dam, sire, day, note: String::new(), accept_mixed: true };
    let pairing = match breeding::store::begin_pairing(&mut write, &new).await {
        Err(AppError::Refused(_)) => return Ok(()),
        pairing => pairing?,
    };
    let new = NewIntroduction {
        pairing,
        day,
        began_at,
        insertion,
        outcome: IntroductionEnd::Safe,
        second: Some(building.named("joss")),
        note: "calm; parted after two hours".to_owned(),
    };
    let id = breeding::store::introduce(&mut write, &new).await?;
    write.commit(Change::new("pairing.introduced", format!("introduction {id}"), insertion.label()), "/breeding").await
}

/// Puts pairs together of which a sac is waited for at the end: those that have not bred yet.
pub(super) async fn wait_for_sacs(building: &Building, stock: &Stock, days_left: u64) -> Result<(), AppError> {
    if days_left != WAITED_FOR_DAYS {
        return Ok(());
    }
    let idle = stock.pairs.iter().filter(|(species, _)| super::nursery::laid_after(species).is_none());
    for (index, (_, pairs)) in idle.enumerate().take(4) {
        if let Some((dam, sire)) = pairs.first().copied() {
            pair(building, dam, sire, if index == 1 { Insertion::None } else { Insertion::Seen }).await?;
        }
    }
    Ok(())
}

/// Notes what the thermometer beside a sac shows.
pub(super) async fn read(building: &mut Building, sac: SacId) -> Result<(), AppError> {
    let decicelsius = building.rng.random_range(256..=274) + if building.rng.random_bool(0.04) { 22 } else { 0 };
    let humidity = Some(building.rng.random_range(72..=84));
    let mut write = building.app.write(Some(building.named("perrin"))).await?;
    let new = NewSacReading { sac, at: write.at, day: building.day, decicelsius, humidity };
    breeding::store::incubation::insert_reading(&mut write, &new).await?;
    write.commit(Change::new("sac.read", format!("sac {sac}"), format!("{:.1} °C", decicelsius as f64 / 10.0)), "/breeding").await
}

/// Notes that post-embryos were first seen.
pub(super) async fn see_legs(building: &Building, sac: SacId) -> Result<(), AppError> {
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    breeding::store::incubation::see(&mut write, sac, Stage::PostEmbryo, building.day).await?;
    crate::rounds::store::replan_sac(&mut write, sac).await?;
    write.commit(Change::new("sac.seen", format!("sac {sac}"), "post-embryo"), "/breeding").await
}
