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
    let mut keeper = house.person("Bo", "keeper").await;
    let (csrf, once) = keeper.get("/rooms").await.ok().tokens();
    for path in ["/handovers", "/handovers/new", &address, &draft, &format!("{address}/papers"), "/buyers/1", "/buyers/1/edit", "/papers/1"]
    {
        keeper.get(path).await.is(403);
    }
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("tag", "x")];
    for path in ["animals", "lots", "lines/1/remove", "hand-over", "cancel"] {
        keeper.post_raw(&format!("{draft}/{path}"), &form).await.is(403);
    }
    for path in ["/papers/1/revoke", "/papers/1/link", "/buyers/1/edit", "/handovers/new"] {
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

#[tokio::test]
async fn a_visitor_is_sent_to_sign_in() {
    let house = house().await;
    let mut visitor = house.visitor();
    assert!(visitor.get("/handovers").await.sent_to().starts_with("/sign-in"));
    assert!(visitor.get("/papers/1").await.sent_to().starts_with("/sign-in"));
}
