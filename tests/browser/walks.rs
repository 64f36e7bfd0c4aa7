//! The jobs that decide whether the tool is any good, walked with scripts off on a phone's screen, taps counted.

use crate::driver::{Browser, Scripts};
use crate::served::{PHRASE, PIN, Served};

async fn signed_in(house: &Served, name: &str) -> Browser {
    let mut browser = Browser::start(390, 844, Scripts::Off).await;
    browser.open(&format!("{}/sign-in", house.address)).await;
    browser.type_in("#sign_in_name", name).await;
    browser.type_in("#pass_phrase", PHRASE).await;
    browser.tap("main form.sheet button").await;
    browser.says("Menu").await;
    browser.taps();
    browser
}

async fn tag_of(house: &Served, animal: silkward::house::ids::AnimalId) -> String {
    let mut db = house.app.read().await.unwrap();
    silkward::animals::store::require(&mut db, animal).await.unwrap().tag
}

/// Waits until a query counts what it should: a tap that sends a form does not wait for the answer.
async fn comes_to(house: &Served, query: &'static str, expected: i64) {
    for _ in 0..150 {
        if count(house, query).await == expected {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    assert_eq!(count(house, query).await, expected, "{query}");
}

async fn count(house: &Served, query: &'static str) -> i64 {
    sqlx::query_scalar(query).fetch_one(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn job_1_a_rack_is_fed_with_one_tap_and_a_tap_for_each_exception() {
    let house = Served::start().await;
    let mut keeper = signed_in(&house, "kit").await;
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.says("My round").await;
    keeper.picture("walk-1-round").await;
    // Two exceptions: the shelf's own page, a tap for each, and the signature.
    keeper.tap_words("main", "With exceptions").await;
    keeper.tap("fieldset:nth-of-type(2) input[value=refused]").await;
    keeper.tap("fieldset:nth-of-type(3) input[value=left-in]").await;
    keeper.says("Sign the shelf").await;
    keeper.picture("walk-1-shelf").await;
    keeper.tap_words("main", "Sign the shelf").await;
    let taps = keeper.taps();
    println!("job 1: six fed with two exceptions in {taps} taps");
    assert!(taps <= 4, "{taps} taps");
    let fed = "SELECT COUNT(*) FROM meal_standing WHERE day = '2026-04-15'";
    comes_to(&house, fed, 6).await;
    comes_to(&house, "SELECT COUNT(*) FROM meal_standing WHERE day = '2026-04-15' AND outcome = 'took'", 4).await;
    // The next shelf has nothing to except: one tap.
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.tap_words("main", "took it").await;
    let taps = keeper.taps();
    println!("job 1: a shelf where all took it in {taps} tap");
    assert_eq!(taps, 1);
    comes_to(&house, fed, 9).await;
    keeper.end().await;
}

#[tokio::test]
async fn job_2_a_moult_a_death_and_a_threat_are_recorded_where_the_keeper_stands() {
    let house = Served::start().await;
    let mut keeper = signed_in(&house, "kit").await;
    let card = |tag: &str| format!("//article[contains(@class,'duty')][.//a[contains(@class,'tag')][normalize-space(.)='{tag}']]");
    let tags = [tag_of(&house, house.feeders[0]).await, tag_of(&house, house.feeders[1]).await, tag_of(&house, house.feeders[2]).await];

    // A moult, found at a moult check.
    keeper.open(&format!("{}/round", house.address)).await;
    let check = format!("{}[.//h3[contains(.,'Moult check')]]//a[contains(@class,'button')]", card(&tags[0]));
    keeper.tap_path(&check).await;
    keeper.type_in("#span_mm", "105").await;
    keeper.tap_words("main", "Moulted").await;
    let taps = keeper.taps();
    println!("job 2: a moult in {taps} taps");
    assert!(taps <= 2, "{taps} taps");
    comes_to(&house, "SELECT COUNT(*) FROM moult_standing WHERE day = '2026-04-15'", 1).await;
    // It is not fed in the fast.
    let feeds = format!("{}[.//h3[contains(.,'Feed')]]", card(&tags[0]));
    keeper.open(&format!("{}/round", house.address)).await;
    assert!(!keeper.has_path(&feeds).await, "a feed stands within the fast");

    // A threat display holds the lid shut.
    let feed = format!("{}[.//h3[contains(.,'Feed')]]", card(&tags[1]));
    keeper.tap_path(&format!("{feed}//summary")).await;
    keeper.tap_path(&format!("{feed}//button[@value='threat']")).await;
    let taps = keeper.taps();
    println!("job 2: a threat in {taps} taps");
    assert!(taps <= 2, "{taps} taps");
    comes_to(&house, "SELECT COUNT(*) FROM hold WHERE kind = 'agitated'", 2).await;

    // A death takes the animal off the round for good.
    keeper.open(&format!("{}/round", house.address)).await;
    let feed = format!("{}[.//h3[contains(.,'Feed')]]", card(&tags[2]));
    keeper.tap_path(&format!("{feed}//summary")).await;
    keeper.picture("walk-2-rarer").await;
    keeper.tap_path(&format!("{feed}//button[@value='found-dead']")).await;
    let taps = keeper.taps();
    println!("job 2: a death in {taps} taps");
    keeper.says("dead").await;
    assert!(taps <= 2, "{taps} taps");
    comes_to(&house, "SELECT COUNT(*) FROM animal WHERE status = 'dead'", 1).await;
    comes_to(&house, "SELECT COUNT(*) FROM duty JOIN animal ON animal.id = animal_id WHERE status = 'dead' AND state = 'open'", 0).await;
    keeper.end().await;
}

#[tokio::test]
async fn an_incident_takes_two_taps_from_the_round() {
    let house = Served::start().await;
    let mut keeper = signed_in(&house, "kit").await;
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.tap("article.duty a.incident").await;
    keeper.tap("button[value=near-miss]").await;
    let taps = keeper.taps();
    println!("incident: {taps} taps from the round");
    assert_eq!(taps, 2);
    keeper.says("Call your local emergency number").await;
    keeper.picture("walk-incident").await;
    comes_to(&house, "SELECT COUNT(*) FROM suspension WHERE lifted_at IS NULL", 1).await;
    keeper.end().await;
}

#[tokio::test]
async fn job_4_a_risky_rehouse_needs_clearance_two_people_and_the_tools() {
    let house = Served::start().await;
    let duty: i64 = sqlx::query_scalar("SELECT id FROM duty WHERE kind = 'rehouse' AND state = 'open' AND animal_id = ?")
        .bind(house.risky)
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap();
    let page = format!("{}/round/duties/{duty}", house.address);

    // Somebody who is not cleared sees why not, and no button.
    let trainee = signed_in(&house, "tove").await;
    trainee.open(&page).await;
    trainee.says("You can't sign this off").await;
    trainee.picture("walk-4-refused").await;
    trainee.end().await;

    let mut keeper = signed_in(&house, "kit").await;
    keeper.open(&page).await;
    keeper.picture("walk-4-rehouse").await;
    for tick in keeper.all("input[name=ticked]").await {
        tick.click().await.unwrap();
    }
    keeper.type_in("#length_mm", "400").await;
    keeper.type_in("#width_mm", "400").await;
    keeper.type_in("#fall_gap_mm", "150").await;
    let lead: i64 = sqlx::query_scalar("SELECT id FROM member WHERE name = 'Lena'").fetch_one(&house.app.database.writer).await.unwrap();
    keeper.choose("#second", &lead.to_string()).await;
    // A wrong PIN keeps what was typed.
    keeper.type_in("#pin", "000001").await;
    keeper.tap_words("form.sheet", "Done").await;
    keeper.says("Not saved yet").await;
    assert_eq!(keeper.find("#length_mm").await.value().await.unwrap().unwrap(), "400");
    keeper.type_in("#pin", PIN).await;
    keeper.taps();
    keeper.tap_words("form.sheet", "Done").await;
    println!("job 4: signed by two in {} tap after the list of tools", keeper.taps());
    let signed = "SELECT COUNT(*) FROM signoff WHERE second_id IS NOT NULL AND second_id <> member_id AND checklist <> ''";
    comes_to(&house, signed, 1).await;
    keeper.end().await;
}

#[tokio::test]
async fn job_6_three_animals_and_forty_spiderlings_leave_with_their_papers() {
    let house = Served::start().await;
    let mut counter = signed_in(&house, "cass").await;
    counter.open(&format!("{}/handovers/new", house.address)).await;
    counter.type_in("#name", "R. Quillfeather").await;
    counter.tap_words("main form", "Begin").await;
    counter.says("being made ready").await;
    for animal in &house.ready_for_sale {
        counter.type_in("#tag", &tag_of(&house, *animal).await).await;
        counter.tap_words("main", "Add the animal").await;
        counter.says(&format!("Tag {} is on the list", tag_of(&house, *animal).await)).await;
    }
    counter.choose("#lot", &format!("{}-i3", house.cohort)).await;
    counter.type_in("#quantity", "40").await;
    counter.tap_words("main", "Add the lot").await;
    counter.says("40 of the third instar are on the list").await;
    counter.picture("walk-6-list").await;
    counter.tap_words(".deeds", "Hand over").await;
    let taps = counter.taps();
    println!("job 6: three animals and forty spiderlings handed over in {taps} taps");
    assert!(taps <= 6, "{taps} taps");
    comes_to(&house, "SELECT COUNT(*) FROM paper", 4).await;
    comes_to(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold'", 3).await;
    comes_to(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'i3'", 60).await;

    counter.says("Print the papers").await;
    // The buyer, who never signed in, opens the sheet by its printed address.
    let paper = counter.find("main article.duty h3 a").await.attr("href").await.unwrap().unwrap();
    counter.open(&format!("{}{paper}", house.address)).await;
    counter.says("SHA-256").await;
    counter.picture("walk-6-sheet").await;
    let sheet = counter.words().await;
    let link = sheet.split_whitespace().find(|word| word.contains("/sheet/")).expect("the sheet prints its address").to_owned();
    counter.end().await;
    let buyer = Browser::start(390, 844, Scripts::Off).await;
    buyer.open(&link).await;
    buyer.says("Tliltocatl albopilosus").await;
    assert!(!buyer.words().await.contains("Quillfeather"), "the sheet names its buyer");
    buyer.end().await;
}
