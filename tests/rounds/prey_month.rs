//! A simulated month of feeding, clearing, taking back, striking out, deliveries, losses and counts in any order: the book of
//! prey always agrees with the meals that stand, and what is on hand with all that came, went and was counted.

use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use silkward::animals::model::timeline::EntryKind;
use silkward::house::audit::Change;
use silkward::house::errors::AppError;
use silkward::house::ids::{AnimalId, MemberId, PreyKindId, PreyLineId, SignoffId};
use silkward::house::write::Write;
use silkward::reckoning::words::DutyKind;
use silkward::rounds::model::prey::{LineWhat, NewLine};
use silkward::rounds::model::{Detail, Duty, Group, NewSignoff, Outcome};
use silkward::rounds::store;

use super::stock::{CALM, animal, cohort, house, prey_list};
use crate::support::{TestHouse, number};

struct Month {
    house: TestHouse,
    member: MemberId,
    rng: StdRng,
    signed: Vec<SignoffId>,
    /// What was delivered and lost, by kind: taken back lines are out again. What was counted, as the differences.
    came: std::collections::BTreeMap<i64, i64>,
    lines: Vec<(PreyLineId, i64, i64)>,
}

impl Month {
    async fn write(&self) -> Write {
        self.house.app.write(Some(self.member)).await.unwrap()
    }

    async fn done(write: Write) {
        write.commit(Change::new("test.month", "house", ""), "/").await.unwrap();
    }

    fn pick(&mut self, most: usize) -> usize {
        self.rng.random_range(0..most)
    }

    fn answer(&mut self, duty: &Duty) -> Option<NewSignoff> {
        let of = [Outcome::Took, Outcome::Refused, Outcome::LeftIn];
        match (duty.kind, duty.cohort_id) {
            (DutyKind::Feed, Some(_)) if self.rng.random_bool(0.5) => {
                let group = Group {
                    took: self.rng.random_range(1..10),
                    refused: self.rng.random_range(0..10),
                    left_in: self.rng.random_range(0..5),
                    ..Group::default()
                };
                Some(NewSignoff::plain(duty.id, Outcome::Counts).with(Detail::Group(group)))
            }
            (DutyKind::Feed, _) => Some(NewSignoff::plain(duty.id, of[self.pick(3)])),
            (DutyKind::ClearUneaten, _) => Some(NewSignoff::plain(duty.id, of[self.pick(2)])),
            _ => None,
        }
    }

    async fn round(&mut self) {
        let mut write = self.write().await;
        store::plan_house(&mut write).await.unwrap();
        for duty in store::open(write.db()).await.unwrap() {
            let Some(new) = self.answer(&duty).filter(|_| duty.held.is_none()) else { continue };
            match store::sign_off(&mut write, &new).await {
                Ok(signed) => self.signed.push(signed.id),
                Err(AppError::Conflict(_) | AppError::Refused(_)) => {}
                Err(error) => panic!("{error}"),
            }
        }
        Self::done(write).await;
    }

    async fn take_back(&mut self) {
        let at = self.pick(self.signed.len().max(1));
        let Some(id) = self.signed.get(at).copied() else { return };
        let mut write = self.write().await;
        match store::undo(&mut write, id).await {
            Ok(_) => Self::done(write).await,
            Err(AppError::Conflict(_)) => {}
            Err(error) => panic!("{error}"),
        }
    }

    /// Strikes out a meal that stands, as somebody does later on the animal's page.
    async fn strike(&mut self) {
        let mut write = self.write().await;
        let meal: Option<(i64, AnimalId)> =
            sqlx::query_as("SELECT id, animal_id FROM meal_standing ORDER BY id DESC LIMIT 1").fetch_optional(write.db()).await.unwrap();
        let Some((id, animal)) = meal else { return };
        silkward::animals::store::strike_entry(&mut write, animal, EntryKind::Meal, id, "a slip").await.unwrap();
        Self::done(write).await;
    }

    async fn goods(&mut self) {
        let kind = [2, 6][self.pick(2)];
        let what = [LineWhat::Delivered, LineWhat::Delivered, LineWhat::Died, LineWhat::Thrown][self.pick(4)];
        let mut write = self.write().await;
        let (day, quantity) = (write.today - chrono::Days::new(self.rng.random_range(0..4)), self.rng.random_range(1..60));
        let new = NewLine { kind: PreyKindId(kind), day, what, quantity, cost_minor: None, note: String::new() };
        match store::prey::add_line(&mut write, &new).await {
            Ok(id) => {
                let change = if what == LineWhat::Delivered { i64::from(quantity) } else { -i64::from(quantity) };
                self.lines.push((id, kind, change));
                *self.came.entry(kind).or_default() += change;
                Self::done(write).await;
            }
            Err(AppError::Refused(_)) => assert_ne!(what, LineWhat::Delivered),
            Err(error) => panic!("{error}"),
        }
    }

    async fn line_back(&mut self) {
        if self.lines.is_empty() {
            return;
        }
        let at = self.pick(self.lines.len());
        let (id, kind, change) = self.lines.swap_remove(at);
        let mut write = self.write().await;
        store::prey::reverse(&mut write, PreyKindId(kind), id, "a slip").await.unwrap();
        *self.came.entry(kind).or_default() -= change;
        Self::done(write).await;
    }

    async fn count(&mut self) {
        let kind = [2, 6][self.pick(2)];
        let counted = self.rng.random_range(0..300);
        let mut write = self.write().await;
        store::prey::count(&mut write, PreyKindId(kind), counted, "").await.unwrap();
        Self::done(write).await;
        assert_eq!(super::stock::on_hand(&self.house, kind).await, i64::from(counted));
    }

    async fn check(&self) {
        let house = &self.house;
        let wrong = "SELECT COUNT(*) FROM prey_kind AS kind
             WHERE COALESCE((SELECT quantity FROM prey_balance WHERE kind_id = kind.id), 0)
                   <> COALESCE((SELECT SUM(quantity) FROM prey_line WHERE kind_id = kind.id), 0)";
        assert_eq!(number(house, wrong).await, 0, "a balance is not the sum of its lines");
        // Written out anew from the meals that stand: taken or left in counts, so does what was left in at first and taken out
        // later, and what is pre-killed (spiderlings below 1.5 cm: the cohort).
        let used = "SELECT (SELECT COUNT(*) FROM meal_standing AS m WHERE m.prey_kind_id IS NOT NULL AND (m.outcome IN ('took', 'left-in')
                        OR EXISTS (SELECT 1 FROM meal AS before WHERE before.id = m.corrects_id AND before.outcome = 'left-in')))
                  + (SELECT COALESCE(SUM(took + refused + left_in), 0) FROM cohort_meal_standing WHERE prey_kind_id IS NOT NULL)
                  + (SELECT COALESCE(SUM(quantity), 0) FROM prey_line WHERE what = 'used')";
        assert_eq!(number(house, used).await, 0, "what was used is not what the meals took");
        for kind in [2, 6] {
            let sums: (i64, i64) = sqlx::query_as(
                "SELECT COALESCE(SUM(quantity), 0), COALESCE(SUM(quantity) FILTER (WHERE what IN ('used', 'counted')), 0) FROM prey_line WHERE kind_id = ?",
            )
            .bind(kind)
            .fetch_one(&house.app.database.writer)
            .await
            .unwrap();
            assert_eq!(sums.0, sums.1 + self.came.get(&kind).copied().unwrap_or(0), "kind {kind}");
        }
    }
}

async fn month(seed: u64) {
    let house = house().await;
    prey_list(&house).await;
    for _ in 0..4 {
        animal(&house, CALM, 1).await;
    }
    cohort(&house, CALM, 25).await;
    let member = house.keeper("Bo", 3).await.id();
    let mut month =
        Month { house, member, rng: StdRng::seed_from_u64(seed), signed: Vec::new(), came: Default::default(), lines: Vec::new() };
    for day in 0..30 {
        let noon = crate::support::noon() + chrono::TimeDelta::days(day);
        month.house.app.clock.set(noon);
        for turn in 0..3 {
            month.house.app.clock.set(noon + chrono::TimeDelta::minutes(4 * turn));
            match month.pick(8) {
                0 | 1 => month.take_back().await,
                2 => month.strike().await,
                3 | 4 => month.goods().await,
                5 => month.line_back().await,
                6 if day % 5 == 0 => month.count().await,
                _ => month.round().await,
            }
            month.check().await;
        }
    }
    assert!(number(&month.house, "SELECT COUNT(*) FROM prey_line WHERE what = 'used'").await > 10);
}

#[tokio::test]
async fn whatever_is_done_and_undone_the_book_agrees_with_the_meals() {
    for seed in 0..6 {
        month(seed).await;
    }
}
