//! Sending animals: the rule of temperature and day, who may let one go against it, and how it arrived.

use super::stock::{self, BUYER, CALM, add_animal, begin, hand_over, house};
use crate::support::{Page, Person, TestHouse, number};

/// Wednesday 15 April 2026, in degrees Celsius.
async fn plan(seller: &mut Person, address: &str, day: &str, unit: &str, temperatures: [&str; 4]) -> Page {
    let [here_low, here_high, there_low, there_high] = temperatures;
    let fields = [
        ("carrier", "Night van"),
        ("day", day),
        ("unit", unit),
        ("here_low", here_low),
        ("here_high", here_high),
        ("there_low", there_low),
        ("there_high", there_high),
    ];
    seller.submit(&format!("{address}/journey"), &fields).await
}

async fn draft(house: &TestHouse, seller: &mut Person) -> String {
    let address = begin(seller).await;
    let animal = stock::animal(house, CALM).await;
    add_animal(house, seller, &address, animal).await;
    address
}

/// A handover of one animal and ten spiderlings, sent; gives its address.
async fn sent(house: &TestHouse, seller: &mut Person) -> String {
    let address = draft(house, seller).await;
    let cohort = stock::cohort(house, CALM, 30).await;
    stock::add_lot(seller, &address, cohort, "10").await;
    plan(seller, &address, "2026-04-15", "c", ["8", "20", "12", "22"]).await.sent_to();
    hand_over(seller, &address, "").await.sent_to()
}

#[tokio::test]
async fn cold_at_either_end_stops_it_and_only_a_leads_reason_lets_it_go() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = draft(&house, &mut seller).await;
    plan(&mut seller, &address, "2026-04-15", "f", ["48", "60.5", "40", "70"]).await.sent_to();
    let page = seller.get(&address).await.ok();
    page.says("Stops it: 40.0 °F (4.4 °C) forecast at the other end; no dispatch below 5.0 °C")
        .says("A heat pack, never touching the vial");
    hand_over(&mut seller, &address, "").await.is(422).says("The journey: 40.0 °F (4.4 °C)");
    hand_over(&mut seller, &address, "it will be fine").await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper").await, 0);
    let mut lead = house.person("Ada", "lead").await;
    hand_over(&mut lead, &address, "insulated box, carrier holds it at the depot").await.sent_to();
    lead.get(&address).await.ok().says("against the readiness check: insulated box");
}

#[tokio::test]
async fn within_the_limits_it_goes_without_a_word() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = draft(&house, &mut seller).await;
    plan(&mut seller, &address, "2026-04-15", "f", ["41", "86", "50", "70"]).await.sent_to();
    hand_over(&mut seller, &address, "").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover WHERE way = 'dispatch' AND override_reason = ''").await, 1);
    seller.get("/dispatch").await.ok().says("Night van").says("Enter how handover 1 arrived");
}

#[tokio::test]
async fn it_goes_on_its_planned_day_and_on_a_day_of_dispatch() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = draft(&house, &mut seller).await;
    plan(&mut seller, &address, "2026-04-16", "c", ["10", "20", "10", "20"]).await.sent_to();
    seller.get(&address).await.ok().says("16 April 2026 is a Thursday").says("its forecast is not today's");
    hand_over(&mut seller, &address, "").await.is(422).says("Thursday");
    let mut lead = house.person("Ada", "lead").await;
    let rules = [
        ("lowest", "5"),
        ("highest", "30"),
        ("pack_below", "10"),
        ("pack_judge", "15"),
        ("weekday", "3"),
        ("claim_hours", "2"),
        ("return_hold_days", "30"),
        ("outing_hold_days", "10"),
        ("version", "1"),
    ];
    lead.submit("/dispatch/rules", &rules).await.sent_to();
    lead.submit("/dispatch/rules", &rules).await.is(409);
    house.set_clock("2026-04-16T10:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    hand_over(&mut seller, &address, "").await.sent_to();
}

#[tokio::test]
async fn what_was_fed_yesterday_is_collected_but_not_sent() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = draft(&house, &mut seller).await;
    let meal = silkward::animals::model::NewMeal {
        day: stock::day("2026-04-14"),
        prey: "one cricket".to_owned(),
        outcome: silkward::reckoning::words::MealOutcome::Took,
        signoff: None,
    };
    let mut write = house.app.write(None).await.unwrap();
    silkward::animals::store::record_meal(&mut write, silkward::house::ids::AnimalId(1), &meal).await.unwrap();
    write.commit(silkward::house::audit::Change::new("test.fed", "animal", ""), "/").await.unwrap();
    plan(&mut seller, &address, "2026-04-15", "c", ["10", "20", "10", "20"]).await.sent_to();
    seller.get(&address).await.ok().says("Stops it: fed on 14 April 2026; not sent before 17 April 2026");
    hand_over(&mut seller, &address, "").await.is(422);
    seller.submit_at(&address, &format!("{address}/collect"), &[]).await.sent_to();
    seller.get(&address).await.ok().says("Mind: fed on 14 April 2026; better not sent").lacks("Stops it");
    hand_over(&mut seller, &address, "").await.sent_to();
}

#[tokio::test]
async fn the_database_holds_to_the_rule_by_itself() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = draft(&house, &mut seller).await;
    plan(&mut seller, &address, "2026-04-15", "c", ["4.9", "20", "10", "20"]).await.sent_to();
    let writer = &house.app.database.writer;
    let close = "UPDATE handover SET state = 'done', day = '2026-04-15', done_at = '2026-04-15T12:00:00+00:00', done_by = 1";
    sqlx::raw_sql("DROP TRIGGER handover_done_is_whole").execute(writer).await.unwrap();
    let refused = sqlx::query(close).execute(writer).await.unwrap_err().to_string();
    assert!(refused.contains("temperature and day"), "{refused}");
    sqlx::query("INSERT INTO journey (handover_id, carrier, day, unit, here_low, here_high, there_low, there_high, at) VALUES (1, 'x', '2026-04-15', 'f', 410, 861, 410, 800, 'now')")
        .execute(writer).await.unwrap();
    assert!(sqlx::query(close).execute(writer).await.is_err(), "86.1 °F is above 30 °C");
    sqlx::query("INSERT INTO journey (handover_id, carrier, day, unit, here_low, here_high, there_low, there_high, at) VALUES (1, 'x', '2026-04-15', 'f', 410, 860, 410, 860, 'now')")
        .execute(writer).await.unwrap();
    sqlx::query(close).execute(writer).await.unwrap();
    for change in ["UPDATE journey SET here_low = 0", "DELETE FROM journey"] {
        assert!(sqlx::query(change).execute(writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn a_journey_is_typed_whole() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = draft(&house, &mut seller).await;
    let again = plan(&mut seller, &address, "2026-04-14", "k", ["", "hot", "12", "8"]).await.is(422);
    assert_eq!(again.value("#here_high"), "hot");
    again.says("Enter the forecast").says("highest is below the lowest").says("Choose one of the list");
    plan(&mut seller, &address, "2026-04-15", "c", ["10", "20", "10", "100"]).await.is(422);
    plan(&mut seller, &address, "2026-04-15", "c", ["10", "1e3", "10", "20"]).await.is(422);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM journey").await, 0);
    let mut seller2 = house.person("Dee", "counter").await;
    seller2.get("/dispatch/rules").await.is(403);
    let mut lead = house.person("Ada", "lead").await;
    let bad = [("lowest", "31"), ("highest", "30"), ("pack_below", "16"), ("pack_judge", "15"), ("claim_hours", "0"), ("version", "1")];
    let again = lead.submit("/dispatch/rules", &bad).await.is(422);
    assert_eq!(again.count(".mistakes li"), 6);
}

#[tokio::test]
async fn an_arrival_is_told_line_by_line_and_corrected_by_a_later_entry() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = sent(&house, &mut seller).await;
    house.set_clock("2026-04-16T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    let to = format!("{address}/arrival");
    let told = |alive: &'static str, dead: &'static str, claim: &'static str| {
        vec![
            ("day", "2026-04-16"),
            ("hour", "09:00"),
            ("claim_day", if claim.is_empty() { "" } else { "2026-04-16" }),
            ("claim_hour", claim),
            ("line", "1"),
            ("alive", "1"),
            ("injured", "0"),
            ("dead", "0"),
            ("line", "2"),
            ("alive", alive),
            ("injured", "1"),
            ("dead", dead),
        ]
    };
    let again = seller.submit(&to, &told("8", "2", "")).await.is(422).says("10 were sent, 11 are told of");
    assert_eq!(again.value("#alive-2"), "8");
    let mut first = told("8", "1", "10:30");
    first.push(("seen", ""));
    seller.submit(&to, &first).await.sent_to();
    seller.get(&address).await.ok().says("8 alive and sound, 1 injured, 1 dead").says("within the 2 hours");
    seller.submit(&to, &first).await.is(409).says("since you opened the page");
    let mut second = told("9", "0", "11:30");
    second.push(("seen", "1"));
    seller.submit(&to, &second).await.sent_to();
    seller.get(&address).await.ok().says("9 alive and sound, 1 injured, 0 dead").says("after the 2 hours");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM arrival").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM arrival_standing").await, 1);
    seller.get("/dispatch").await.ok().lacks("Enter how handover");
    let early = [("day", "2026-04-15"), ("hour", "09:00"), ("seen", "2"), ("line", "1"), ("alive", "1"), ("injured", "0"), ("dead", "0")];
    seller.submit(&to, &early).await.is(422).says("before it was handed to the carrier");
    let writer = &house.app.database.writer;
    for change in ["UPDATE arrival SET note = 'x'", "DELETE FROM arrival_line", "UPDATE arrival_line SET dead = 5"] {
        assert!(sqlx::query(change).execute(writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn what_was_collected_does_not_arrive_and_the_trail_names_nobody() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let fields = [("day", "2026-04-15"), ("hour", "00:30"), ("line", "1"), ("alive", "1"), ("injured", "0"), ("dead", "0")];
    seller.submit(&format!("{address}/arrival"), &fields).await.is(409).says("was not sent");
    sent(&house, &mut seller).await;
    let trail: Vec<String> =
        sqlx::query_scalar("SELECT subject || before || after FROM audit").fetch_all(&house.app.database.writer).await.unwrap();
    assert!(BUYER.iter().all(|canary| !trail.join("\n").contains(canary)));
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/dispatch").await.is(403);
}
