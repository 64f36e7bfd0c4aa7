//! Random histories of reserving, releasing, lapsing, selling and holding back, against a plain count kept beside them: nothing is
//! oversold, nothing that is free is refused.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use rand::rngs::StdRng;
use rand::{RngExt as _, SeedableRng as _};
use silkward::house::audit::Change;
use silkward::house::ids::{BuyerId, CohortId, ReservationId};
use silkward::house::write::Write;
use silkward::reckoning::stage::Stage;
use silkward::sales::model::{Item, Keeper, Lot, NewBuyer, NewReservation};
use silkward::sales::store::{self, reserved};

use super::stock::{self, CALM, house};
use crate::support::{TestHouse, number};

const START: i64 = 40;

/// The count kept beside the book.
struct Count {
    day: NaiveDate,
    alive: i64,
    held: i64,
    kept: BTreeMap<ReservationId, (BuyerId, i64, NaiveDate)>,
}

impl Count {
    fn kept_for_others(&self, but: Option<BuyerId>) -> i64 {
        self.kept.values().filter(|(buyer, _, until)| Some(*buyer) != but && *until >= self.day).map(|(_, quantity, _)| quantity).sum()
    }

    fn free(&self, but: Option<BuyerId>) -> i64 {
        (self.alive - self.held - self.kept_for_others(but)).max(0)
    }
}

fn lot(cohort: CohortId, quantity: i64) -> Lot {
    Lot { cohort, stage: Stage::Instar(2), quantity: u32::try_from(quantity).unwrap() }
}

/// A step that is drawn by chance: each says whether there is something to commit, and holds the store to the count.
async fn run(
    house: &TestHouse,
    cohort: CohortId,
    buyers: &[BuyerId],
    rng: &mut StdRng,
    count: &mut Count,
    seller: silkward::house::ids::MemberId,
) {
    let buyer = buyers[rng.random_range(0..buyers.len())];
    let quantity = rng.random_range(1..=12_i64);
    let mut write = house.app.write(Some(seller)).await.unwrap();
    let wrote = match rng.random_range(0..6) {
        0 | 1 => {
            let until = count.day + chrono::TimeDelta::days(rng.random_range(0..4));
            reserve(&mut write, count, buyer, lot(cohort, quantity), until).await
        }
        2 => release(&mut write, count).await,
        3 => {
            let back = if rng.random_bool(0.5) { quantity } else { -quantity };
            hold_back(&mut write, count, cohort, back).await
        }
        4 => {
            count.day = count.day.succ_opt().unwrap();
            house.set_clock(&format!("{}T12:00:00Z", count.day));
            false
        }
        _ => sell(house, &mut write, count, buyer, lot(cohort, quantity)).await,
    };
    if wrote {
        write.commit(Change::new("test.step", "cohort", ""), "/").await.unwrap();
    }
}

async fn reserve(write: &mut Write, count: &mut Count, buyer: BuyerId, lot: Lot, until: NaiveDate) -> bool {
    let keeper = Keeper { buyer: Some(buyer), ..Keeper::default() };
    let done = reserved::reserve(write, &NewReservation { item: Item::Lot(lot), keeper, until, note: String::new() }).await;
    let quantity = i64::from(lot.quantity);
    assert_eq!(done.is_ok(), quantity <= count.free(None), "reserve {quantity}: {done:?}");
    let Ok(id) = done else { return false };
    count.kept.insert(id, (buyer, quantity, until));
    true
}

async fn release(write: &mut Write, count: &mut Count) -> bool {
    let Some(id) = count.kept.keys().next().copied() else { return false };
    let lapsed = count.kept[&id].2 < count.day;
    // What lapsed may have been ended by a write in between, or stand in the table still: it is in nobody's way either way.
    let done = reserved::release(write, id).await;
    assert!(done.is_ok() || lapsed);
    count.kept.remove(&id);
    true
}

async fn hold_back(write: &mut Write, count: &mut Count, cohort: CohortId, back: i64) -> bool {
    let done = silkward::cohorts::store::hold_back(write, cohort, count.day, back, "test").await;
    let may = if back > 0 { back <= count.free(None) } else { -back <= count.held };
    let kept = count.kept_for_others(None);
    assert_eq!(done.is_ok(), may, "hold back {back} of {} alive, {} held, {kept} kept: {done:?}", count.alive, count.held);
    if may {
        count.held += back;
    }
    may
}

async fn sell(house: &TestHouse, write: &mut Write, count: &mut Count, buyer: BuyerId, lot: Lot) -> bool {
    let quantity = i64::from(lot.quantity);
    let may = quantity <= count.free(Some(buyer));
    let handover = store::insert_handover(write, buyer, "").await.unwrap();
    let added = store::add_lot_line(write, handover, lot).await;
    assert_eq!(added.is_ok(), may, "sell {quantity}: {added:?}");
    if !may {
        return false;
    }
    let done = store::hand_over(write, &house.app, handover, None).await;
    assert!(done.is_ok(), "sell {quantity} of {}: {done:?}", count.free(Some(buyer)));
    count.alive -= quantity;
    let mut left = quantity;
    for id in count.kept.keys().copied().collect::<Vec<_>>() {
        let (of, kept, until) = count.kept[&id];
        if of != buyer || until < count.day || left == 0 {
            continue;
        }
        count.kept.remove(&id);
        if kept > left {
            let rest: ReservationId = sqlx::query_scalar("SELECT MAX(id) FROM reservation").fetch_one(write.db()).await.unwrap();
            count.kept.insert(rest, (of, kept - left, until));
        }
        left = (left - kept).max(0);
    }
    true
}

#[tokio::test]
async fn random_histories_never_oversell_and_never_refuse_what_is_free() {
    for seed in 0..6 {
        let house = house().await;
        let seller = house.person("Cyprian", "lead counter").await.id();
        let cohort = stock::cohort(&house, CALM, u32::try_from(START).unwrap()).await;
        let mut write = house.app.write(None).await.unwrap();
        let mut buyers = Vec::new();
        for name in ["Ash", "Birch", "Cedar"] {
            let new = NewBuyer { name: name.to_owned(), contact: String::new(), address: String::new() };
            buyers.push(store::insert_buyer(&mut write, &new).await.unwrap());
        }
        write.commit(Change::new("test.buyers", "buyers", ""), "/").await.unwrap();
        let mut rng = StdRng::seed_from_u64(seed);
        let mut count = Count { day: stock::day("2026-04-15"), alive: START, held: 0, kept: BTreeMap::new() };
        for _ in 0..60 {
            run(&house, cohort, &buyers, &mut rng, &mut count, seller).await;
            let sold = number(&house, "SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance WHERE bucket = 'sold'").await;
            let alive = number(&house, "SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance WHERE bucket = 'i2'").await;
            assert_eq!((alive, sold + alive), (count.alive, START), "seed {seed}");
            let mut db = house.app.read().await.unwrap();
            let kept = reserved::reserved_of(&mut db, cohort, count.day, Keeper::default()).await.unwrap();
            assert_eq!(kept, count.kept_for_others(None), "seed {seed}");
            assert!(kept + count.held <= alive, "seed {seed}: {kept} kept and {} held of {alive}", count.held);
        }
    }
}
