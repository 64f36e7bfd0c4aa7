//! When a sac is waited for, and when its stages are to be expected: from what is usual to what the house has seen.

use silkward::reckoning::words::{Sex, SexBasis};

use super::{breeders, grown, introduce, lay, pair};
use crate::support::{TestHouse, number};

/// Sacs of dam 1 that reached their post-embryos after so many days.
async fn finished(house: &TestHouse, days: &[i64]) {
    for took in days {
        sqlx::query(
            "INSERT INTO sac (species_id, dam_id, laid_on, incubation, pulled_on, state, ended_on, legs_out_on, created_at)
             SELECT species_id, 1, '2025-08-01', 'pulled', '2025-08-10', 'failed', '2025-12-01', date('2025-08-01', ?1 || ' days'), 'x' FROM animal WHERE id = 1",
        )
        .bind(took)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    }
}

/// The species' usual 90 to 270 days (slow New World terrestrials; common practice, no source).
#[tokio::test]
async fn a_standing_pairing_is_watched_from_its_last_insertion_and_marked_when_late() {
    let (_house, mut keeper) = breeders().await;
    let pairing = pair(&mut keeper, "2", "2026-01-01").await;
    introduce(&mut keeper, &pairing, "2026-02-01", "none", "parted").await.sent_to();
    let page = keeper.get("/breeding").await.ok().says("1 Jan 2026 1 Apr 2026 28 Sep 2026");
    page.says("the usual 90 to 270 days (common practice, no source); no finished sac of our own yet").lacks("late");
    let (_other, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2025-06-02").await;
    assert_eq!(keeper.get("/breeding").await.ok().says("2 Jun 2025 31 Aug 2025 27 Feb 2026").count(".late-mark"), 1);
    keeper.get("/breeding/pairings/1").await.ok().says("that is past late");
}

#[tokio::test]
async fn the_house_learns_from_pairing_to_sac_and_tells_the_weight() {
    let (house, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2025-07-01").await;
    lay(&mut keeper, "2025-10-09").await;
    let other = grown(&house.app, "Brachypelma hamorii", Sex::Female, SexBasis::Exuvium).await.to_string();
    let looked = format!("{other}-3");
    let fields = [("dam", other.as_str()), ("sire", "3"), ("day", "2026-04-01"), ("looked", looked.as_str())];
    let pairing = keeper.submit("/breeding/pairings/new", &fields).await.sent_to();
    introduce(&mut keeper, &pairing, "2026-04-01", "unknown", "safe").await.sent_to();
    keeper.get(&pairing).await.ok().says("weight of 1 own sac of the species: 33 %; of the usual 90 to 270 days");
    // Another species of the same group learns half as much of it.
    let her = grown(&house.app, "Grammostola pulchra", Sex::Female, SexBasis::Exuvium).await.to_string();
    let his = grown(&house.app, "Grammostola pulchra", Sex::Male, SexBasis::Mature).await.to_string();
    let looked = format!("{her}-{his}");
    let fields = [("dam", her.as_str()), ("sire", his.as_str()), ("day", "2026-04-01"), ("looked", looked.as_str())];
    let pairing = keeper.submit("/breeding/pairings/new", &fields).await.sent_to();
    introduce(&mut keeper, &pairing, "2026-04-01", "seen", "safe").await.sent_to();
    keeper.get(&pairing).await.ok().says("weight of 1 own sac of its breeding group: 20 %");
}

/// Three finished sacs weigh 60 % against a range that counts as two: the window moves to them.
#[tokio::test]
async fn stages_are_forecast_from_finished_sacs_with_their_weight_in_words() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-04-01").await;
    // 25 to 40 days are usual.
    keeper.get(&sac).await.ok().says("post-embryo 26 Apr 2026 11 May 2026 3 May 2026");
    finished(&house, &[31, 29, 33]).await;
    let page = keeper.get(&sac).await.ok().says("3 own sacs of the species: 60 %");
    // The same figures as in the reference file: 26.08, 31.22 and 37.38 days.
    page.says("post-embryo 27 Apr 2026 8 May 2026 2 May 2026");
}

#[tokio::test]
async fn a_stage_that_was_seen_is_shown_learnt_from_and_struck_out() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-03-01").await;
    let seen = format!("{sac}/seen");
    for (stage, day, says) in [
        ("ewl", "2026-03-01", "enter a later day"),
        ("ewl", "2026-04-16", "still to come"),
        ("i3", "2026-04-10", "A sac is watched for"),
        ("", "2026-04-10", "Choose one of the list."),
        ("ewl", "spring", "Enter a day"),
    ] {
        keeper.submit(&seen, &[("stage", stage), ("day", day)]).await.is(422).says(says);
    }
    keeper.submit(&format!("{sac}/pulled"), &[("day", "2026-03-20"), ("note", "")]).await.sent_to();
    keeper.submit(&seen, &[("stage", "ewl"), ("day", "2026-04-02")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac WHERE legs_out_on = '2026-04-02'").await, 1, "it is turned no more");
    keeper.submit(&seen, &[("stage", "i1"), ("day", "2026-04-01")]).await.is(422).says("which comes before it, was seen on 2 Apr 2026");
    keeper.submit(&seen, &[("stage", "ewl"), ("day", "2026-04-05")]).await.is(422).says("was seen on 2 Apr 2026 already");
    keeper.get(&sac).await.ok().says("2 Apr 2026, Bo");
    let other = lay(&mut keeper, "2026-04-05").await;
    keeper.get(&other).await.ok().says("1 own sac of the species: 33 %");
    keeper.submit_at(&sac, &format!("{seen}/1/strike"), &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac WHERE legs_out_on IS NOT NULL").await, 0);
    keeper.get(&other).await.ok().lacks("own sac of the species");
    keeper.submit_at(&sac, &format!("{seen}/1/strike"), &[]).await.is(404);
}

/// The ledger of the cohort tells when its young moulted on.
#[tokio::test]
async fn the_first_moult_in_the_ledger_counts_as_seen() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-02-01").await;
    let opening =
        [("day", "2026-03-20"), ("count_stage", "ewl"), ("count", "40"), ("second", "40"), ("source", "C"), ("housing", "communal")];
    let cohort = keeper.submit(&format!("{sac}/opened"), &opening).await.sent_to();
    for (day, quantity) in [("2026-04-02", "3"), ("2026-04-09", "30")] {
        let fields = [("day", day), ("stage", "ewl"), ("to", "i1"), ("quantity", quantity)];
        keeper.submit(&format!("{cohort}/moulted"), &fields).await.sent_to();
    }
    keeper.get(&sac).await.ok().says("2 Apr 2026");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac_stage WHERE stage = 'i1' AND day = '2026-04-02'").await, 1);
    sqlx::query(
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         SELECT cohort_id, day, 'reversal', to_bucket, from_bucket, quantity, id, at FROM ledger_line WHERE kind = 'moulted' AND day = '2026-04-02'",
    )
    .execute(&house.app.database.writer)
    .await
    .unwrap();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac_stage WHERE stage = 'i1' AND day = '2026-04-09'").await, 1);
}
