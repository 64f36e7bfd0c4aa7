//! Sign-offs that waited in a browser for the wireless: written once with both times, or kept for a person, never lost.

use silkward::house::ids::DutyId;
use silkward::house::secrets::random_token;

use super::stock::{CALM, RISKY, animal, clear, give_all, house, open_duty, plan, sign};
use crate::support::{Page, Person, TestHouse, number};

/// A form as the browser keeps it.
struct Waits {
    path: String,
    fields: String,
    once: String,
    made_at: String,
    sent_at: String,
}

impl Waits {
    fn quick(duty: DutyId, fields: &str, made_at: &str, sent_at: &str) -> Self {
        Self {
            path: format!("/round/duties/{duty}"),
            fields: fields.to_owned(),
            once: random_token(),
            made_at: made_at.to_owned(),
            sent_at: sent_at.to_owned(),
        }
    }

    async fn arrive(&self, person: &mut Person) -> Page {
        let token = token(person).await;
        let fields = [
            ("csrf", token.as_str()),
            ("once", self.once.as_str()),
            ("path", self.path.as_str()),
            ("fields", self.fields.as_str()),
            ("label", "Feed T-1: Took it"),
            ("made_at", self.made_at.as_str()),
            ("sent_at", self.sent_at.as_str()),
        ];
        person.post_raw("/round/queue", &fields).await
    }
}

/// The token that the house tells a browser before it sends what waited.
async fn token(person: &mut Person) -> String {
    let told: serde_json::Value = serde_json::from_slice(&person.get("/round/queue").await.ok().bytes).unwrap();
    assert_eq!(told["member"], person.id().0);
    told["token"].as_str().unwrap().to_owned()
}

/// The state and the words of an answer.
fn said(page: &Page) -> (String, String) {
    assert_eq!(page.status, 200, "{}", page.text());
    let told: serde_json::Value = serde_json::from_slice(&page.bytes).unwrap();
    (told["state"].as_str().unwrap().to_owned(), told["words"].as_str().unwrap().to_owned())
}

/// A house with one calm animal whose feed is on Bo's round.
async fn one_feed() -> (TestHouse, Person, DutyId) {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    (house, bo, feed)
}

#[tokio::test]
async fn it_is_written_with_the_time_it_was_made_and_the_time_it_arrived() {
    let (house, mut bo, feed) = one_feed().await;
    house.set_clock("2026-04-15T12:26:00Z");
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T12:00:00Z", "2026-04-15T12:26:00Z");
    let (state, words) = said(&waits.arrive(&mut bo).await);
    assert_eq!((state.as_str(), words.as_str()), ("done", "Feed T-1: took it."));
    let both = "SELECT COUNT(*) FROM signoff WHERE entered = 'queued' AND made_at = '2026-04-15T12:00:00+00:00' AND at = '2026-04-15T12:26:00+00:00'";
    assert_eq!(number(&house, both).await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal WHERE offered_at = '2026-04-15T12:00:00+00:00'").await, 1);
    bo.get("/animals/1").await.ok().says("12:00 (reached the book 12:26)");
    bo.get("/round").await.ok().says("12:00 (reached the book 12:26)");
}

#[tokio::test]
async fn it_is_written_once_however_often_it_arrives_also_when_the_first_answer_was_lost() {
    let (house, mut bo, feed) = one_feed().await;
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    assert_eq!(said(&waits.arrive(&mut bo).await).0, "done");
    for _ in 0..3 {
        let (state, words) = said(&waits.arrive(&mut bo).await);
        assert_eq!((state.as_str(), words.as_str()), ("already", "This was written at 12:00 already."));
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 1);
    // The form itself reached the book, and its answer got lost: the same key and the same fields.
    let (house, mut bo, feed) = one_feed().await;
    let (csrf, once) = bo.get("/round").await.tokens();
    let fields = [("csrf", csrf.as_str()), ("once", once.as_str()), ("outcome", "took"), ("why", "")];
    bo.post_raw(&format!("/round/duties/{feed}"), &fields).await.sent_to();
    let waits = Waits { once, ..Waits::quick(feed, "outcome=took&why=", "2026-04-15T11:59:00Z", "2026-04-15T12:00:00Z") };
    assert_eq!(said(&waits.arrive(&mut bo).await).0, "already");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal").await, 0);
}

#[tokio::test]
async fn twenty_sendings_at_once_write_one_row() {
    let (house, bo, feed) = one_feed().await;
    let waits = std::sync::Arc::new(Waits::quick(feed, "outcome=took", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z"));
    let mut tasks = tokio::task::JoinSet::new();
    for _ in 0..20 {
        let (mut browser, waits) = (bo.clone(), waits.clone());
        tasks.spawn(async move { said(&waits.arrive(&mut browser).await).0 });
    }
    let states = tasks.join_all().await;
    assert_eq!(states.iter().filter(|state| *state == "done").count(), 1, "{states:?}");
    assert_eq!(states.iter().filter(|state| *state == "already").count(), 19, "{states:?}");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 1);
}

#[tokio::test]
async fn a_meal_before_midnight_that_arrives_after_it_belongs_to_the_earlier_day() {
    let (house, bo, feed) = one_feed().await;
    // The house stands in UTC; its zone is what counts, so it is moved to one with another date.
    sqlx::query("UPDATE site SET zone = 'Europe/Berlin'").execute(&house.app.database.writer).await.unwrap();
    house.app.refresh_site().await.unwrap();
    house.set_clock("2026-04-15T22:10:00Z");
    silkward::rounds::plan_day_if_needed(&house.app).await.unwrap();
    let mut bo = house.sign_in(bo.id()).await;
    // 23:50 and 00:10 in Berlin.
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T21:50:00Z", "2026-04-15T22:10:00Z");
    assert_eq!(said(&waits.arrive(&mut bo).await).0, "done");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal WHERE day = '2026-04-15'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE day = '2026-04-15'").await, 1);
    bo.get("/animals/1").await.ok().says("23:50 (reached the book 16 Apr 2026, 00:10)");
}

#[tokio::test]
async fn a_clock_that_is_wrong_does_not_matter_as_long_as_it_runs() {
    let (house, mut bo, feed) = one_feed().await;
    // Three hours fast: made 20 minutes before it was sent.
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T14:40:00Z", "2026-04-15T15:00:00Z");
    assert_eq!(said(&waits.arrive(&mut bo).await).0, "done");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE made_at = '2026-04-15T11:40:00+00:00'").await, 1);
}

#[tokio::test]
async fn what_was_made_too_long_ago_or_in_the_future_is_kept_for_a_person() {
    for (made, why) in [
        ("2026-04-14T23:44:00Z", "waited for more than 12 hours"),
        ("2026-04-15T12:03:00Z", "after it arrived"),
        ("soon", "did not say when"),
    ] {
        let (house, mut bo, feed) = one_feed().await;
        let waits = Waits::quick(feed, "outcome=took", made, "2026-04-15T12:00:00Z");
        let (state, words) = said(&waits.arrive(&mut bo).await);
        assert_eq!(state, "refused");
        assert!(words.contains(why), "{words}");
        assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
        assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal").await, 1);
    }
    for made in ["2026-04-14T23:46:00Z", "2026-04-15T12:01:00Z"] {
        let (_house, mut bo, feed) = one_feed().await;
        let waits = Waits::quick(feed, "outcome=took", made, "2026-04-15T12:00:00Z");
        assert_eq!(said(&waits.arrive(&mut bo).await).0, "done", "{made}");
    }
}

#[tokio::test]
async fn who_was_faster_is_named_and_the_loser_settles_it_with_a_note_on_the_animal() {
    let (house, mut bo, feed) = one_feed().await;
    let mut cy = house.keeper("Cyprian", 2).await;
    sign(&mut cy, feed, &[("outcome", "refused")]).await.sent_to();
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    for _ in 0..2 {
        let (state, words) = said(&waits.arrive(&mut bo).await);
        assert_eq!(state, "refused");
        assert!(
            words.contains("Feed T-1 was already done by Cyprian on 15 Apr 2026, 12:00") && words.contains("Do not feed again."),
            "{words}"
        );
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'queue.refused'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 1);
    bo.get("/round").await.ok().says("1 sign-off that waited for the wireless could not be written");
    house.person("Ada", "lead").await.get("/today").await.ok().says("1 sign-off that waited for the wireless could not be written");
    // Not another keeper's to settle, nor to see.
    cy.get("/round/waiting").await.ok().says("Nothing is left to settle.");
    cy.submit_at("/round", "/round/waiting/1", &[("how", "nothing"), ("note", "")]).await.is(403);
    let page =
        bo.get("/round/waiting").await.ok().says("Do not feed again.").says("11:50 (reached the book 12:00)").says("Entered: took it.");
    assert_eq!(page.count("article.duty"), 1);
    bo.submit_at("/round/waiting", "/round/waiting/1", &[("how", "noted"), ("note", " ")]).await.is(422).says("Write what happened");
    bo.submit_at("/round/waiting", "/round/waiting/1", &[("how", "later"), ("note", "kept")]).await.is(422);
    let form = [("how", "noted"), ("note", "got two crickets today")];
    bo.submit_at("/round/waiting", "/round/waiting/1", &form).await.sent_to();
    bo.get("/round/waiting").await.ok().says("Nothing is left to settle.");
    bo.get("/round").await.ok().lacks("could not be written");
    bo.get("/animals/1").await.ok().says("got two crickets today (Feed T-1: Took it by Bo");
    bo.submit_at("/round/waiting", "/round/waiting/1", &[("how", "nothing"), ("note", "")]).await.is(409);
}

#[tokio::test]
async fn a_lead_settles_for_others_with_nothing_to_add() {
    let (house, mut bo, feed) = one_feed().await;
    sqlx::query("UPDATE duty SET state = 'dropped'").execute(&house.app.database.writer).await.unwrap();
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    let (state, words) = said(&waits.arrive(&mut bo).await);
    assert!(state == "refused" && words.contains("no longer due"), "{words}");
    let mut ada = house.person("Ada", "lead").await;
    ada.get("/round/waiting").await.ok().says("By Bo");
    ada.submit_at("/round/waiting", "/round/waiting/1", &[("how", "nothing"), ("note", "")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal WHERE settled_by <> member_id AND settled_how = 'nothing'").await, 1);
}

#[tokio::test]
async fn a_clearance_that_was_lost_and_a_hold_that_was_set_meanwhile_are_kept_for_a_person() {
    let house = house().await;
    let risky = animal(&house, RISKY, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, risky, "feed").await.unwrap();
    sqlx::query("UPDATE clearance SET withdrawn_at = '2026-04-15T11:55:00+00:00', withdrawn_by = member_id")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    let (state, words) = said(&waits.arrive(&mut bo).await);
    assert!(state == "refused" && words.contains("needs clearance 2"), "{words}");
    clear(&house, bo.id(), 2, "2027-01-01").await;
    sqlx::query("UPDATE duty SET held = 'agitated until tomorrow'").execute(&house.app.database.writer).await.unwrap();
    sqlx::query("INSERT INTO hold (animal_id, kind, blocks, from_at, until_at, reason) VALUES (?, 'agitated', 'open', '2026-04-15T11:00:00+00:00', '2026-04-16T11:00:00+00:00', 'threat')")
        .bind(risky)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    let (state, words) = said(&waits.arrive(&mut bo).await);
    assert!(state == "refused" && words.contains("must wait"), "{words}");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal").await, 2);
}

#[tokio::test]
async fn someone_cleared_when_it_was_done_whose_clearance_ran_out_at_midnight_did_it_rightly() {
    let house = house().await;
    let risky = animal(&house, RISKY, 1).await;
    plan(&house).await;
    let bo = house.keeper("Bo", 0).await;
    clear(&house, bo.id(), 2, "2026-04-15").await;
    let feed = open_duty(&house, risky, "feed").await.unwrap();
    house.set_clock("2026-04-16T00:10:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T23:50:00Z", "2026-04-16T00:10:00Z");
    assert_eq!(said(&waits.arrive(&mut bo).await).0, "done");
}

#[tokio::test]
async fn hands_in_and_threats_never_wait_and_what_is_no_form_of_the_round_neither() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    sqlx::query("UPDATE animal SET enclosure_length_mm = 100").execute(&house.app.database.writer).await.unwrap();
    plan(&house).await;
    let mut bo = house.keeper("Bo", 3).await;
    give_all(&house, bo.id()).await;
    let (feed, rehouse) = (open_duty(&house, animal, "feed").await.unwrap(), open_duty(&house, animal, "rehouse").await.unwrap());
    let (made, sent) = ("2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    let threat = said(&Waits::quick(feed, "outcome=threat", made, sent).arrive(&mut bo).await);
    assert!(threat.0 == "refused" && threat.1.contains("put a hold on it now"), "{threat:?}");
    let mut hands = Waits::quick(rehouse, "length_mm=250&shelf=2", made, sent);
    hands.path.push_str("/hands-in");
    let hands = said(&hands.arrive(&mut bo).await);
    assert!(hands.0 == "refused" && hands.1.contains("signed at once and never later"), "{hands:?}");
    for path in ["/handling/incidents/new", "/animals/1/left", "/round/duties/1/take", "/staff/1/roles"] {
        let strange = Waits { path: path.to_owned(), ..Waits::quick(feed, "a=b", made, sent) };
        assert_eq!(said(&strange.arrive(&mut bo).await).0, "refused", "{path}");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal").await, 6);
    // The page offers no way either: only the feed's form may wait.
    let page = bo.get("/round").await.ok();
    assert_eq!(page.count(&format!("#duty-{feed} form[data-queue]")), 1);
    assert_eq!(page.count(&format!("#duty-{rehouse} form[data-queue]")), 0);
    assert_eq!(bo.get(&format!("/round/duties/{rehouse}")).await.ok().count("form[data-queue]"), 0);
}

#[tokio::test]
async fn beneath_the_code_the_database_refuses_too() {
    let (house, bo, feed) = one_feed().await;
    let insert = "INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons, entered, made_at)
                  VALUES (?, ?, '2026-04-15T12:00:00+00:00', '2026-04-15', ?, 0, 1, ?, ?)";
    for (outcome, entered, made_at, why) in [
        ("threat", "queued", Some("2026-04-15T11:00:00+00:00"), "told at once"),
        ("took", "queued", None, "says when it was made"),
        ("took", "queued", Some("2026-04-15T12:00:01+00:00"), "after it reached"),
        ("took", "tablet", None, "by its name"),
    ] {
        let tried = sqlx::query(insert).bind(feed).bind(bo.id()).bind(outcome).bind(entered).bind(made_at);
        let refused = tried.execute(&house.app.database.writer).await.unwrap_err().to_string();
        assert!(refused.contains(why), "{refused}");
    }
    sqlx::query("UPDATE duty SET exposure = 'hands-in'").execute(&house.app.database.writer).await.unwrap();
    let tried = sqlx::query(insert).bind(feed).bind(bo.id()).bind("took").bind("queued").bind("2026-04-15T11:00:00+00:00");
    assert!(tried.execute(&house.app.database.writer).await.unwrap_err().to_string().contains("at once, not later"));
    let keep = "INSERT INTO queue_refusal (member_id, once_key, label, made_at, arrived_at, why) VALUES (1, 'k', 'Feed', '2026-04-15T11:00:00+00:00', '2026-04-15T12:00:00+00:00', 'x')";
    sqlx::query(keep).execute(&house.app.database.writer).await.unwrap();
    for change in
        ["DELETE FROM queue_refusal", "UPDATE queue_refusal SET why = 'y', settled_at = 'x', settled_by = 1, settled_how = 'nothing'"]
    {
        assert!(sqlx::query(change).execute(&house.app.database.writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn a_rack_is_written_as_far_as_it_can_be_and_the_rest_is_kept() {
    let house = house().await;
    let (first, second) = (animal(&house, CALM, 1).await, animal(&house, CALM, 1).await);
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let mut cy = house.keeper("Cyprian", 2).await;
    give_all(&house, bo.id()).await;
    let (one, two) = (open_duty(&house, first, "feed").await.unwrap(), open_duty(&house, second, "feed").await.unwrap());
    sign(&mut cy, one, &[("outcome", "took")]).await.sent_to();
    let rack = Waits {
        path: "/round/racks/1/feed".to_owned(),
        ..Waits::quick(
            one,
            &format!("duty={one}&outcome-{one}=took&duty={two}&outcome-{two}=left-in"),
            "2026-04-15T11:50:00Z",
            "2026-04-15T12:00:00Z",
        )
    };
    for _ in 0..2 {
        let (state, words) = said(&rack.arrive(&mut bo).await);
        assert!(state == "refused" && words.contains("Do not feed again."), "{words}");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE entered = 'queued'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE outcome = 'left-in'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal").await, 1);
    // Nothing is taken for granted: what was not chosen is kept, not written.
    let rack = Waits {
        path: "/round/racks/1/feed".to_owned(),
        ..Waits::quick(one, &format!("duty={two}"), "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z")
    };
    assert_eq!(said(&rack.arrive(&mut bo).await).0, "refused");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 2);
}

#[tokio::test]
async fn found_dead_and_could_not_may_wait() {
    let (house, mut bo, feed) = one_feed().await;
    let waits = Waits::quick(feed, "outcome=could-not&why=no+crickets", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    assert_eq!(said(&waits.arrive(&mut bo).await).0, "done");
    let (second, mut bo, feed) = one_feed().await;
    let waits = Waits::quick(feed, "outcome=found-dead&cause=unknown", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    assert_eq!(said(&waits.arrive(&mut bo).await).0, "done");
    assert_eq!(number(&second, "SELECT COUNT(*) FROM animal WHERE status = 'dead' AND status_on = '2026-04-15'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE note = 'no crickets'").await, 1);
}

#[tokio::test]
async fn a_token_from_before_a_new_sign_in_loses_nothing_and_a_stranger_learns_nothing() {
    let (house, bo, feed) = one_feed().await;
    let stale = token(&mut bo.clone()).await;
    let mut again = house.sign_in(bo.id()).await;
    let fields = [
        ("csrf", stale.as_str()),
        ("once", "AAAAAAAAAAAAAAAAAAAAAAAA"),
        ("path", "/round/duties/1"),
        ("fields", ""),
        ("label", ""),
        ("made_at", ""),
        ("sent_at", ""),
    ];
    again.post_raw("/round/queue", &fields).await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM queue_refusal").await, 0);
    let waits = Waits::quick(feed, "outcome=took", "2026-04-15T11:50:00Z", "2026-04-15T12:00:00Z");
    assert_eq!(said(&waits.arrive(&mut again).await).0, "done");
    assert!(house.visitor().get("/round/queue").await.sent_to().starts_with("/sign-in"));
    house.person("Di", "counter").await.get("/round/queue").await.is(403);
}

#[tokio::test]
async fn the_shell_and_the_worker_hold_nothing_of_the_book_and_name_files_that_exist() {
    let house = TestHouse::start().await;
    let shell = house.visitor().get("/round/offline").await.ok().says("No wireless").says("not saved");
    assert!(shell.headers.get("set-cookie").is_none());
    assert_eq!(shell.count("input"), 0);
    let worker = house.visitor().get("/service-worker.js").await.ok();
    assert_eq!(worker.headers["content-type"], "text/javascript; charset=utf-8");
    assert_eq!(worker.headers["cache-control"], "no-cache");
    let mut files: Vec<String> = Vec::new();
    for text in [worker.text(), shell.text(), house.person("Bo", "keeper").await.get("/round").await.ok().text()] {
        files.extend(text.split('"').filter(|part| part.starts_with("/static/") && part.len() > "/static/".len()).map(str::to_owned));
    }
    assert!(files.len() > 10, "{files:?}");
    for file in files {
        let page = house.visitor().get(&file).await.ok();
        if file.ends_with(".js") {
            for named in page.text().split('"').filter(|part| part.starts_with("/static/") && part.len() > "/static/".len()) {
                house.visitor().get(named).await.ok();
            }
        }
    }
}
