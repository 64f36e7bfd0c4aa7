//! Whose young a sac holds, and sacs that can't be.

use silkward::breeding::store;
use silkward::house::ids::SacId;
use silkward::reckoning::breeding::Insertion;

use super::planned::sibs;
use super::{begin, breeders, introduce, lay, pair};
use crate::support::number;

/// One mating, two sacs in the same intermoult: both keep the sire, in the book and so in the pedigree.
#[tokio::test]
async fn a_second_sac_of_the_same_pairing_keeps_the_sire() {
    let (house, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2026-01-10").await;
    for day in ["2026-03-01", "2026-04-10"] {
        lay(&mut keeper, day).await;
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac WHERE sire_id = 2").await, 2);
    keeper.get("/breeding").await.ok().says("No pairing stands of which a sac is waited for.");
}

#[tokio::test]
async fn several_males_stay_several_and_are_marked_by_what_was_seen() {
    let (house, mut keeper) = breeders().await;
    let first = begin(&mut keeper, "2", "2026-01-10").await;
    introduce(&mut keeper, &first, "2026-01-10", "none", "safe").await.sent_to();
    pair(&mut keeper, "3", "2026-02-01").await;
    let sac = lay(&mut keeper, "2026-02-20").await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac WHERE sire_id IS NULL").await, 1);
    keeper.get(&sac).await.ok().says("it may be").says("(no insertion seen) or").says("(insertion seen)");
    let found = store::sire_candidates(&mut house.app.read().await.unwrap(), SacId(1)).await.unwrap();
    let told: Vec<_> = found.iter().map(|one| (one.id.0, one.insertion)).collect();
    assert_eq!(told, [(2, Insertion::None), (3, Insertion::Seen)]);
    let opening = [("day", "2026-04-10"), ("count_stage", "i2"), ("count", "40"), ("second", "40"), ("source", "C"), ("housing", "vials")];
    let cohort = keeper.submit(&format!("{sac}/opened"), &opening).await.sent_to();
    keeper.get(&cohort).await.ok().says("Several possible sires").says("1 Feb 2026, insertion seen");
    keeper
        .submit(&format!("{cohort}/tagged"), &[("day", "2026-04-12"), ("stage", "i2"), ("quantity", "1"), ("shelf", "1")])
        .await
        .sent_to();
    keeper.get("/animals/4").await.ok().says("Several possible sires").says("not known");
    assert!(store::sire_candidates(&mut house.app.read().await.unwrap(), SacId(9)).await.is_err());
}

#[tokio::test]
async fn a_sac_before_its_pairing_is_refused_with_what_to_change() {
    let (_house, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2026-03-10").await;
    let fields = [("dam", "1"), ("sire", "2"), ("laid_on", "2026-03-01"), ("incubation_note", "kept words")];
    let again = keeper.submit("/breeding/sacs/new", &fields).await.is(422).says("first put to her on 10 Mar 2026, after this sac was laid");
    assert!(again.text().contains("kept words"));
    let fields = [("dam", "1"), ("sire", "2"), ("laid_on", "2026-03-10")];
    keeper.submit("/breeding/sacs/new", &fields).await.sent_to();
    // A male who was never put to her by the book may be known otherwise.
    keeper.submit("/breeding/sacs/new", &[("dam", "1"), ("sire", "3"), ("laid_on", "2026-03-01")]).await.sent_to();
}

/// Nobody is their own ancestor: the young of a sac of September are no parents of an earlier one, by page or by statement.
#[tokio::test]
async fn nobody_is_their_own_ancestor() {
    let (house, mut keeper) = breeders().await;
    sibs(&house).await;
    for (dam, sire) in [("4", "2"), ("1", "5")] {
        let fields = [("dam", dam), ("sire", sire), ("laid_on", "2025-08-31")];
        keeper.submit("/breeding/sacs/new", &fields).await.is(422).says("nobody is their own ancestor");
    }
    let refused = sqlx::query(
        "INSERT INTO sac (species_id, dam_id, laid_on, incubation, created_at)
         SELECT species_id, 4, '2025-09-01', 'with-dam', '2026-04-15T08:00:00+00:00' FROM animal WHERE id = 4",
    )
    .execute(&house.app.database.writer)
    .await;
    assert!(refused.unwrap_err().to_string().contains("laid no earlier than this one"));
    keeper.submit("/breeding/sacs/new", &[("dam", "4"), ("sire", "2"), ("laid_on", "2026-04-14")]).await.sent_to();
    sqlx::query("UPDATE animal SET born_on = '2026-01-05' WHERE id = 3").execute(&house.app.database.writer).await.unwrap();
    let fields = [("dam", "1"), ("sire", "3"), ("laid_on", "2026-01-05")];
    keeper.submit("/breeding/sacs/new", &fields).await.is(422).says("hatched on 5 Jan 2026, not before this sac was laid");
    let males = sqlx::query(
        "INSERT INTO sac (species_id, dam_id, laid_on, incubation, created_at) SELECT species_id, 2, '2026-04-01', 'with-dam', 'x' FROM animal WHERE id = 2",
    )
    .execute(&house.app.database.writer)
    .await;
    assert!(males.unwrap_err().to_string().contains("a male is no dam"));
}
