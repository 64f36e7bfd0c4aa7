//! Pairings as they are planned, and each introduction: who may, which animals can be, what becomes of the male.

use silkward::breeding::model::{NewIntroduction, NewPairing};
use silkward::breeding::store;
use silkward::house::errors::AppError;
use silkward::house::ids::{AnimalId, CohortId, MemberId, PairingId};
use silkward::reckoning::breeding::{Insertion, IntroductionEnd};
use silkward::reckoning::words::{Sex, SexBasis};

use super::{begin, breeders, cleared, grown, introduce, lay, pair};
use crate::support::{Person, TestHouse, number};

const NEW: &str = "/breeding/pairings/new";

/// A female (4) and a male (5) of a species of band 3, and a keeper cleared for level 3 with a PIN.
async fn risky() -> (TestHouse, Person, Person) {
    let (house, keeper) = breeders().await;
    grown(&house.app, "Poecilotheria regalis", Sex::Female, SexBasis::Exuvium).await;
    grown(&house.app, "Poecilotheria regalis", Sex::Male, SexBasis::Mature).await;
    let expert = house.person("Cy", "keeper").await;
    cleared(&house, expert.id(), 3).await;
    (house, keeper, expert)
}

#[tokio::test]
async fn what_was_found_is_shown_in_the_same_words_before_a_pairing_begins() {
    let (_house, mut keeper) = breeders().await;
    let planned = keeper.get("/breeding/planned?dam=1&sire=2").await.ok().says("Begin this pairing");
    let fields = [("dam", "1"), ("sire", "2"), ("day", "2026-04-15")];
    let again = keeper.submit(NEW, &fields).await.is(422).says("This is what was found of the two.");
    for words in [
        "No moult of",
        "How well fed",
        "is known to be mature, but nobody noted since when",
        "Bands 1 and 1 with hands in: clearance 1",
        "Cleared today: Bo",
        "no locality or line is noted of either",
    ] {
        assert!(planned.words().contains(words) && again.words().contains(words), "{words}");
    }
    let there = begin(&mut keeper, "2", "2026-04-15").await;
    keeper.get(&there).await.ok().says("Planned, not introduced yet").says("What spoke against it when it was planned").says("No moult of");
    keeper
        .submit(NEW, &[("dam", "1"), ("sire", "2"), ("day", "2026-04-15"), ("looked", "1-2")])
        .await
        .is(422)
        .says("as a pairing that stands");
    for path in ["/breeding/pairings/9", "/breeding/pairings/x", "/breeding/pairings/9/introduced", "/breeding/introductions/9/struck"] {
        keeper.get(path).await.is(404);
    }
}

/// Young of mixed lines carry that wherever they go; somebody has to go on knowingly.
#[tokio::test]
async fn mixed_lines_are_gone_on_with_knowingly_and_follow_the_young() {
    let (house, mut keeper) = breeders().await;
    sqlx::query("UPDATE animal SET locality = 'Colima' WHERE id = 1").execute(&house.app.database.writer).await.unwrap();
    sqlx::query("UPDATE animal SET locality = 'Jalisco' WHERE id = 2").execute(&house.app.database.writer).await.unwrap();
    let mut fields = vec![("dam", "1"), ("sire", "2"), ("day", "2026-01-10"), ("looked", "1-2")];
    keeper.submit(NEW, &fields).await.is(422).says("Their lines differ: Colima and Jalisco.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM pairing").await, 0);
    fields.push(("accept_mixed", "yes"));
    let pairing = keeper.submit(NEW, &fields).await.sent_to();
    introduce(&mut keeper, &pairing, "2026-01-10", "seen", "safe").await.sent_to();
    keeper.get(&pairing).await.ok().says("Mixed lines : Colima and Jalisco");
    let sac = lay(&mut keeper, "2026-02-20").await;
    keeper.get(&sac).await.ok().says("Mixed lines: Colima and Jalisco.");
    let open = keeper.get(&format!("{sac}/opened")).await.ok();
    assert_eq!(open.value("#locality"), "mixed: Colima and Jalisco");
    let opening = [("day", "2026-04-10"), ("count_stage", "i2"), ("count", "40"), ("second", "40"), ("source", "C"), ("housing", "vials")];
    let cohort = keeper.submit(&format!("{sac}/opened"), &opening).await.sent_to();
    keeper.get(&cohort).await.ok().says("Mixed lines: Colima and Jalisco.");
    let tags = [("day", "2026-04-12"), ("stage", "i2"), ("quantity", "1"), ("shelf", "1")];
    keeper.submit(&format!("{cohort}/tagged"), &tags).await.sent_to();
    keeper.get("/animals/4").await.ok().says("Mixed lines: Colima and Jalisco.");
    let mut db = house.app.read().await.unwrap();
    let of_cohort = store::mixed_line_of_cohort(&mut db, CohortId(1)).await.unwrap().unwrap();
    let of_animal = store::mixed_line_of_animal(&mut db, AnimalId(4)).await.unwrap().unwrap();
    assert_eq!((of_cohort.words.as_str(), of_cohort.sure), ("Colima and Jalisco", true));
    assert_eq!(of_animal, of_cohort);
    assert_eq!(store::mixed_line_of_animal(&mut db, AnimalId(3)).await.unwrap(), None);
    drop(db);
    // A second generation: whoever is of mixed lines has young of mixed lines, whatever the other's line.
    sqlx::query("UPDATE animal SET sex = 'male', sex_basis = 'mature', locality = 'Colima' WHERE id = 4")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let fields = [("dam", "1"), ("sire", "4"), ("day", "2026-04-14"), ("looked", "1-4")];
    keeper.submit(NEW, &fields).await.is(422).says("is itself of mixed lines (Colima and Jalisco)");
}

#[tokio::test]
async fn an_introduction_is_written_down_with_what_was_seen() {
    let (house, mut keeper) = breeders().await;
    let pairing = begin(&mut keeper, "2", "2026-04-10").await;
    let audits = number(&house, "SELECT COUNT(*) FROM audit").await;
    introduce(&mut keeper, &pairing, "2026-04-12", "none", "parted").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audits + 1);
    introduce(&mut keeper, &pairing, "2026-04-14", "seen", "safe").await.sent_to();
    let page =
        keeper.get(&pairing).await.ok().says("Standing.").says("no insertion seen parted early Bo").says("insertion seen male safe Bo");
    page.says("A sac is expected from").says("counted from 14 Apr 2026").says("the usual 90 to 270 days (common practice, no source)");
    keeper.get("/breeding").await.ok().says("Sacs to come").says("2, insertion seen");
    let form = keeper.get(&format!("{pairing}/introduced")).await.ok();
    let text = form.text();
    assert!(text.find("Band 1").unwrap() < text.find("Write it down").unwrap(), "cautions stand before the button");
    assert_eq!(form.says("soft brush").count("#pin"), 0);
}

#[tokio::test]
async fn a_male_that_is_lost_dies_in_the_same_change_and_stays_so() {
    let (house, mut keeper) = breeders().await;
    let pairing = begin(&mut keeper, "2", "2026-04-10").await;
    let audits = number(&house, "SELECT COUNT(*) FROM audit").await;
    introduce(&mut keeper, &pairing, "2026-04-12", "seen", "lost").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audits + 1);
    let dead = "SELECT COUNT(*) FROM animal WHERE id = 2 AND status = 'dead' AND loss_cause = 'cannibalism' AND status_on = '2026-04-12'";
    assert_eq!(number(&house, dead).await, 1);
    keeper.get(&pairing).await.ok().says("male lost").says("He has left the house.").lacks("Write an introduction down");
    introduce(&mut keeper, &pairing, "2026-04-13", "seen", "safe").await.is(422).says("left on 12 Apr 2026, before that day");
    keeper.submit("/breeding/introductions/1/struck", &[("why", "slip")]).await.is(409).says("who has died stays so");
    // He may have sired the sac that follows.
    let sac = lay(&mut keeper, "2026-04-14").await;
    keeper.get(&sac).await.ok().says("Sired by");
}

#[tokio::test]
async fn an_introduction_that_can_not_be_is_refused_with_what_was_typed() {
    let (house, mut keeper) = breeders().await;
    let pairing = begin(&mut keeper, "2", "2026-04-10").await;
    let introduced = format!("{pairing}/introduced");
    let good = [("day", "2026-04-12"), ("time", "10:00"), ("insertion", "seen"), ("outcome", "safe"), ("note", "calm")];
    let with = |key: &'static str, value: &'static str| good.map(|(name, old)| (name, if name == key { value } else { old }));
    for (field, value, says) in [
        ("day", "2026-04-16", "still to come"),
        ("day", "2025-05-31", "came under care on 1 Jun 2025, after that day"),
        ("time", "25:00", "Enter a time"),
        ("insertion", "", "Choose one of the list."),
        ("outcome", "unknown", "Choose one of the list."),
        ("outcome", "eaten", "Choose one of the list."),
    ] {
        let again = keeper.submit(&introduced, &with(field, value)).await;
        // Before the clearance began nobody may.
        if again.status == 403 {
            assert_eq!(value, "2025-05-31");
            continue;
        }
        assert!(again.is(422).says(says).text().contains("calm"), "{value}");
    }
    let later = [("day", "2026-04-15"), ("time", "23:30"), ("insertion", "seen"), ("outcome", "safe")];
    keeper.submit(&introduced, &later).await.is(422).says("still to come");
    sqlx::query(
        "INSERT INTO hold (animal_id, kind, blocks, from_at, until_at, reason) VALUES (1, 'agitated', 'open', '2026-04-12T06:00:00+00:00',
         '2026-04-13T06:00:00+00:00', 'threat display')",
    )
    .execute(&house.app.database.writer)
    .await
    .unwrap();
    keeper.submit(&introduced, &good).await.is(422).says("was held then (agitated: threat display)");
    introduce(&mut keeper, &pairing, "2026-04-11", "seen", "safe").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM introduction").await, 1);
}

#[tokio::test]
async fn nobody_puts_two_together_above_their_clearance_by_any_route() {
    let (house, mut keeper, expert) = risky().await;
    let looked = [("dam", "4"), ("sire", "5"), ("day", "2026-04-15"), ("looked", "4-5")];
    let pairing = keeper.submit(NEW, &looked).await.sent_to();
    keeper.get(&pairing).await.ok().says("You can plan it, but not do it: Bo holds clearance 2");
    keeper.get(&format!("{pairing}/introduced")).await.ok().says("You can't write this down: Bo holds clearance 2").says("Band 3");
    let fields = [("day", "2026-04-15"), ("time", "09:00"), ("insertion", "seen"), ("outcome", "safe"), ("second", "1"), ("pin", "246813")];
    keeper.submit(&format!("{pairing}/introduced"), &fields).await.is(403).says("needs clearance 3: Bo holds clearance 2");
    // The store says the same, and the database beneath it.
    let mut write = house.app.write(Some(keeper.id())).await.unwrap();
    let new = NewIntroduction {
        pairing: PairingId(1),
        day: write.today,
        began_at: write.at,
        insertion: Insertion::Seen,
        outcome: IntroductionEnd::Safe,
        second: Some(expert.id()),
        note: String::new(),
    };
    assert!(matches!(store::introduce(&mut write, &new).await, Err(AppError::Forbidden(_))));
    drop(write);
    for (columns, says) in [
        ((keeper.id(), Some(expert.id()), 3, 3, 2), "not cleared to put these two together"),
        ((expert.id(), None, 3, 3, 2), "this takes two people"),
        ((expert.id(), Some(MemberId(99)), 3, 3, 2), "can not be the second"),
        ((expert.id(), None, 1, 1, 1), "the band of the two is higher"),
        ((expert.id(), None, 3, 3, 1), "less was asked than the risk table asks"),
        ((expert.id(), None, 3, 1, 2), "less was asked than the risk table asks"),
    ] {
        let told = raw(&house, columns).await;
        assert!(told.contains(says), "{told}");
    }
    sqlx::query("INSERT INTO incident (kind, member_id, at, day) VALUES ('near-miss', ?, '2026-04-15T08:00:00+00:00', '2026-04-15')")
        .bind(expert.id())
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sqlx::query("INSERT INTO suspension (member_id, incident_id, since) VALUES (?, 1, '2026-04-15T08:00:00+00:00')")
        .bind(expert.id())
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let told = raw(&house, (expert.id(), Some(keeper.id()), 3, 3, 2)).await;
    assert!(told.contains("rest until an incident is reviewed"), "{told}");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM introduction").await, 0);
}

/// What the database says to an introduction of pairing 1: who, second, band, clearance, persons.
async fn raw(house: &TestHouse, (who, second, band, clearance, persons): (MemberId, Option<MemberId>, i64, i64, i64)) -> String {
    sqlx::query(
        "INSERT INTO introduction (pairing_id, day, began_at, insertion, outcome, member_id, second_id, band, clearance, persons, at)
         VALUES (1, '2026-04-15', '2026-04-15T09:00:00+00:00', 'seen', 'safe', ?, ?, ?, ?, ?, '2026-04-15T10:00:00+00:00')",
    )
    .bind(who)
    .bind(second)
    .bind(band)
    .bind(clearance)
    .bind(persons)
    .execute(&house.app.database.writer)
    .await
    .expect_err("the database took it")
    .to_string()
}

#[tokio::test]
async fn a_pair_of_band_three_takes_two_and_the_seconds_own_pin() {
    let (house, keeper, mut expert) = risky().await;
    house.give_pin(keeper.id(), "246813").await;
    let pairing = expert.submit(NEW, &[("dam", "4"), ("sire", "5"), ("day", "2026-04-15"), ("looked", "4-5")]).await.sent_to();
    let page = format!("{pairing}/introduced");
    expert.get(&page).await.ok().says("clearance 3, two people").says("door shut and its gap sealed");
    let second = keeper.id().to_string();
    let own = expert.id().to_string();
    let with =
        |second: &'static str| [("day", "2026-04-15"), ("time", "09:00"), ("insertion", "seen"), ("outcome", "safe"), ("second", second)];
    expert.submit(&page, &with("")).await.is(422).says("This takes two people.");
    let mut fields = vec![("day", "2026-04-15"), ("time", "09:00"), ("insertion", "seen"), ("outcome", "safe"), ("note", "door shut")];
    fields.extend([("second", own.as_str()), ("pin", "000000")]);
    expert.submit(&page, &fields).await.is(422).says("somebody else than the one who writes this down");
    let place = fields.len() - 2;
    fields[place] = ("second", second.as_str());
    let again = expert.submit(&page, &fields).await.is(422).says("not the second person's PIN");
    assert!(again.text().contains("door shut"));
    assert_eq!(again.value("#pin"), "");
    fields[place + 1] = ("pin", "246813");
    expert.submit(&page, &fields).await.sent_to();
    expert.get(&pairing).await.ok().says("Cy and Bo");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM introduction WHERE band = 3 AND clearance = 3 AND persons = 2").await, 1);
}

#[tokio::test]
async fn the_database_keeps_what_a_pairing_can_be() {
    let (house, mut keeper) = breeders().await;
    grown(&house.app, "Poecilotheria regalis", Sex::Male, SexBasis::Mature).await;
    let insert = "INSERT INTO pairing (dam_id, sire_id, paired_on, at) VALUES ";
    for (values, says) in [
        ("(2, 3, '2026-04-01', 'x')", "a male is no dam"),
        ("(1, 4, '2026-04-01', 'x')", "these are two species"),
        ("(1, 2, '2025-01-01', 'x')", "not in the house on that day"),
    ] {
        let told = sqlx::query(sqlx::AssertSqlSafe(format!("{insert}{values}"))).execute(&house.app.database.writer).await;
        assert!(told.unwrap_err().to_string().contains(says), "{says}");
    }
    pair(&mut keeper, "2", "2026-04-10").await;
    for statement in [
        "UPDATE introduction SET note = 'x'",
        "DELETE FROM introduction",
        "UPDATE pairing SET mixed = ''",
        "DELETE FROM count_check WHERE 1 = 1",
    ] {
        let done = sqlx::query(statement).execute(&house.app.database.writer).await;
        assert!(done.is_err() || statement.contains("count_check"), "{statement}");
    }
    // Somebody who is not cleared on the day by the store's own words.
    let mut write = house.app.write(None).await.unwrap();
    let new = NewPairing { dam: AnimalId(1), sire: AnimalId(3), day: write.today, note: String::new(), accept_mixed: false };
    let id = store::begin_pairing(&mut write, &new).await.unwrap();
    let new = NewIntroduction {
        pairing: id,
        day: write.today,
        began_at: write.at,
        insertion: Insertion::None,
        outcome: IntroductionEnd::Safe,
        second: None,
        note: String::new(),
    };
    assert!(matches!(store::introduce(&mut write, &new).await, Err(AppError::Forbidden(_))), "nobody did it");
}

#[tokio::test]
async fn an_animal_that_has_left_or_is_still_to_come_is_not_paired() {
    let (house, mut keeper) = breeders().await;
    for (statement, says) in [
        ("UPDATE animal SET status = 'sold', status_on = '2026-04-01' WHERE id = 2", "is sold since 1 April 2026"),
        ("UPDATE animal SET status = 'dead', status_on = '2026-04-02', loss_cause = 'unknown' WHERE id = 1", "is dead since 2 April 2026"),
    ] {
        sqlx::query(statement).execute(&house.app.database.writer).await.unwrap();
        let fields = [("dam", "1"), ("sire", "2"), ("day", "2026-04-15"), ("looked", "1-2"), ("note", "kept words")];
        let again = keeper.submit(NEW, &fields).await.is(422).says(says);
        assert!(again.text().contains("kept words"));
    }
    keeper.submit(NEW, &[("dam", "1"), ("sire", "3"), ("day", "2026-04-16"), ("looked", "1-3")]).await.is(422).says("still to come");
    keeper.submit(NEW, &[("dam", "1"), ("sire", "3"), ("day", "2025-05-01"), ("looked", "1-3")]).await.is(422).says("after that day");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM pairing").await, 0);
}

#[tokio::test]
async fn a_slip_is_struck_out_with_its_reason_and_counts_no_more() {
    let (_house, mut keeper) = breeders().await;
    let pairing = pair(&mut keeper, "2", "2026-03-01").await;
    let sac = keeper.submit("/breeding/sacs/new", &[("dam", "1"), ("sire", "unknown"), ("laid_on", "2026-04-01")]).await.sent_to();
    keeper.get(&sac).await.ok().says("Sired by");
    keeper.submit("/breeding/introductions/1/struck", &[("why", "")]).await.is(422);
    keeper.submit("/breeding/introductions/1/struck", &[("why", "it was another pair")]).await.sent_to();
    keeper.submit("/breeding/introductions/1/struck", &[("why", "again")]).await.is(409);
    keeper.get(&pairing).await.ok().says("Struck out : it was another pair").says("Planned, not introduced yet");
    keeper.get(&sac).await.ok().says("no pairing before the sac is on record");
}
