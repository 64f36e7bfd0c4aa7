//! The risk table may be tightened and never loosened.

use super::stock::{RISKY, animal, asked, duty, house, plan, refused};
use crate::support::number;

#[tokio::test]
async fn a_lead_tightens_it_and_every_open_duty_follows() {
    let house = house().await;
    let id = animal(&house, RISKY).await;
    plan(&house).await;
    let water = duty(&house, id, "feed").await;
    assert_eq!(asked(&house, water).await, (3, 2, 1));
    let mut lead = house.person("Ada", "lead").await;
    let there = lead.submit("/handling/table/3/open", &[("clearance", "3"), ("persons", "2")]).await.sent_to();
    assert_eq!(there, "/handling/table");
    lead.get(&there).await.ok().says("clearance 3, 2 people tightened").says("clearance 2, 1 person");
    assert_eq!(asked(&house, water).await, (3, 3, 2));
    // Back to the default: the house's own rule is gone, and the duties follow again.
    lead.submit("/handling/table/3/open", &[("clearance", "2"), ("persons", "1")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM exposure_rule").await, 0);
    assert_eq!(asked(&house, water).await, (3, 2, 1));
}

#[tokio::test]
async fn looser_than_the_default_is_refused_with_why() {
    let house = house().await;
    let mut owner = house.person("Ada", "owner").await;
    let again = owner.submit("/handling/table/3/hands-in", &[("clearance", "2"), ("persons", "2")]).await.is(422);
    let again = again.says("needs at least clearance 3 and 2 person(s)");
    assert!(again.text().contains("clearance-error"));
    assert_eq!(again.value("#clearance option[selected]"), "2");
    let again = owner.submit("/handling/table/3/hands-in", &[("clearance", "3"), ("persons", "1")]).await.is(422);
    assert!(again.text().contains("persons-error"));
    for bad in [("", ""), ("four", "1"), ("4", "3"), ("-1", "0"), ("99999999999999999999", "2")] {
        owner.submit("/handling/table/3/hands-in", &[("clearance", bad.0), ("persons", bad.1)]).await.is(422);
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM exposure_rule").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action LIKE 'risk-table%'").await, 0);
}

#[tokio::test]
async fn the_database_refuses_a_looser_rule_by_itself() {
    let house = house().await;
    let loose = refused(&house, "INSERT INTO exposure_rule (band, exposure, clearance, persons) VALUES (3, 'hands-in', 2, 2)").await;
    assert!(loose.contains("never loosened"), "{loose}");
    sqlx::query("INSERT INTO exposure_rule (band, exposure, clearance, persons) VALUES (2, 'open', 3, 2)")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    refused(&house, "UPDATE exposure_rule SET clearance = 0").await;
    // A row can't slip under another cell's default either.
    refused(&house, "UPDATE exposure_rule SET band = 3, exposure = 'hands-in', persons = 1").await;
    refused(&house, "INSERT INTO exposure_rule (band, exposure, clearance, persons) VALUES (2, 'look', 0, 3)").await;
    refused(&house, "UPDATE exposure_default SET clearance = 0").await;
    refused(&house, "DELETE FROM exposure_default").await;
    refused(&house, "INSERT OR REPLACE INTO exposure_default (band, exposure, clearance, persons) VALUES (3, 'hands-in', 0, 1)").await;
}

#[tokio::test]
async fn every_table_that_can_be_entered_asks_at_least_the_default() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    for band in 0..=3 {
        for exposure in ["look", "open", "hands-in"] {
            for (clearance, persons) in [("0", "1"), ("1", "1"), ("2", "2"), ("3", "1")] {
                let path = format!("/handling/table/{band}/{exposure}");
                let answer = lead.submit(&path, &[("clearance", clearance), ("persons", persons)]).await;
                assert!([303, 422].contains(&answer.status.as_u16()), "{path}: {}", answer.status);
            }
        }
    }
    let looser = "SELECT COUNT(*) FROM exposure_rule AS r JOIN exposure_default AS d USING (band, exposure)
                  WHERE r.clearance < d.clearance OR r.persons < d.persons";
    assert_eq!(number(&house, looser).await, 0);
    for row in silkward::handling::store::table_rows(&mut house.app.read().await.unwrap()).await.unwrap() {
        assert!(row.asked.clearance >= row.least.clearance && row.asked.persons >= row.least.persons);
    }
}

#[tokio::test]
async fn only_leads_and_owners_change_it_and_only_cells_that_exist() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/handling/table").await.ok().lacks("Change");
    keeper.get("/handling/table/3/open").await.is(403);
    let (csrf, once) = keeper.get("/handling/table").await.ok().tokens();
    let forged = [("csrf", csrf.as_str()), ("once", once.as_str()), ("clearance", "3"), ("persons", "2")];
    keeper.post_raw("/handling/table/3/open", &forged).await.is(403);
    let mut lead = house.person("Ada", "lead").await;
    for path in ["/handling/table/4/open", "/handling/table/3/near", "/handling/table/x/open", "/handling/table/-1/open"] {
        lead.get(path).await.is(404);
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM exposure_rule").await, 0);
}
