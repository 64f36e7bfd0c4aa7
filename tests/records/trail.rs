//! The page of the audit trail.

use silkward::house::audit::Change;

use crate::support::TestHouse;

#[tokio::test]
async fn the_trail_is_read_newest_first_page_by_page_and_by_subject() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    for number in 1..=150 {
        let write = house.app.write(Some(lead.id())).await.unwrap();
        let change = Change::new("test.made", format!("cohort {number}"), format!("after <{number}>")).from("before");
        write.commit(change, "/").await.unwrap();
    }
    let newest = lead.get("/records/audit").await.ok().says("There are 150 rows").says("A chain alone can’t show");
    assert_eq!(newest.count("tbody tr"), 100);
    let words = newest.words();
    assert!(words.find("after <150>").unwrap() < words.find("after <149>").unwrap());
    let older = newest.attribute("main p a.button", "href");
    assert_eq!(older, "/records/audit?upto=50&subject=");
    let rest = lead.get(&older).await.ok().says("after <1>");
    assert_eq!(rest.count("tbody tr"), 50);
    assert_eq!(rest.count("main p a.button"), 0);
    let one = lead.get("/records/audit?subject=cohort+7").await.ok().says("after <7>");
    assert_eq!(one.count("tbody tr"), 1);
    lead.get("/records/audit?upto=soon").await.is(400);
    house.person("Bo", "keeper counter").await.get("/records/audit").await.is(403);
}
