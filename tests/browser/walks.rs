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
async fn job_1_a_rack_of_forty_is_signed_off_with_three_exceptions() {
    let house = Served::start().await;
    let lead: i64 = count(&house, "SELECT id FROM member WHERE name = 'Lena'").await;
    house.forty_vials(silkward::house::ids::MemberId(lead)).await;
    let mut keeper = signed_in(&house, "kit").await;
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.says("My round").await;
    keeper.picture("walk-1-round").await;
    let batch = "form[action='/round/racks/2/feed']";
    // The exceptions by name, a tap for each, and the signature: on the page of the round itself.
    keeper.tap(&format!("{batch} summary")).await;
    keeper.picture("walk-1-rack").await;
    for (place, outcome) in [(3, "refused"), (17, "left-in"), (40, "leave")] {
        keeper.tap(&format!("{batch} fieldset:nth-of-type({place}) input[value={outcome}]")).await;
    }
    let loads = keeper.loads().await;
    keeper.tap(&format!("{batch} details > p.deeds:last-child button")).await;
    keeper.says("1 prey left in, 1 refused").await;
    let (taps, loads) = (keeper.taps(), keeper.loads().await - loads);
    println!("job 1: a rack of 40 with 3 exceptions in {taps} taps and {loads} page load");
    assert!(taps <= 8 && loads <= 1, "{taps} taps, {loads} page loads");
    let fed = "SELECT COUNT(*) FROM meal_standing JOIN animal ON animal.id = animal_id JOIN shelf ON shelf.id = shelf_id WHERE rack_id = 2 AND day = '2026-04-15'";
    comes_to(&house, fed, 39).await;
    comes_to(&house, "SELECT COUNT(*) FROM meal_standing WHERE day = '2026-04-15' AND outcome = 'took'", 37).await;
    // The other rack has nothing to except: one tap.
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.tap_words("main", "took it").await;
    let taps = keeper.taps();
    println!("job 1: a rack where all took it in {taps} tap");
    assert_eq!(taps, 1);
    comes_to(&house, fed, 39).await;
    keeper.end().await;
}

#[tokio::test]
async fn job_2_a_moult_a_death_and_a_threat_are_recorded_where_the_keeper_stands() {
    let house = Served::start().await;
    let mut keeper = signed_in(&house, "kit").await;
    let tags = [tag_of(&house, house.feeders[0]).await, tag_of(&house, house.feeders[1]).await, tag_of(&house, house.feeders[2]).await];
    let vial = |tag: &str| {
        format!(
            "//form[contains(@action,'/feed')]//fieldset[contains(@class,'vial')][.//a[normalize-space(.)='{tag}']]//a[contains(@class,'tag')]"
        )
    };

    // A moult, found while feeding: the vial's stop, and the moult. (A rack with a dangerous animal lists its vials at once.)
    keeper.open(&format!("{}/round", house.address)).await;
    let loads = keeper.loads().await;
    keeper.tap_path(&vial(&tags[0])).await;
    keeper.picture("walk-2-stop").await;
    keeper.tap("button[value=moulted-kept]").await;
    comes_to(&house, "SELECT COUNT(*) FROM moult_standing WHERE day = '2026-04-15'", 1).await;
    keeper.says("It is not fed until the new skin is hard").await;
    let (taps, loads) = (keeper.taps(), keeper.loads().await - loads);
    println!("job 2: a moult in {taps} taps and {loads} page loads");
    assert!(taps <= 3, "{taps} taps");
    // It is not fed in the fast.
    keeper.open(&format!("{}/round", house.address)).await;
    assert!(!keeper.has_path(&vial(&tags[0])).await, "a feed stands within the fast");

    // From a stop, a threat display takes one tap more, and holds the lid shut.
    keeper.tap_path(&vial(&tags[1])).await;
    keeper.taps();
    let loads = keeper.loads().await;
    keeper.tap("button[value=threat]").await;
    comes_to(&house, "SELECT COUNT(*) FROM hold WHERE kind = 'agitated'", 2).await;
    keeper.says("My round").await;
    println!("job 2: a threat in {} tap from its stop and {} page load", keeper.taps(), keeper.loads().await - loads);

    // A death takes the animal off the round for good.
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.tap_path(&vial(&tags[2])).await;
    keeper.taps();
    let loads = keeper.loads().await;
    keeper.tap("button[value=found-dead]").await;
    let taps = keeper.taps();
    keeper.says("found dead").await;
    println!("job 2: a death in {taps} tap from its stop and {} page load", keeper.loads().await - loads);
    assert!(taps <= 2, "{taps} taps");
    comes_to(&house, "SELECT COUNT(*) FROM animal WHERE status = 'dead'", 1).await;
    comes_to(&house, "SELECT COUNT(*) FROM duty JOIN animal ON animal.id = animal_id WHERE status = 'dead' AND state = 'open'", 0).await;
    keeper.end().await;
}

#[tokio::test]
async fn job_3_the_day_is_opened_and_shared_out() {
    let house = Served::start().await;
    sqlx::query("UPDATE duty SET assigned_to = NULL, assigned_on = NULL").execute(&house.app.database.writer).await.unwrap();
    let mut lead = signed_in(&house, "lena").await;
    // Signing in opened the day itself.
    lead.says("with nobody").await;
    let loads = lead.loads().await;
    lead.picture("walk-3-today").await;
    lead.tap_words("main", "Share out the day").await;
    lead.says("What comes of it").await;
    lead.picture("walk-3-share").await;
    lead.tap_words("#outcome", "Share out").await;
    lead.says("duties have").await;
    let taps = lead.taps();
    println!("job 3: the day opened and shared out in {taps} taps and {} page loads", lead.loads().await - loads);
    assert!(taps <= 3, "{taps} taps");
    comes_to(
        &house,
        "SELECT COUNT(*) FROM duty WHERE state = 'open' AND held IS NULL AND assigned_to IS NULL AND due_on <= '2026-04-15'",
        0,
    )
    .await;
    lead.end().await;
}

#[tokio::test]
async fn an_incident_takes_two_taps_from_a_stop() {
    let house = Served::start().await;
    let mut keeper = signed_in(&house, "kit").await;
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.tap("form[action='/round/racks/1/feed'] .vial a.tag").await;
    keeper.taps();
    let loads = keeper.loads().await;
    keeper.tap("a.grave").await;
    keeper.tap("button[value=near-miss]").await;
    let taps = keeper.taps();
    assert_eq!(taps, 2);
    keeper.says("Call your local emergency number").await;
    println!("incident: {taps} taps from a stop and {} page loads", keeper.loads().await - loads);
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
    let loads = keeper.loads().await;
    keeper.tap_words("form.sheet", "Done").await;
    keeper.says("My round").await;
    println!("job 4: signed by two in {} tap after the list of tools and {} page load", keeper.taps(), keeper.loads().await - loads);
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
    // One form takes them all: a scanner ends each tag with Enter.
    let mut tags = Vec::new();
    for animal in &house.ready_for_sale {
        tags.push(tag_of(&house, *animal).await);
    }
    counter.type_in("#tag", &tags.join("\n")).await;
    counter.choose("#lot", &format!("{}-i3", house.cohort)).await;
    counter.type_in("#quantity", "40").await;
    counter.tap_words("main", "Add to the list").await;
    counter.says("40 of the third instar").await;
    counter.picture("walk-6-list").await;
    counter.tap_words(".deeds", "Hand over").await;
    let taps = counter.taps();
    println!("job 6: three animals and forty spiderlings handed over in {taps} taps");
    assert!(taps <= 3, "{taps} taps");
    comes_to(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'care-sheet'", 4).await;
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
