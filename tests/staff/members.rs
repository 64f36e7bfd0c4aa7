//! What owners do with members and the settings.

use super::{GOOD, give_phrase};
use crate::support::{TestHouse, number};

#[tokio::test]
async fn only_owners_see_the_staff() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    let mut lead = house.person("Bo", "lead keeper counter").await;
    lead.get("/staff").await.is(403);
    owner.get("/staff").await.ok().says("Ada").says("Bo").says("lead, keeper, counter");
}

#[tokio::test]
async fn changed_roles_count_at_the_next_request() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    let mut lead = house.person("Bo", "lead").await;
    let form = lead.get("/rooms/new").await.ok().tokens();
    let page = format!("/staff/{}", lead.id());
    owner.submit_at(&page, &format!("{page}/roles"), &[("keeper", "yes"), ("version", "1")]).await.sent_to();
    owner.get(&page).await.ok().says("Bo now has: keeper.");
    lead.get("/rooms/new").await.is(403);
    let fields = [("csrf", form.0.as_str()), ("once", form.1.as_str()), ("name", "Room"), ("walk_order", "1")];
    lead.post_raw("/rooms/new", &fields).await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM room").await, 0);
    owner.submit_at(&page, &format!("{page}/roles"), &[("lead", "yes"), ("version", "1")]).await.is(409).says("Somebody else changed");
}

#[tokio::test]
async fn a_disabled_member_is_out_at_once_and_can_be_let_in_again() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    let mut bo = house.person("Bo", "keeper").await;
    give_phrase(&house, bo.id()).await;
    let page = format!("/staff/{}", bo.id());
    owner.submit_at(&page, &format!("{page}/disable"), &[("version", "1")]).await.sent_to();
    bo.get("/rooms").await.is(303);
    let sign_in = [("sign_in_name", "bo"), ("pass_phrase", GOOD), ("next", "/")];
    house.visitor().submit("/sign-in", &sign_in).await.is(422);
    owner.submit_at(&page, &format!("{page}/reset-link"), &[]).await.is(409);
    owner.submit_at(&page, &format!("{page}/enable"), &[("version", "2")]).await.sent_to();
    house.visitor().submit("/sign-in", &sign_in).await.sent_to();
}

#[tokio::test]
async fn the_last_owner_stays_one() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    let page = format!("/staff/{}", owner.id());
    owner.submit_at(&page, &format!("{page}/disable"), &[("version", "1")]).await.is(409).says("This is the last owner.");
    owner.submit_at(&page, &format!("{page}/roles"), &[("keeper", "yes"), ("version", "1")]).await.is(409).says("This is the last owner.");
    owner.get("/staff").await.ok();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 0);
    let other = house.person("Bo", "owner").await;
    owner.submit_at(&page, &format!("{page}/roles"), &[("keeper", "yes"), ("version", "1")]).await.sent_to();
    owner.get("/staff").await.is(403);
    drop(other);
}

#[tokio::test]
async fn the_host_can_make_an_owner() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    let mut write = house.app.write(None).await.unwrap();
    silkward::staff::store::make_owner(&mut write, bo.id()).await.unwrap();
    let change = silkward::house::audit::Change::new("member.made_owner", format!("member {}", bo.id()), "owner, by the host");
    write.commit(change, "/").await.unwrap();
    bo.get("/staff").await.ok();
}

#[tokio::test]
async fn settings_are_checked_and_a_stale_page_keeps_what_was_typed() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    let new = [
        ("name", "Fern Lane"),
        ("address", "1 Fern Lane"),
        ("zone", "Europe/London"),
        ("emergency", "Ambulance 112\r\nHouse 01 23"),
        ("agitated_open_hours", "36"),
        ("agitated_hands_in_days", "4"),
        ("version", "1"),
    ];
    owner.submit("/staff/site", &new).await.sent_to();
    assert_eq!(house.app.site().name, "Fern Lane");
    assert_eq!(house.app.site().zone.name(), "Europe/London");
    let mut stale = new;
    stale[0] = ("name", "Other Lane");
    let again = owner.submit("/staff/site", &stale).await.is(422).says("Somebody else changed the settings meanwhile.");
    assert_eq!(again.value("#name"), "Other Lane");
    assert_eq!(again.value("input[name=version]"), "2");
    stale[2] = ("zone", "Mars/Olympus");
    stale[4] = ("agitated_open_hours", "169");
    owner.submit("/staff/site", &stale).await.is(422).says("Choose one of the list.").says("Enter a whole number from 1 to 168.");
    assert_eq!(house.app.site().name, "Fern Lane");
}
