//! Buyers' names, contacts and addresses are for those who hand animals over, and for nobody else.

use silkward::house::access::{May, Verb};
use silkward::house::router;

use super::stock::{self, BUYER, house};

#[tokio::test]
async fn a_keeper_is_refused_everywhere_and_sees_no_buyer_on_any_page() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let draft = stock::begin(&mut seller).await;
    let mut owner = house.person("Ada", "owner").await;
    let tag = stock::tag(&house, silkward::house::ids::AnimalId(1)).await;
    let fields = [("of", tag.as_str()), ("reason", "other"), ("words", "Something."), ("step", "record")];
    let recall = owner.submit("/recall/new", &fields).await.sent_to();
    owner.submit_at(&recall, &format!("{recall}/letters"), &[]).await.sent_to();
    for canary in &BUYER[..1] {
        seller.get(&recall).await.ok().says(canary);
        seller.get("/papers/2").await.ok().says(canary);
    }
    let mut keeper = house.person("Bo", "keeper").await;
    let (csrf, once) = keeper.get("/rooms").await.ok().tokens();
    for path in ["/handovers", "/handovers/new", &address, &draft, &format!("{address}/papers"), "/buyers/1", "/buyers/1/edit", "/papers/1"]
        .into_iter()
        .chain(["/buyers", "/buyers?q=quill", "/buyers/new", "/buyers/data", "/buyers/rule", "/buyers/1/data.json", "/buyers/1/data.csv"])
        .chain(["/buyers/1/erase", "/buyers/1/keep", "/recall", "/recall/new", "/recall/1", "/papers/2"])
    {
        keeper.get(path).await.is(403);
    }
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("tag", "x")];
    for path in ["animals", "lots", "lines/1/remove", "hand-over", "cancel"] {
        keeper.post_raw(&format!("{draft}/{path}"), &form).await.is(403);
    }
    for path in ["/papers/1/revoke", "/papers/1/link", "/buyers/1/edit", "/handovers/new", "/buyers/new", "/buyers/rule", "/buyers/1/erase"]
        .into_iter()
        .chain(["/buyers/1/keep", "/recall/new", "/recall/1/letters", "/recall/1/buyers/1"])
    {
        keeper.post_raw(path, &form).await.is(403);
    }
    for route in router::all_routes().listed().iter().filter(|route| route.method == Verb::Get && route.may != May::Sell) {
        let parts: Vec<&str> = route.path.split('/').map(|part| if part.starts_with('{') { "1" } else { part }).collect();
        let page = keeper.get(&parts.join("/")).await;
        let text = String::from_utf8_lossy(&page.bytes);
        for canary in BUYER {
            assert!(!text.contains(canary), "{} shows {canary}", route.path);
        }
    }
}

/// The trail is read by leads, and the files of an export by whoever has the folder: both name buyers by number only.
#[tokio::test]
async fn neither_the_trail_nor_the_export_names_a_buyer() {
    let house = house().await;
    let mut owner = house.person("Ada", "owner").await;
    let [name, contact, address] = BUYER;
    let buyer = stock::buyer(&mut owner, name, contact, address).await;
    let animal = stock::animal(&house, stock::CALM).await;
    stock::hand_to(&house, &mut owner, buyer, "canary-0199-555 wants a box", &[animal], &[]).await;
    let edit = format!("/buyers/{buyer}/edit");
    owner.submit(&edit, &[("name", name), ("contact", contact), ("address", address), ("version", "1")]).await.sent_to();
    let keep = [("keep", "yes"), ("until", "2026-04-20"), ("reason", "canary-0199-555"), ("version", "2")];
    owner.submit(&format!("/buyers/{buyer}/keep"), &keep).await.sent_to();
    let tag = stock::tag(&house, animal).await;
    let fields = [("of", tag.as_str()), ("reason", "other"), ("words", "Something."), ("step", "record")];
    let recall = owner.submit("/recall/new", &fields).await.sent_to();
    owner.submit_at(&recall, &format!("{recall}/letters"), &[]).await.sent_to();
    let outcome = [("what", "reached"), ("note", "canary-0199-555")];
    owner.submit_at(&recall, &format!("{recall}/buyers/{buyer}"), &outcome).await.sent_to();
    let trail: Vec<String> =
        sqlx::query_scalar("SELECT action || subject || before || after FROM audit").fetch_all(&house.app.database.reader).await.unwrap();
    assert!(trail.iter().any(|row| row.contains("recall.outcome")));
    let folder = tempfile::tempdir().unwrap();
    silkward::records::export::write_all(&house.app, &folder.path().join("out")).await.unwrap();
    let files = std::fs::read_dir(folder.path().join("out")).unwrap().map(|file| std::fs::read_to_string(file.unwrap().path()).unwrap());
    for text in trail.into_iter().chain(files) {
        for canary in BUYER {
            assert!(!text.contains(canary), "{canary} in {text}");
        }
    }
}

#[tokio::test]
async fn a_visitor_is_sent_to_sign_in() {
    let house = house().await;
    let mut visitor = house.visitor();
    assert!(visitor.get("/handovers").await.sent_to().starts_with("/sign-in"));
    assert!(visitor.get("/papers/1").await.sent_to().starts_with("/sign-in"));
}
