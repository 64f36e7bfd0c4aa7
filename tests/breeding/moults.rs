//! A female's moult makes earlier pairings void, whichever way it is written down, and says so at that moment.

use silkward::house::ids::DutyId;

use super::{begin, breeders, introduce, lay, moulted, pair};
use crate::support::{Person, TestHouse, number};

const VOID: &str = "with the skin. No sac is expected of it any more.";

/// A dam (1) on a shelf, paired with 2 on 10 January, and her keeper with all her duties.
async fn paired() -> (TestHouse, Person) {
    let (house, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2026-01-10").await;
    sqlx::query("UPDATE animal SET shelf_id = 1, position = 1 WHERE id = 1").execute(&house.app.database.writer).await.unwrap();
    let mut write = house.app.write(Some(keeper.id())).await.unwrap();
    silkward::rounds::store::plan_house(&mut write).await.unwrap();
    silkward::rounds::store::assign_rack(&mut write, Some(silkward::house::ids::RackId(1)), keeper.id(), true).await.unwrap();
    write.commit(silkward::house::audit::Change::new("test.planned", "house", ""), "/").await.unwrap();
    (house, keeper)
}

async fn duty(house: &TestHouse, kind: &str) -> DutyId {
    sqlx::query_scalar("SELECT id FROM duty WHERE animal_id = 1 AND kind = ? AND state = 'open'")
        .bind(kind)
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap()
}

/// Paired 10 January, moulted 2 March: void. A sac of April is expected infertile.
#[tokio::test]
async fn on_the_animals_page_it_names_the_pairing_ends_the_wait_and_asks_to_pair_again() {
    let (_house, mut keeper) = paired().await;
    keeper.get("/breeding").await.ok().says("Sacs to come Dam Sire");
    let there = keeper.submit("/animals/1/moulted", &[("day", "2026-03-02")]).await.sent_to();
    let page = keeper.get(&there).await.ok().says("The moult on 2 Mar 2026 is in the book.").says(VOID);
    let page = page.says("The pairing of").says("(10 Jan 2026) is void: stored sperm went with the skin.");
    assert_eq!(page.attribute(".flash a", "href"), "/breeding/pairings/new?dam=1");
    // It stays on her page, and on that of breeding, until she is paired again.
    keeper.get("/animals/1").await.ok().says("Pair again?");
    let page = keeper.get("/breeding").await.ok().says("Pair again?").says("No pairing stands of which a sac is waited for.");
    page.says("void: she moulted on 2 Mar 2026");
    let sac = lay(&mut keeper, "2026-04-12").await;
    keeper.get(&sac).await.ok().says("it is expected to be infertile").says("Expected infertile");
    keeper.get("/breeding/pairings/1").await.ok().says("Pair again?").lacks("Write an introduction down");
    introduce(&mut keeper, "/breeding/pairings/1", "2026-04-13", "seen", "safe").await.is(422).says("Plan the two anew");
    begin(&mut keeper, "2", "2026-04-14").await;
    keeper.get("/breeding").await.ok().lacks("Pair again?");
}

#[tokio::test]
async fn at_a_moult_check_of_the_round_it_says_so() {
    let (house, mut keeper) = paired().await;
    let check = duty(&house, "moult-check").await;
    let page = format!("/round/duties/{check}");
    let fields = [("day", "2026-04-15"), ("skin_kept", "yes")];
    let there = keeper.submit_at(&page, &format!("{page}/moult"), &fields).await.sent_to();
    let page = keeper.get(&there).await.ok().says(VOID).says("Pair again?");
    assert_eq!(page.attribute(".flash.warning a", "href"), "/breeding/pairings/new?dam=1");
}

#[tokio::test]
async fn found_at_another_stop_it_says_so() {
    let (house, mut keeper) = paired().await;
    let stop = format!("/round/duties/{}", duty(&house, "water").await);
    let there = keeper.submit_at(&stop, &format!("{stop}/found"), &[("what", "moulted-kept")]).await.sent_to();
    keeper.get(&there).await.ok().says(VOID).says("Pair again?");
}

#[tokio::test]
async fn at_a_rooms_tablet_it_says_so() {
    let (house, keeper) = paired().await;
    house.give_pin(keeper.id(), "246813").await;
    let lead = house.person("Ada", "lead").await.id();
    let mut tablet = house.tablet(1, lead).await;
    let page = format!("/tablet/duties/{}", duty(&house, "moult-check").await);
    let who = keeper.id().to_string();
    let fields = [("signer", who.as_str()), ("pin", "246813"), ("day", "2026-04-15"), ("skin_kept", "yes")];
    let there = tablet.submit_at(&format!("{page}?form=own"), &format!("{page}/moult"), &fields).await.sent_to();
    tablet.get(&there).await.ok().says(VOID).says("Whether to pair again stands on the breeding page.");
}

#[tokio::test]
async fn a_moult_that_is_written_down_late_names_the_sac_that_came_after_it() {
    let (_house, mut keeper) = paired().await;
    lay(&mut keeper, "2026-04-01").await;
    let there = keeper.submit("/animals/1/moulted", &[("day", "2026-03-02")]).await.sent_to();
    keeper.get(&there).await.ok().says("The sac that she laid on 1 Apr 2026 is expected to be infertile.");
    let there = keeper.submit("/animals/2/moulted", &[("day", "2026-03-02")]).await.sent_to();
    keeper.get(&there).await.ok().lacks("void");
}

#[tokio::test]
async fn a_second_moult_says_nothing_again_and_a_moult_struck_out_gives_the_pairing_back() {
    let (house, mut keeper) = paired().await;
    moulted(&house.app, "2026-03-02").await;
    let there = keeper.submit("/animals/1/moulted", &[("day", "2026-04-10")]).await.sent_to();
    keeper.get(&there).await.ok().lacks(VOID);
    for moult in [1, 2] {
        sqlx::query("INSERT INTO moult (animal_id, day, at, corrects_id, void, void_reason) SELECT animal_id, day, at, id, 1, 'slip' FROM moult WHERE id = ?")
            .bind(moult)
            .execute(&house.app.database.writer)
            .await
            .unwrap();
    }
    keeper.get("/breeding").await.ok().says("standing").lacks("Pair again?");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM pairing_now WHERE waited_from = '2026-01-10'").await, 1);
}
