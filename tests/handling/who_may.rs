//! Who may do what: the page, the store and the database's triggers say the same of everybody, in every cell.

use scraper::{Html, Selector};
use silkward::handling::model::{Column, IncidentKind, NewIncident};
use silkward::handling::store;
use silkward::house::audit::Change;
use silkward::house::ids::{DutyId, MemberId};
use silkward::reckoning::hazard::{Band, Requirement};
use silkward::reckoning::who_may::Part;
use silkward::reckoning::words::Exposure;
use silkward::rounds;

use super::stock::{CALM, animal, house};
use crate::rounds::stock::clear;
use crate::support::{Person, TestHouse};

/// Everybody that a rule could get wrong.
async fn people(house: &TestHouse) -> Vec<MemberId> {
    let mut people = Vec::new();
    for (name, roles, level, until) in [
        ("Ann", "keeper", 0, ""),
        ("Bo", "keeper", 1, "2027-01-01"),
        ("Cy", "keeper", 2, "2026-04-15"),
        ("Dee", "lead", 3, "2027-01-01"),
        ("Eli", "owner", 0, ""),
        ("Fay", "counter", 3, "2027-01-01"),
        ("Gus", "keeper", 3, "2026-04-14"),
        ("Hal", "keeper", 3, "2027-01-01"),
    ] {
        let id = house.person(name, roles).await.id();
        if level > 0 {
            clear(house, id, level, until).await;
        }
        people.push(id);
    }
    let hal = *people.last().unwrap();
    let mut write = house.app.write(Some(hal)).await.unwrap();
    let incident = NewIncident { kind: IncidentKind::NearMiss, animal: None, cohort: None, duty: None };
    store::record_incident(&mut write, &incident).await.unwrap();
    write.commit(Change::new("incident.recorded", "incident 1", ""), "/").await.unwrap();
    people
}

/// An open duty that asks what a column asks.
async fn duty(house: &TestHouse, column: &Column, animal: i64) -> DutyId {
    let kind = match column.row.exposure {
        Exposure::Look => "moult-check",
        Exposure::Open => "feed",
        Exposure::HandsIn => "rehouse",
    };
    sqlx::query_scalar(
        "INSERT INTO duty (kind, animal_id, due_on, late_after, seconds, exposure, band, clearance, persons, reason, planned_at)
         VALUES (?, ?, '2026-04-15', '2026-04-15', 600, ?, ?, ?, ?, 'a test', '2026-04-15T08:00:00+00:00') RETURNING id",
    )
    .bind(kind)
    .bind(animal)
    .bind(column.row.exposure)
    .bind(column.row.band.level())
    .bind(column.row.asked.clearance)
    .bind(column.row.asked.persons)
    .fetch_one(&house.app.database.writer)
    .await
    .unwrap()
}

/// Whether the database lets somebody have a part of a duty; nothing is kept.
async fn taken(house: &TestHouse, duty: DutyId, part: Part, who: MemberId, first: MemberId) -> bool {
    let mut write = house.app.write(None).await.unwrap();
    let first = if part == Part::First { who } else { first };
    let given = sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = '2026-04-15' WHERE id = ?").bind(first).bind(duty);
    if given.execute(write.db()).await.is_err() {
        return false;
    }
    part == Part::First || sqlx::query("UPDATE duty SET second_to = ? WHERE id = ?").bind(who).bind(duty).execute(write.db()).await.is_ok()
}

fn cell(html: &str, id: &str) -> String {
    let page = Html::parse_document(html);
    let cell = page.select(&Selector::parse(&format!("[id='{id}']")).unwrap()).next().unwrap_or_else(|| panic!("no cell {id}"));
    cell.text().collect::<String>().trim().to_owned()
}

async fn agree_in_every_cell(house: &TestHouse, people: &[MemberId], reader: &mut Person) -> usize {
    let today = house.app.today();
    let mut cells = 0;
    let columns = Column::all(&store::table_rows(&mut house.app.read().await.unwrap()).await.unwrap());
    let shown = reader.get("/handling/who-may").await.ok().text();
    let team = store::team(&mut house.app.read().await.unwrap(), today).await.unwrap();
    let dee = people[3];
    for column in &columns {
        let animal = animal(house, CALM).await;
        let id = duty(house, column, animal.0).await;
        let duty = rounds::store::require(&mut house.app.read().await.unwrap(), id).await.unwrap();
        for who in people {
            // Of the second person, the first is somebody who may; that one can't be second to themselves.
            if column.part == Part::Second && *who == dee {
                continue;
            }
            let rule = column.missing(team.iter().find(|one| one.person.id == *who).unwrap()).is_none();
            let mut db = house.app.read().await.unwrap();
            let store = match column.part {
                Part::First => rounds::store::shortfall(&mut db, *who, &duty, today).await.unwrap(),
                Part::Second => rounds::store::second_shortfall(&mut db, *who, &duty, today).await.unwrap(),
            };
            drop(db);
            let trigger = taken(house, id, column.part, *who, dee).await;
            let page = cell(&shown, &format!("may-{who}-{}", column.code())).starts_with("yes");
            let what = format!("{who} {}: {store:?}", column.code());
            assert_eq!((page, store.is_none(), trigger), (rule, rule, rule), "{what}");
            cells += 1;
        }
    }
    cells
}

#[tokio::test]
async fn the_page_the_store_and_the_triggers_agree_in_every_cell() {
    let house = house().await;
    let people = people(&house).await;
    let mut counter = house.sign_in(people[5]).await;
    assert_eq!(agree_in_every_cell(&house, &people, &mut counter).await, 12 * 8 + 7);
}

#[tokio::test]
async fn they_agree_in_a_house_that_asks_for_more() {
    let house = house().await;
    let people = people(&house).await;
    let mut write = house.app.write(Some(people[3])).await.unwrap();
    for (band, exposure, clearance, persons) in
        [(0, Exposure::Open, 1, 2), (1, Exposure::HandsIn, 1, 2), (2, Exposure::Open, 2, 2), (3, Exposure::Look, 3, 1)]
    {
        store::tighten(&mut write, Band::new(band).unwrap(), exposure, Requirement { clearance, persons }).await.unwrap();
    }
    write.commit(Change::new("risk-table.changed", "table", ""), "/").await.unwrap();
    let mut keeper = house.sign_in(people[0]).await;
    assert_eq!(agree_in_every_cell(&house, &people, &mut keeper).await, 12 * 8 + 4 * 7);
}

#[tokio::test]
async fn cells_say_until_when_and_what_is_missing() {
    let house = house().await;
    let people = people(&house).await;
    let mut bo = house.sign_in(people[1]).await;
    let shown = bo.get("/handling/who-may").await.ok();
    let html = shown.text();
    let of = |who: usize, code: &str| cell(&html, &format!("may-{}-{code}", people[who]));
    assert_eq!(of(3, "3-hands-in-first"), "yes, until 1 Jan 2027");
    assert_eq!(of(1, "3-hands-in-first"), "no: needs clearance 3");
    assert_eq!(of(2, "3-hands-in-second"), "yes, until 15 Apr 2026");
    assert_eq!(of(7, "1-open-first"), "no: rests until a review");
    assert_eq!(of(5, "0-look-first"), "no: not a keeper");
    assert_eq!(of(0, "3-look-first"), "yes");
    shown.says("2 more supervised rehouses of band 2 or above (0 of 2 passed in two years)").says("current text not read");
}
