//! One day after another: what is due is done, by whoever may, as the truth of the simulation has it.

use chrono::{DateTime, NaiveDate, Utc};
use rand::RngExt as _;

use super::brood::Brood;
use super::nursery::Nursery;
use super::stock::{Stock, roomy};
use super::{Building, climate, prey, trade};
use crate::animals::model::NewSpan;
use crate::handling;
use crate::handling::model::{IncidentKind, NewIncident};
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, MemberId};
use crate::reckoning::hazard::rehouse_checklist;
use crate::reckoning::words::{DutyKind, LossCause, SpanKind, SpanMethod};
use crate::rounds::model::{Detail, Duty, FromStock, Group, NewSignoff, Outcome};
use crate::rounds::store;

/// How many of the last days leave risky rehouses to whoever tries the demo.
const LEFT_TO_VISITORS: i64 = 12;

/// Lets one day pass in the house.
pub(super) async fn work(building: &mut Building, stock: &mut Stock, nursery: &mut Nursery, today: NaiveDate) -> Result<(), AppError> {
    building.at(8);
    climate::read(building, 8).await?;
    prey::keep(building).await?;
    stock.receive(building).await?;
    nursery.work(building, stock).await?;
    for life in stock.lives.values_mut() {
        life.pass(building.day, &mut building.rng);
    }
    plan(building).await?;
    building.at(11);
    round(building, stock, nursery, today).await?;
    building.at(17);
    turn_sacs(building).await?;
    let to_go = (today - building.day).num_days();
    if to_go <= 45 {
        climate::read(building, 17).await?;
    }
    if to_go % 7 == 3 {
        trade::sell(building, stock, nursery).await?;
    }
    if to_go == 211 {
        near_miss(building).await?;
    }
    Ok(())
}

/// Plans the last day and shares its racks out, as the lead would in the morning.
pub(super) async fn open_today(building: &mut Building, now: DateTime<Utc>) -> Result<(), AppError> {
    building.app.clock.set(now);
    plan(building).await?;
    let tamsin = building.named("tamsin");
    let mut write = building.app.write(Some(tamsin)).await?;
    let mut given = 0;
    for rack in crate::rooms::store::racks(write.db()).await? {
        let whose = match rack.name.as_str() {
            "Birch" => "perrin",
            "Cedar" | "Elm" => "joss",
            "Vials" => "tamsin",
            _ => continue,
        };
        given += store::assign_rack(&mut write, Some(rack.id), building.named(whose), false).await?.given;
    }
    write.commit(Change::new("duties.assigned", "house", format!("{given} duties")), "/today").await
}

async fn plan(building: &Building) -> Result<(), AppError> {
    let mut write = building.app.write(None).await?;
    let planned = store::plan_house(&mut write).await?;
    let day = building.day;
    write.commit(Change::new("day.planned", "house", format!("{day}: {planned}")), "/today").await
}

/// Everybody does their share of what is open.
async fn round(building: &mut Building, stock: &mut Stock, nursery: &mut Nursery, today: NaiveDate) -> Result<(), AppError> {
    let open = store::open(&mut *building.app.read().await?).await?;
    let to_go = (today - building.day).num_days();
    let chance_left = if to_go <= 1 { 0.4 } else { 0.05 };
    for (name, level) in [("perrin", 1), ("joss", 3), ("tamsin", 3)] {
        let mut write = building.app.write(Some(building.named(name))).await?;
        let mut signed = 0;
        for duty in open.iter().filter(|duty| duty.held.is_none() && duty.clearance <= level && whose(duty) == name) {
            let risky = duty.kind == DutyKind::Rehouse && duty.band == 3 && to_go <= LEFT_TO_VISITORS;
            if risky || building.rng.random_bool(chance_left) {
                continue;
            }
            let Some(new) = answer(building, &mut write, stock, nursery, duty).await? else { continue };
            match store::sign_off(&mut write, &new).await {
                Ok(_) => signed += 1,
                Err(AppError::Conflict(_) | AppError::Refused(_) | AppError::Forbidden(_)) => {}
                Err(error) => return Err(error),
            }
        }
        write.commit(Change::new("round.signed", "house", format!("{signed} duties")), "/round").await?;
    }
    Ok(())
}

/// In the afternoon the pulled sacs are turned once more.
async fn turn_sacs(building: &Building) -> Result<(), AppError> {
    let open = store::open(&mut *building.app.read().await?).await?;
    let turns: Vec<&Duty> = open.iter().filter(|duty| duty.kind == DutyKind::SacTurn).collect();
    if turns.is_empty() {
        return Ok(());
    }
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    for duty in &turns {
        store::sign_off(&mut write, &NewSignoff::plain(duty.id, Outcome::Done)).await?;
    }
    write.commit(Change::new("round.signed", "house", format!("{} sacs turned", turns.len())), "/round").await
}

/// Racks have their keepers; what is risky goes to those who are cleared for it.
fn whose(duty: &Duty) -> &'static str {
    let place = duty.place.as_deref().unwrap_or_default();
    if duty.clearance >= 2 {
        return if place.contains("Elm") { "joss" } else { "tamsin" };
    }
    match () {
        () if place.contains("Birch") => "perrin",
        () if place.contains("Vials") || place.contains("Incubator") => "tamsin",
        () => "joss",
    }
}

/// What the person who opens this one finds; none when the simulation does not know the subject.
async fn answer(
    building: &mut Building,
    write: &mut crate::house::write::Write,
    stock: &mut Stock,
    nursery: &mut Nursery,
    duty: &Duty,
) -> Result<Option<NewSignoff>, AppError> {
    if let Some(animal) = duty.animal_id {
        return of_animal(building, write, stock, duty, animal).await;
    }
    if let Some(cohort) = duty.cohort_id {
        let Some(brood) = nursery.broods.iter_mut().find(|brood| brood.cohort == cohort) else { return Ok(None) };
        return Ok(of_cohort(building, brood, duty, cohort));
    }
    // The climate of every room is read in the morning.
    Ok(duty.sac_id.map(|_| NewSignoff::plain(duty.id, Outcome::Done)))
}

async fn of_animal(
    building: &mut Building,
    write: &mut crate::house::write::Write,
    stock: &mut Stock,
    duty: &Duty,
    animal: AnimalId,
) -> Result<Option<NewSignoff>, AppError> {
    let day = building.day;
    let Some(life) = stock.lives.get_mut(&animal) else { return Ok(None) };
    let plain = |outcome| NewSignoff::plain(duty.id, outcome);
    let opens = matches!(duty.kind, DutyKind::Feed | DutyKind::MoultCheck);
    if opens && life.dies_on.is_some_and(|dies_on| dies_on <= day) {
        stock.lives.remove(&animal);
        let causes = [LossCause::FailedMoult, LossCause::Desiccation, LossCause::Unknown, LossCause::Fall, LossCause::Nematodes];
        let cause = causes.get(building.rng.random_range(0..causes.len())).copied().unwrap_or(LossCause::Unknown);
        return Ok(Some(plain(Outcome::FoundDead).with(Detail::Death(cause))));
    }
    if duty.kind == DutyKind::Feed && life.kind.defensive && building.rng.random_bool(0.012) {
        return Ok(Some(plain(Outcome::Threat)));
    }
    Ok(Some(match duty.kind {
        DutyKind::Feed if life.refuses(day) => plain(Outcome::Refused),
        DutyKind::Feed => {
            let outcome = match building.rng.random_range(0..100) {
                0..86 => Outcome::Took,
                86..94 => Outcome::Refused,
                _ => Outcome::LeftIn,
            };
            plain(outcome)
        }
        DutyKind::ClearUneaten => plain(if building.rng.random_bool(0.6) { Outcome::Took } else { Outcome::Refused }),
        DutyKind::MoultCheck => match life.unseen_moult.take() {
            Some(moulted_on) => {
                let method = if building.rng.random_bool(0.7) { SpanMethod::Measured } else { SpanMethod::Estimated };
                let span = Some(NewSpan { kind: SpanKind::LegSpan, mm: life.span_mm.into(), method });
                plain(Outcome::Moulted).with(Detail::Moult { day: moulted_on, skin_kept: building.rng.random_bool(0.5), span })
            }
            None => plain(if day >= life.refuses_from { Outcome::PreMoult } else { Outcome::Normal }),
        },
        DutyKind::Rehouse => rehouse(building, write, duty, animal, life.span_mm).await?,
        _ => plain(Outcome::Done),
    }))
}

async fn rehouse(
    building: &Building,
    write: &mut crate::house::write::Write,
    duty: &Duty,
    animal: AnimalId,
    span_mm: u32,
) -> Result<NewSignoff, AppError> {
    let (facts, _) = crate::animals::store::hazard(write.db(), animal).await?;
    let mut new = NewSignoff::plain(duty.id, Outcome::Done);
    if duty.needs_checklist() {
        new.checklist = rehouse_checklist(&facts).into_iter().map(str::to_owned).collect();
    }
    if duty.takes_two() {
        let second = ["tamsin", "joss"].map(|name| building.named(name)).into_iter().find(|id| Some(*id) != write.who);
        new.second = second;
    }
    let enclosure = roomy(span_mm);
    Ok(new.with(Detail::Rehouse { enclosure, shelf: duty.shelf_id, position: duty.position, despite: String::new(), assessed: None }))
}

fn of_cohort(building: &mut Building, brood: &mut Brood, duty: &Duty, cohort: CohortId) -> Option<NewSignoff> {
    let fed = duty.kind == DutyKind::Feed;
    match duty.kind {
        DutyKind::Feed | DutyKind::MoultCheck | DutyKind::CohortCount => {}
        DutyKind::ClearUneaten => return Some(NewSignoff::plain(duty.id, Outcome::Refused)),
        _ => return Some(NewSignoff::plain(duty.id, Outcome::Done)),
    }
    if duty.kind == DutyKind::CohortCount {
        return Some(NewSignoff::plain(duty.id, Outcome::Counts).with(Detail::Count(brood.counts())));
    }
    debug_assert_eq!(brood.cohort, cohort);
    let seen = brood.look(building.day, &mut building.rng);
    let cause = |stage| if stage < crate::reckoning::stage::Stage::Instar(2) { LossCause::Mould } else { LossCause::Desiccation };
    let alive = brood.feeding();
    let refused = if fed { alive * building.rng.random_range(4..14) / 100 } else { 0 };
    let left_in = if fed && building.rng.random_bool(0.25) { alive / 40 } else { 0 };
    let group = Group {
        from_stock: FromStock::Usual,
        prey: String::new(),
        took: if fed { alive.saturating_sub(refused + left_in) } else { 0 },
        refused,
        left_in,
        dead: seen.dead.into_iter().map(|(stage, count)| (stage, count, cause(stage))).collect(),
        moulted: seen.moulted.into_iter().collect(),
    };
    Some(NewSignoff::plain(duty.id, Outcome::Counts).with(Detail::Group(group)))
}

/// A fast animal ran up the forceps and was caught: nobody was hurt, and the clearance rested until the review.
async fn near_miss(building: &Building) -> Result<(), AppError> {
    let joss: MemberId = building.named("joss");
    let animal =
        store::open(&mut *building.app.read().await?).await?.into_iter().find(|duty| duty.band == 3).and_then(|duty| duty.animal_id);
    let mut write = building.app.write(Some(joss)).await?;
    let new = NewIncident { kind: IncidentKind::NearMiss, animal, cohort: None, duty: None };
    let incident = handling::store::record_incident(&mut write, &new).await?;
    write.commit(Change::new("incident.recorded", format!("incident {incident}"), "near miss"), "/handling").await?;
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let note = "Ran up the forceps at feeding; caught in the cup. Longer forceps for this rack from today.";
    let recorded = handling::store::require_incident(write.db(), incident).await?;
    handling::store::review(&mut write, &recorded, note).await?;
    write.commit(Change::new("incident.reviewed", format!("incident {incident}"), note), "/handling").await
}
