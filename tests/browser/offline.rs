//! A weak wireless: sign-offs wait in the browser, survive the tab and the browser being killed, and arrive once and in order.

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::time::Duration;

use chrono::{DateTime, Utc};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};

use crate::driver::{Browser, Scripts, free_port};
use crate::served::{PHRASE, Served};

/// How the wireless is.
const THERE: u8 = 0;
/// Nothing gets through.
const GONE: u8 = 1;
/// What is sent arrives, and the answer gets lost on the way.
const DEAF: u8 = 2;

/// The way between the browser and the house.
#[derive(Clone)]
struct Wireless(Arc<AtomicU8>);

impl Wireless {
    fn is(&self, state: u8) {
        self.0.store(state, Ordering::SeqCst);
    }

    fn state(&self) -> u8 {
        self.0.load(Ordering::SeqCst)
    }

    /// Carries what comes to one port to another, for as long as it is there.
    async fn between(listener: TcpListener, to: u16) -> Self {
        let wireless = Self(Arc::new(AtomicU8::new(THERE)));
        let way = wireless.clone();
        tokio::spawn(async move {
            while let Ok((browser, _)) = listener.accept().await {
                if way.state() == GONE {
                    continue;
                }
                let Ok(house) = TcpStream::connect(("127.0.0.1", to)).await else { continue };
                let (from_browser, to_browser) = browser.into_split();
                let (from_house, to_house) = house.into_split();
                tokio::spawn(carry(from_browser, to_house, way.clone(), false));
                tokio::spawn(carry(from_house, to_browser, way.clone(), true));
            }
        });
        wireless
    }
}

async fn carry(mut from: tokio::net::tcp::OwnedReadHalf, mut to: tokio::net::tcp::OwnedWriteHalf, way: Wireless, is_answer: bool) {
    let mut bytes = vec![0; 64 * 1024];
    loop {
        // Looks often whether the wireless is still there, also while nothing is said.
        let read = tokio::time::timeout(Duration::from_millis(50), from.read(&mut bytes)).await;
        let lost = way.state() == GONE || (is_answer && way.state() == DEAF && matches!(read, Ok(Ok(_))));
        match read {
            _ if lost => return,
            Err(_) => {}
            Ok(Ok(0) | Err(_)) => return,
            Ok(Ok(count)) => {
                if to.write_all(&bytes[..count]).await.is_err() {
                    return;
                }
            }
        }
    }
}

async fn house() -> (Served, Wireless) {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
    let public = format!("http://{}", listener.local_addr().unwrap());
    let port = free_port();
    let house = Served::start_behind(&public, port).await;
    (house, Wireless::between(listener, port).await)
}

async fn sign_in(browser: &mut Browser, house: &Served, name: &str) {
    browser.open(&format!("{}/sign-in?next=/round", house.address)).await;
    browser.type_in("#sign_in_name", name).await;
    browser.type_in("#pass_phrase", PHRASE).await;
    browser.tap("main form.sheet button").await;
    browser.says("My round").await;
}

/// Waits until the shell is at hand for when the wireless goes.
async fn ready_for_the_worst(browser: &Browser) {
    let ready = "const done = arguments[arguments.length - 1]; navigator.serviceWorker.ready.then(() => done(true));";
    browser.driver.execute_async(ready, Vec::new()).await.unwrap();
}

/// Signs the feed of one animal on the round as taken.
async fn took(browser: &mut Browser, tag: &str) {
    let vial = format!(
        "//form[contains(@action,'/feed')]//fieldset[contains(@class,'vial')][.//a[contains(@class,'tag')][normalize-space(.)='{tag}']]"
    );
    browser.tap_path(&format!("{vial}//button[@name='only']")).await;
}

async fn tag_of(house: &Served, place: usize) -> String {
    let mut db = house.app.read().await.unwrap();
    silkward::animals::store::require(&mut db, house.feeders[place]).await.unwrap().tag
}

async fn count(house: &Served, query: &'static str) -> i64 {
    sqlx::query_scalar(query).fetch_one(&house.app.database.writer).await.unwrap()
}

async fn comes_to(house: &Served, query: &'static str, expected: i64) {
    for _ in 0..300 {
        if count(house, query).await == expected {
            return;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(count(house, query).await, expected, "{query}");
}

#[tokio::test(flavor = "multi_thread")]
async fn three_signed_without_a_wireless_survive_a_killed_browser_and_arrive_once_in_order_with_both_times() {
    let (house, wireless) = house().await;
    let profile = tempfile::tempdir().unwrap();
    let mut keeper = Browser::start_in(profile.path(), 390, 844, Scripts::On).await;
    sign_in(&mut keeper, &house, "kit").await;
    ready_for_the_worst(&keeper).await;
    let tags = [tag_of(&house, 0).await, tag_of(&house, 1).await, tag_of(&house, 2).await];

    wireless.is(GONE);
    keeper.offline(true).await;
    for (signed, tag) in (1..).zip(&tags) {
        took(&mut keeper, tag).await;
        keeper.says(&format!("Waiting to send ({signed})")).await;
        keeper.says(&format!("Waiting to send: Feed {tag}: Took it")).await;
    }
    keeper.says("It is not written yet.").await;
    keeper.picture("offline-waiting").await;
    assert_eq!(count(&house, "SELECT COUNT(*) FROM signoff").await, 0);

    // The tab is closed; what opens in its place without a wireless says what waits.
    let old = keeper.driver.window().await.unwrap();
    let new = keeper.driver.new_tab().await.unwrap();
    keeper.driver.switch_to_window(old).await.unwrap();
    keeper.driver.close_window().await.unwrap();
    keeper.driver.switch_to_window(new).await.unwrap();
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.says("No wireless").await;
    keeper.says("Waiting to send (3)").await;
    for tag in &tags {
        keeper.says(&format!("Feed {tag}: Took it")).await;
    }
    keeper.picture("offline-shell").await;
    keeper.kill();

    // Later, with the wireless back, on a browser that was started anew: the sign-in is gone, what waits is not.
    house.app.clock.set("2026-04-15T09:26:00Z".parse().unwrap());
    wireless.is(THERE);
    let mut keeper = Browser::start_in(profile.path(), 390, 844, Scripts::On).await;
    sign_in(&mut keeper, &house, "kit").await;
    keeper.says("3 of what waited are written.").await;
    keeper.tap("details.just-written summary").await;
    keeper.says("(reached the book 09:26)").await;
    keeper.picture("offline-arrived").await;
    comes_to(&house, "SELECT COUNT(*) FROM signoff WHERE entered = 'queued'", 3).await;
    let rows: Vec<(String, DateTime<Utc>, DateTime<Utc>)> = sqlx::query_as(
        "SELECT duty_now.label, signoff.made_at, signoff.at FROM signoff JOIN duty_now ON duty_now.id = signoff.duty_id ORDER BY signoff.id",
    )
    .fetch_all(&house.app.database.writer)
    .await
    .unwrap();
    assert_eq!(rows.iter().map(|(tag, ..)| tag.as_str()).collect::<Vec<_>>(), tags.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(rows.iter().all(|(_, made, at)| made < at), "{rows:?}");
    assert!(rows.windows(2).all(|two| two[0].1 <= two[1].1), "{rows:?}");
    // Nothing is sent again.
    keeper.open(&format!("{}/round", house.address)).await;
    keeper.says("My round").await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    assert_eq!(count(&house, "SELECT COUNT(*) FROM signoff").await, 3);
    assert_eq!(count(&house, "SELECT COUNT(*) FROM meal_standing WHERE day = '2026-04-15'").await, 3);
    keeper.end().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn who_was_faster_meanwhile_is_told_and_kept_and_a_lost_answer_writes_nothing_twice() {
    let (house, wireless) = house().await;
    let mut keeper = Browser::start(390, 844, Scripts::On).await;
    sign_in(&mut keeper, &house, "kit").await;
    let (lost, contested) = (tag_of(&house, 0).await, tag_of(&house, 1).await);

    // The first reaches the book, and its answer gets lost: the browser can't know.
    wireless.is(DEAF);
    took(&mut keeper, &lost).await;
    keeper.says("Waiting to send (1)").await;
    comes_to(&house, "SELECT COUNT(*) FROM signoff", 1).await;
    wireless.is(GONE);
    took(&mut keeper, &contested).await;
    keeper.says("Waiting to send (2)").await;

    // What waits has left the rack's own button: neither is signed twice.
    let listed = "return document.querySelectorAll(\"form[action='/round/racks/1/feed'] input[name=duty]\").length";
    let left: i64 = keeper.driver.execute(listed, Vec::new()).await.unwrap().convert().unwrap();
    let open = count(
        &house,
        "SELECT COUNT(*) FROM duty WHERE kind = 'feed' AND (state = 'open' OR EXISTS (SELECT 1 FROM signoff WHERE duty_id = duty.id))",
    )
    .await;
    assert_eq!(left, open - 2);

    // Meanwhile a colleague feeds the second.
    let (lena, duty): (i64, i64) = sqlx::query_as(
        "SELECT (SELECT id FROM member WHERE name = 'Lena'), (SELECT id FROM duty WHERE kind = 'feed' AND state = 'open' AND animal_id = ?)",
    )
    .bind(house.feeders[1])
    .fetch_one(&house.app.database.writer)
    .await
    .unwrap();
    let mut write = house.app.write(Some(silkward::house::ids::MemberId(lena))).await.unwrap();
    let new = silkward::rounds::model::NewSignoff::plain(silkward::house::ids::DutyId(duty), silkward::rounds::model::Outcome::Took);
    silkward::rounds::store::sign_off(&mut write, &new).await.unwrap();
    write.commit(silkward::house::audit::Change::new("duty.signed", "duty", "Lena"), "/round").await.unwrap();

    wireless.is(THERE);
    keeper.driver.execute("window.dispatchEvent(new Event('online'))", Vec::new()).await.unwrap();
    keeper.says("1 of what waited is written.").await;
    keeper.says("was already done by Lena").await;
    keeper.says("Do not feed again.").await;
    keeper.picture("offline-conflict").await;
    comes_to(&house, "SELECT COUNT(*) FROM queue_refusal WHERE settled_at IS NULL", 1).await;
    assert_eq!(count(&house, "SELECT COUNT(*) FROM signoff").await, 2);
    keeper.open(&format!("{}/round/waiting", house.address)).await;
    keeper.says("Do not feed again.").await;
    keeper.picture("not-written").await;
    keeper.tap_words("main", "Nothing to add").await;
    keeper.says("Nothing is left to settle.").await;
    keeper.end().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn hands_in_and_threats_find_no_way_to_wait() {
    let (house, wireless) = house().await;
    let mut keeper = Browser::start(390, 844, Scripts::On).await;
    sign_in(&mut keeper, &house, "kit").await;
    let rehouse = count(&house, "SELECT id FROM duty WHERE kind = 'rehouse' AND state = 'open' AND exposure = 'hands-in'").await;
    keeper.open(&format!("{}/round/duties/{rehouse}", house.address)).await;
    keeper.type_in("#length_mm", "400").await;
    wireless.is(GONE);
    keeper.offline(true).await;
    keeper.tap_words("main form.sheet", "Done").await;
    keeper.says("this needs a live answer, so it can't wait here. It is NOT saved").await;
    assert_eq!(keeper.find("#length_mm").await.value().await.unwrap().unwrap(), "400");
    keeper.picture("offline-hands-in").await;
    wireless.is(THERE);
    keeper.offline(false).await;
    let feed = count(&house, "SELECT id FROM duty WHERE kind = 'feed' AND state = 'open' AND animal_id IS NOT NULL LIMIT 1").await;
    keeper.open(&format!("{}/round/duties/{feed}", house.address)).await;
    keeper.says("Something else").await;
    wireless.is(GONE);
    keeper.offline(true).await;
    keeper.tap("button[value=threat]").await;
    keeper.says("A threat sets holds that others rely on").await;
    assert!(!keeper.words().await.contains("Waiting to send"));
    wireless.is(THERE);
    keeper.offline(false).await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    assert_eq!(count(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    keeper.end().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_waits_is_sent_by_its_own_maker_only_and_signing_out_warns_before_it_is_wiped() {
    let (house, wireless) = house().await;
    let mut browser = Browser::start(390, 844, Scripts::On).await;
    sign_in(&mut browser, &house, "kit").await;
    wireless.is(GONE);
    took(&mut browser, &tag_of(&house, 0).await).await;
    browser.says("Waiting to send (1)").await;
    // Kit's sign-in ends by itself, and Tove takes the phone.
    sqlx::query("DELETE FROM session").execute(&house.app.database.writer).await.unwrap();
    wireless.is(THERE);
    sign_in(&mut browser, &house, "tove").await;
    browser.says("What waits is Kit's, and Tove is signed in. Only Kit can send it.").await;
    assert_eq!(count(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    browser.tap_words(".foot", "Sign out").await;
    let mut warned = String::new();
    for _ in 0..100 {
        if let Ok(text) = browser.driver.get_alert_text().await {
            warned = text;
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert!(warned.contains("1 sign-off waits here"), "{warned}");
    browser.driver.dismiss_alert().await.unwrap();
    browser.says("Waiting to send (1)").await;
    browser.tap_words(".foot", "Sign out").await;
    for _ in 0..100 {
        if browser.driver.accept_alert().await.is_ok() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    browser.says("Sign-in name").await;
    sign_in(&mut browser, &house, "kit").await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    assert!(!browser.words().await.contains("Waiting to send"));
    assert_eq!(count(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    browser.end().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn with_scripts_a_tap_signs_without_leaving_the_page_and_without_them_as_ever() {
    for scripts in [Scripts::On, Scripts::Off] {
        let (house, _wireless) = house().await;
        let mut keeper = Browser::start(390, 844, scripts).await;
        sign_in(&mut keeper, &house, "kit").await;
        let tag = tag_of(&house, 0).await;
        took(&mut keeper, &tag).await;
        keeper.says("1 took it").await;
        comes_to(&house, "SELECT COUNT(*) FROM signoff WHERE entered = 'live'", 1).await;
        keeper.end().await;
    }
}
