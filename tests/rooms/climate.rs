//! Readings of a rack's climate: noted, shown, struck out.

use crate::support::{TestHouse, number};

async fn house_with_two_racks() -> TestHouse {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    lead.submit("/rooms/new", &[("name", "Quiet room"), ("walk_order", "1")]).await.sent_to();
    for rack in ["Ash", "Birch"] {
        lead.submit("/rooms/1/racks/new", &[("name", rack), ("walk_order", "1"), ("shelves", "2")]).await.sent_to();
    }
    house
}

fn typed<'a>(celsius: &'a str, humidity: &'a str, time: &'a str) -> [(&'a str, &'a str); 4] {
    [("celsius", celsius), ("humidity", humidity), ("day", "2026-04-15"), ("time", time)]
}

#[tokio::test]
async fn a_keeper_notes_a_reading_and_sees_it_on_the_rack() {
    let house = house_with_two_racks().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let shown = keeper.get("/racks/1/read").await.ok();
    assert_eq!(shown.value("#day"), "2026-04-15", "the form comes filled with now");
    assert_eq!(keeper.submit("/racks/1/read", &typed("24,5", "70", "08:30")).await.sent_to(), "/racks/1");
    keeper.get("/racks/1").await.ok().says("24.5 °C").says("70 %");
    keeper.get("/racks/2").await.ok().lacks("24.5 °C");
}

#[tokio::test]
async fn a_reading_of_the_room_stands_for_each_of_its_racks() {
    let house = house_with_two_racks().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let mut fields = typed("23", "", "08:30").to_vec();
    fields.push(("whole_room", "yes"));
    keeper.submit("/racks/1/read", &fields).await.sent_to();
    keeper.get("/racks/2").await.ok().says("23.0 °C");
}

#[tokio::test]
async fn nonsense_is_named_and_nothing_typed_is_lost() {
    let house = house_with_two_racks().await;
    let mut keeper = house.person("Bo", "keeper").await;
    for (celsius, humidity, time, field) in [
        ("", "", "08:30", "celsius"),
        ("24.55", "", "08:30", "celsius"),
        ("999", "", "08:30", "celsius"),
        ("24", "0", "08:30", "humidity"),
        ("24", "140", "08:30", "humidity"),
        ("24", "70", "8 o'clock", "time"),
        ("24", "70", "23:59", "time"),
    ] {
        let again = keeper.submit("/racks/1/read", &typed(celsius, humidity, time)).await.is(422);
        assert!(again.text().contains(&format!("{field}-error")), "{celsius} {humidity} {time}");
        assert_eq!(again.value("#celsius"), celsius);
        assert_eq!(again.value("#time"), time);
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM climate_reading").await, 0);
}

#[tokio::test]
async fn a_slip_is_struck_out_and_stays_in_the_book() {
    let house = house_with_two_racks().await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.submit("/racks/1/read", &typed("42.0", "", "08:30")).await.sent_to();
    keeper.submit_at("/racks/1", "/racks/1/readings/1/struck", &[]).await.sent_to();
    keeper.get("/racks/1").await.ok().says("no longer counts");
    keeper.get("/racks/1").await.ok().lacks("42.0 °C");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM climate_reading").await, 2);
    keeper.submit_at("/racks/1", "/racks/1/readings/1/struck", &[]).await.is(404);
    let changed = sqlx::query("UPDATE climate_reading SET decicelsius = 1").execute(&house.app.database.writer).await;
    assert!(changed.is_err(), "a reading is never changed");
}

#[tokio::test]
async fn a_rack_that_is_out_of_range_says_since_when_and_for_whom() {
    let house = crate::rounds::stock::house().await;
    crate::rounds::stock::animal(&house, crate::rounds::stock::CALM, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.submit("/racks/1/read", &typed("24", "58", "08:00")).await.sent_to();
    let page = keeper.get("/racks/1").await.ok().says("Brachypelma hamorii").lacks("Too cold");
    assert_eq!(page.count("#temperature > svg") + page.count("#humidity > svg"), 2);
    keeper.submit("/racks/1/read", &typed("15.5", "58", "08:30")).await.sent_to();
    keeper.get("/racks/1").await.ok().says("Too cold since 15 April 2026");
    house.person("Ada", "lead").await.get("/today").await.ok().says("Racks out of range").says("Too cold since 15 April 2026");
    let file = keeper.get("/racks/1/temperature.csv").await.ok();
    assert!(file.text().contains("15.5"));
}
