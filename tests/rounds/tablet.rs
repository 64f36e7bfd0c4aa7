//! A room's tablet: it shows and signs the room's round, each sign-off by a person's PIN, and opens nothing else.

use silkward::house::ids::{AnimalId, DutyId, MemberId};

use super::stock::{CALM, RISKY, animal, clear, cohort, house, open_cohort_duty, open_duty, plan};
use crate::support::{Page, Person, TestHouse, number};

const PIN: &str = "246813";
const OTHER_PIN: &str = "135792";

/// A house with one rack, a tablet in its room, and Bo with a PIN.
async fn room(level: i64) -> (TestHouse, Person, MemberId) {
    let house = house().await;
    let bo = house.keeper("Bo Underhill", level).await.id();
    house.give_pin(bo, PIN).await;
    let lead = house.person("Ada", "lead").await.id();
    let tablet = house.tablet(1, lead).await;
    (house, tablet, bo)
}

async fn feed(house: &TestHouse, species: &str) -> (AnimalId, DutyId) {
    let animal = animal(house, species, 1).await;
    plan(house).await;
    (animal, open_duty(house, animal, "feed").await.unwrap())
}

/// Signs a duty at a tablet with the short form.
async fn sign(tablet: &mut Person, duty: DutyId, who: MemberId, pin: &str, fields: &[(&str, &str)]) -> Page {
    let (page, who) = (format!("/tablet/duties/{duty}"), who.to_string());
    let mut all = vec![("signer", who.as_str()), ("pin", pin)];
    all.extend_from_slice(fields);
    tablet.submit_at(&page, &page, &all).await
}

#[tokio::test]
async fn it_shows_the_rooms_round_whoever_has_it_and_no_way_out() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, calm) = feed(&house, CALM).await;
    let (_, risky) = feed(&house, RISKY).await;
    sqlx::query("INSERT INTO room (id, name, walk_order) VALUES (2, 'Warm room', 2)").execute(&house.app.database.writer).await.unwrap();
    sqlx::query("INSERT INTO rack (id, room_id, name, walk_order) VALUES (2, 2, 'C', 1)")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sqlx::query("INSERT INTO shelf (id, rack_id, number) VALUES (9, 2, 1)").execute(&house.app.database.writer).await.unwrap();
    let elsewhere = animal(&house, CALM, 9).await;
    plan(&house).await;
    super::stock::give_all(&house, bo).await;
    let page = tablet.get("/tablet").await.ok().says("Quiet room").says("T-1").says("T-2").lacks("T-3").lacks("Underhill");
    assert_eq!(page.count("nav") + page.count("script") + page.count("a[href^='/animals']"), 0);
    let html = scraper::Html::parse_document(&page.text());
    for link in html.select(&scraper::Selector::parse("a[href], form[action]").unwrap()) {
        let to = link.value().attr("href").or(link.value().attr("action")).unwrap();
        assert!(to.starts_with("/tablet") || to.starts_with('#'), "{to}");
    }
    // Band, caution and reason stand before the buttons.
    let text = page.text();
    let card = &text[text.find(&format!("id=\"duty-{risky}\"")).unwrap()..];
    let place = |word: &str| card.find(word).unwrap_or_else(|| panic!("no {word}"));
    assert!(place("Band 3") < place("class=\"reason\"") && place("class=\"reason\"") < place("Took it"));
    tablet.get(&format!("/tablet/duties/{calm}")).await.ok().says("Bo").lacks("Underhill");
    let other = open_duty(&house, elsewhere, "feed").await.unwrap();
    tablet.get(&format!("/tablet/duties/{other}")).await.is(404);
    let (csrf, once) = tablet.get("/tablet").await.ok().tokens();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("signer", "1"), ("pin", PIN), ("outcome", "took")];
    assert_eq!(tablet.post_raw(&format!("/tablet/duties/{other}"), &form).await.status, 404, "another room's");
    tablet.get("/tablet/shelves/9").await.is(404);
}

#[tokio::test]
async fn a_sign_off_names_the_person_and_the_tablet() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, duty) = feed(&house, CALM).await;
    let to = sign(&mut tablet, duty, bo, PIN, &[("outcome", "took"), ("why", ""), ("cause", "unknown")]).await.sent_to();
    assert!(to.starts_with("/tablet?done=1"), "{to}");
    tablet.get(&to).await.ok().says("Written: Feed T-1: took it (Bo)");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE member_id = 1 AND entered = 'tablet' AND device_id = 1").await, 1);
    let audit = "SELECT COUNT(*) FROM audit WHERE action = 'duty.signed' AND member_id = 1 AND after = 'Feed T-1: took it (at the tablet “By the door”)'";
    assert_eq!(number(&house, audit).await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sign_in_failure").await, 0, "a right PIN leaves no trace of a guess");
}

#[tokio::test]
async fn a_wrong_pin_keeps_what_was_typed_and_writes_nothing() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, duty) = feed(&house, CALM).await;
    let form = [("outcome", "could-not"), ("why", "no crickets left")];
    let page = sign(&mut tablet, duty, bo, "999999", &form).await.is(422).says("not that person's PIN");
    assert_eq!(page.value("#why"), "no crickets left");
    assert_eq!(page.value("input[name=signer][checked]"), bo.to_string());
    assert_eq!(page.value("input[name=outcome][checked]"), "could-not");
    assert_eq!(page.attribute("#pin", "value"), "");
    let both = sign(&mut tablet, duty, MemberId(77), "", &[("outcome", "nonsense")]).await.is(422);
    both.says("Choose who signs.").says("Enter your PIN.").says("Choose one of the list.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
}

#[tokio::test]
async fn guessing_is_slowed_for_a_person_and_for_the_tablet_also_after_a_restart_and_keeps_nobody_out_elsewhere() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, duty) = feed(&house, CALM).await;
    for _ in 0..5 {
        sign(&mut tablet, duty, bo, "999999", &[("outcome", "took")]).await.is(422);
    }
    sign(&mut tablet, duty, bo, PIN, &[("outcome", "took")]).await.is(429).says("too many wrong PINs at this tablet");
    // The counts stand in the database: a new process over the same file slows alike.
    let config = silkward::house::config::Config::new(house.app.config.data.clone(), "127.0.0.1:7373".parse().unwrap(), None).unwrap();
    let clock = silkward::house::clock::Clock::standing_at(house.app.now());
    let again = silkward::house::app::App::open(config, clock, silkward::house::database::Durability::Full).await.unwrap();
    let device = silkward::house::ids::DeviceId(1);
    assert!(silkward::staff::passphrase::verify_pin_at(&again, device, bo, PIN).await.is_err());
    // Bo's PIN works on a colleague's phone, and Bo signs in as ever.
    assert!(silkward::staff::passphrase::verify_pin(&house.app, bo, PIN).await.unwrap());
    let phrase = silkward::staff::passphrase::hash(&house.app, "violet kettle ninth harbour").await.unwrap();
    sqlx::query("UPDATE member SET pass_hash = ? WHERE id = ?").bind(phrase).bind(bo).execute(&house.app.database.writer).await.unwrap();
    let fields = [("sign_in_name", "bo underhill"), ("pass_phrase", "violet kettle ninth harbour"), ("next", "/round")];
    assert_eq!(house.visitor().submit("/sign-in", &fields).await.sent_to(), "/round");
    // Many people's PINs at one tablet: ten more guesses, then nobody's is tried there.
    let mut tried = 0;
    for person in ["Cy", "Di", "Eve", "Fay"] {
        let other = house.keeper(person, 2).await.id();
        house.give_pin(other, OTHER_PIN).await;
        for _ in 0..4 {
            tried += i32::from(sign(&mut tablet, duty, other, "000000", &[("outcome", "took")]).await.status == 422);
        }
    }
    assert_eq!(tried, 10, "fifteen in all");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    house.app.clock.set(house.app.now() + chrono::TimeDelta::minutes(16));
    sign(&mut tablet, duty, bo, PIN, &[("outcome", "took")]).await.sent_to();
}

#[tokio::test]
async fn a_pin_opens_nothing_else() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, duty) = feed(&house, CALM).await;
    let fields = [("sign_in_name", "bo underhill"), ("pass_phrase", PIN), ("next", "/round")];
    house.visitor().submit("/sign-in", &fields).await.is(422);
    let mut own = house.sign_in(bo).await;
    own.submit("/account/pin", &[("current", PIN), ("pin", "908172")]).await.is(422);
    own.submit(
        "/account/pass-phrase",
        &[("current", PIN), ("pass_phrase", "seven lanterns under marble"), ("again", "seven lanterns under marble")],
    )
    .await
    .is(422);
    // At the tablet it signs, and nobody is signed in by it.
    sign(&mut tablet, duty, bo, PIN, &[("outcome", "took")]).await.sent_to();
    assert_eq!(tablet.get("/round").await.sent_to(), "/tablet");
    assert_eq!(tablet.get("/account").await.sent_to(), "/tablet");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM session WHERE member_id IS NOT NULL").await, number(&house, "SELECT 3").await);
    // Nor does the table of sent forms hold anything from which it could be worked out.
    let page = format!("/tablet/duties/{duty}");
    let told = format!("{page}?outcome=took&signer={bo}");
    let hash: String =
        sqlx::query_scalar("SELECT body_hash FROM submission WHERE once_key IN (SELECT once_key FROM submission) ORDER BY at DESC LIMIT 1")
            .fetch_one(&house.app.database.writer)
            .await
            .unwrap();
    for with_pin in [format!("{told}&pin={PIN}"), format!("{page}?signer={bo}&pin={PIN}&outcome=took")] {
        assert_ne!(hash, silkward::house::secrets::sha256_hex(with_pin.as_bytes()));
    }
}

#[tokio::test]
async fn above_the_persons_clearance_and_while_held_nothing_is_signed() {
    let (house, mut tablet, bo) = room(1).await;
    let (risky, duty) = feed(&house, RISKY).await;
    let page = sign(&mut tablet, duty, bo, PIN, &[("outcome", "took")])
        .await
        .is(403)
        .says("Feed T-1 needs clearance 2, and Bo holds clearance 1.");
    assert!(!page.text().contains("Underhill"));
    clear(&house, bo, 2, "2027-01-01").await;
    sign(&mut tablet, duty, bo, PIN, &[("outcome", "threat"), ("cause", "unknown")]).await.sent_to();
    let held = open_duty(&house, risky, "feed").await.unwrap();
    sign(&mut tablet, held, bo, PIN, &[("outcome", "took")]).await.is(409).says("must wait: agitated until");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 0);
}

#[tokio::test]
async fn somebody_who_was_faster_is_named_by_their_first_name() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, duty) = feed(&house, CALM).await;
    let (csrf, once) = tablet.get(&format!("/tablet/duties/{duty}")).await.ok().tokens();
    super::stock::sign(&mut house.sign_in(bo).await, duty, &[("outcome", "took")]).await.sent_to();
    let who = bo.to_string();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("signer", who.as_str()), ("pin", PIN), ("outcome", "took")];
    let page = tablet
        .post_raw(&format!("/tablet/duties/{duty}"), &form)
        .await
        .is(409)
        .says("was already done by Bo on")
        .says("Do not feed again.");
    assert!(!page.text().contains("Underhill"));
}

#[tokio::test]
async fn a_double_tap_writes_once() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, duty) = feed(&house, CALM).await;
    let (csrf, once) = tablet.get(&format!("/tablet/duties/{duty}")).await.ok().tokens();
    let who = bo.to_string();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("signer", who.as_str()), ("pin", PIN), ("outcome", "took")];
    let first = tablet.post_raw(&format!("/tablet/duties/{duty}"), &form).await.sent_to();
    assert_eq!(tablet.post_raw(&format!("/tablet/duties/{duty}"), &form).await.sent_to(), first);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 1);
}

#[tokio::test]
async fn a_shelf_is_signed_with_one_pin_and_dangerous_animals_are_looked_at_one_by_one() {
    let (house, mut tablet, bo) = room(3).await;
    for species in [CALM, CALM, RISKY] {
        animal(&house, species, 1).await;
    }
    plan(&house).await;
    let page = tablet.get("/tablet/shelves/1").await.ok();
    assert_eq!((page.count("input[type=radio][value=took]"), page.count("input[type=radio][value=took][checked]")), (3, 2));
    let duties = super::stock::hidden(&page.text(), "input[name=duty]");
    let names: Vec<String> = duties.iter().map(|id| format!("outcome-{id}")).collect();
    let who = bo.to_string();
    let mut form = vec![("signer", who.as_str()), ("pin", PIN)];
    form.extend(duties.iter().map(|id| ("duty", id.as_str())));
    form.extend([(names[0].as_str(), "took"), (names[1].as_str(), "left-in")]);
    tablet.submit("/tablet/shelves/1", &form).await.is(422).says("Look at T-3 and choose");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    form.push((names[2].as_str(), "refused"));
    let to = tablet.submit("/tablet/shelves/1", &form).await.sent_to();
    tablet.get(&to).await.ok().says("Feed T-3: refused, prey taken out (Bo)");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE entered = 'tablet' AND member_id = 1").await, 3);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'shelf.fed'").await, 1);
}

#[tokio::test]
async fn of_a_shelf_only_what_the_person_may_is_written_and_the_rest_is_named() {
    let (house, mut tablet, bo) = room(1).await;
    for species in [CALM, RISKY] {
        animal(&house, species, 1).await;
    }
    plan(&house).await;
    let duties = super::stock::hidden(&tablet.get("/tablet/shelves/1").await.ok().text(), "input[name=duty]");
    let names: Vec<String> = duties.iter().map(|id| format!("outcome-{id}")).collect();
    let who = bo.to_string();
    let form = [
        ("signer", who.as_str()),
        ("pin", PIN),
        ("duty", duties[0].as_str()),
        ("duty", duties[1].as_str()),
        (names[0].as_str(), "took"),
        (names[1].as_str(), "took"),
    ];
    tablet
        .submit("/tablet/shelves/1", &form)
        .await
        .ok()
        .says("Not written: Feed T-2 needs clearance 2, and Bo holds clearance 1.")
        .says("Written: Feed T-1");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 1);
}

#[tokio::test]
async fn the_other_forms_sign_too() {
    let (house, mut tablet, bo) = room(2).await;
    let animal = animal(&house, CALM, 1).await;
    let cohort = cohort(&house, CALM, 50).await;
    plan(&house).await;
    let who = bo.to_string();
    let check = open_duty(&house, animal, "moult-check").await.unwrap();
    let page = format!("/tablet/duties/{check}");
    let form = [
        ("signer", who.as_str()),
        ("pin", PIN),
        ("day", "2026-04-14"),
        ("skin_kept", "yes"),
        ("span_mm", "66"),
        ("span_method", "measured"),
        ("note", ""),
    ];
    tablet.submit_at(&format!("{page}?form=own"), &format!("{page}/moult"), &form).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM moult_standing WHERE day = '2026-04-14'").await, 1);
    let feed = open_cohort_duty(&house, cohort, "feed").await.unwrap();
    let page = format!("/tablet/duties/{feed}");
    let mut form = vec![("signer", who.as_str()), ("pin", PIN), ("took", "60"), ("refused", ""), ("left_in", ""), ("prey", "")];
    let again = tablet.submit_at(&format!("{page}?form=own"), &format!("{page}/figures"), &form).await.is(422).says("50 are alive");
    assert_eq!(again.value("#took"), "60");
    form[2] = ("took", "50");
    tablet.submit_at(&format!("{page}?form=own"), &format!("{page}/figures"), &form).await.sent_to();
    assert_eq!(number(&house, "SELECT took FROM cohort_meal_standing").await, 50);
    house.set_clock("2026-05-10T12:00:00Z");
    house.app.clock.set(house.app.now() + chrono::TimeDelta::days(40));
    assert_eq!(tablet.get("/tablet").await.status, 403, "unused for a month: opened anew");
}

const TOOLS: [&str; 9] = [
    "soft brush",
    "catch cup with lid",
    "new enclosure ready and open",
    "long forceps, 25 to 30 cm",
    "work inside a larger tub; no bare hand in either box",
    "someone within call",
    "second person in the room and briefed",
    "door shut and its gap sealed",
    "telephone at hand",
];

#[tokio::test]
async fn a_rehouse_by_two_takes_both_pins_and_every_tool() {
    let (house, mut tablet, bo) = room(3).await;
    let animal = animal(&house, RISKY, 1).await;
    sqlx::query("UPDATE animal SET enclosure_length_mm = 100").execute(&house.app.database.writer).await.unwrap();
    plan(&house).await;
    let cy = house.keeper("Cyprian", 2).await.id();
    house.give_pin(cy, OTHER_PIN).await;
    let duty = open_duty(&house, animal, "rehouse").await.unwrap();
    let (page, who, second) = (format!("/tablet/duties/{duty}"), bo.to_string(), cy.to_string());
    let shown = tablet.get(&format!("{page}?form=own")).await.ok().says("telephone at hand").says("The second person's PIN");
    assert_eq!(shown.count("input[name=ticked]"), TOOLS.len());
    let form = |second: &'static str, second_pin: &'static str, tools: &'static [&'static str]| {
        let mut form =
            vec![("pin", PIN), ("length_mm", "250"), ("width_mm", "180"), ("shelf", "2"), ("position", "4"), ("second_pin", second_pin)];
        if !second.is_empty() {
            form.push(("second", second));
        }
        form.extend(tools.iter().map(|tool| ("ticked", *tool)));
        form
    };
    assert_eq!((who.as_str(), second.as_str()), ("1", "3"));
    let send = |mut form: Vec<(&'static str, &'static str)>| {
        form.push(("signer", "1"));
        form
    };
    let (from, to) = (format!("{page}?form=own"), format!("{page}/hands-in"));
    tablet.submit_at(&from, &to, &send(form("3", PIN, &TOOLS))).await.is(422).says("not that person's PIN");
    tablet.submit_at(&from, &to, &send(form("1", PIN, &TOOLS))).await.is(422).says("must be somebody else");
    tablet.submit_at(&from, &to, &send(form("", "", &TOOLS))).await.is(422).says("This takes two people.");
    let again = tablet.submit_at(&from, &to, &send(form("3", OTHER_PIN, &TOOLS[1..]))).await.is(422).says("Still missing: soft brush.");
    assert_eq!((again.count("input[name=ticked][checked]"), again.value("#length_mm").as_str()), (TOOLS.len() - 1, "250"));
    // The one who is not cleared can't sign with the cleared one as second.
    let mut swapped = form("1", PIN, &TOOLS);
    swapped[0] = ("pin", OTHER_PIN);
    swapped.push(("signer", "3"));
    tablet.submit_at(&from, &to, &swapped).await.is(403).says("needs clearance 3");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    tablet.submit_at(&from, &to, &send(form("3", OTHER_PIN, &TOOLS))).await.sent_to();
    assert_eq!(
        number(&house, "SELECT COUNT(*) FROM signoff WHERE member_id = 1 AND second_id = 3 AND entered = 'tablet' AND checklist <> ''")
            .await,
        1
    );
    assert_eq!(number(&house, "SELECT enclosure_length_mm FROM animal").await, 250);
}

/// What the house added to its list, a box that breaks a rule of size, and breaking off are the same at a tablet as on a phone.
#[tokio::test]
async fn the_houses_own_lines_a_tight_box_and_breaking_off_are_at_the_tablet_too() {
    let (house, mut tablet, _bo) = room(3).await;
    let animal = animal(&house, RISKY, 1).await;
    sqlx::query("UPDATE animal SET enclosure_length_mm = 100").execute(&house.app.database.writer).await.unwrap();
    plan(&house).await;
    let cy = house.keeper("Cyprian", 2).await.id();
    house.give_pin(cy, OTHER_PIN).await;
    let mut lead = house.person("Lea", "lead").await;
    lead.submit("/handling/checklist", &[("text", "radio off"), ("from_band", "2")]).await.sent_to();
    let duty = open_duty(&house, animal, "rehouse").await.unwrap();
    let page = format!("/tablet/duties/{duty}");
    let (from, to) = (format!("{page}?form=own"), format!("{page}/hands-in"));
    let mut form =
        vec![("pin", PIN), ("signer", "1"), ("length_mm", "250"), ("width_mm", "90"), ("second", "3"), ("second_pin", OTHER_PIN)];
    form.extend(TOOLS.iter().map(|tool| ("ticked", *tool)));
    let again = tablet.submit_at(&from, &to, &form).await.is(422).says("Still missing: radio off");
    assert_eq!(again.count("input[name=ticked]"), TOOLS.len() + 1);
    assert_eq!(again.count("input[name=size_known]"), 1, "a box that breaks a rule of size asks");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    tablet.get(&page).await.ok().says("Broke it off");
    tablet.submit_at(&page, &page, &[("outcome", "aborted"), ("why", "up on the glass"), ("signer", "1"), ("pin", PIN)]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE outcome = 'aborted' AND entered = 'tablet'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE kind = 'rest'").await, 2);
}

#[tokio::test]
async fn it_is_taken_back_within_ten_minutes_by_the_same_person_here_or_on_their_phone() {
    let (house, mut tablet, bo) = room(2).await;
    let (animal, duty) = feed(&house, CALM).await;
    sign(&mut tablet, duty, bo, PIN, &[("outcome", "took")]).await.sent_to();
    house.give_pin(house.keeper("Cyprian", 2).await.id(), OTHER_PIN).await;
    let undo = "/tablet/sign-offs/1/undo";
    tablet.submit_at("/tablet", undo, &[("pin", OTHER_PIN)]).await.is(422).says("not that person's PIN");
    tablet.submit_at("/tablet", undo, &[("pin", PIN)]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE corrects_id = 1 AND entered = 'tablet' AND device_id = 1").await, 1);
    let again = open_duty(&house, animal, "feed").await.expect("stands open again");
    sign(&mut tablet, again, bo, PIN, &[("outcome", "refused")]).await.sent_to();
    house.sign_in(bo).await.submit_at("/round", "/round/sign-offs/3/undo", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing").await, 0);
    let again = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut tablet, again, bo, PIN, &[("outcome", "took")]).await.sent_to();
    house.app.clock.set(house.app.now() + chrono::TimeDelta::seconds(601));
    tablet.submit_at("/tablet", "/tablet/sign-offs/5/undo", &[("pin", PIN)]).await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing").await, 1);
}

#[tokio::test]
async fn a_revoked_tablet_is_dead_at_its_next_request() {
    let (house, mut tablet, bo) = room(2).await;
    let (_, duty) = feed(&house, CALM).await;
    let page = tablet.get(&format!("/tablet/duties/{duty}")).await.ok();
    let (csrf, once) = page.tokens();
    let mut ada = house.person("Ida", "lead").await;
    ada.submit_at("/staff/tablets", "/staff/tablets/1/revoke", &[]).await.sent_to();
    ada.get("/staff/tablets").await.ok().says("revoked 15 Apr 2026, 12:00 by Ida");
    let who = bo.to_string();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("signer", who.as_str()), ("pin", PIN), ("outcome", "took")];
    tablet.post_raw(&format!("/tablet/duties/{duty}"), &form).await.is(403);
    tablet.get("/tablet").await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    let late = "INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons, entered, device_id)
                VALUES (?, ?, '2026-04-15T12:00:00+00:00', '2026-04-15', 'took', 0, 1, 'tablet', 1)";
    let refused = sqlx::query(late).bind(duty).bind(bo).execute(&house.app.database.writer).await.unwrap_err().to_string();
    assert!(refused.contains("no longer signed in"), "{refused}");
    for change in
        ["DELETE FROM device", "UPDATE device SET revoked_at = NULL, revoked_by = NULL", "UPDATE device SET last_seen_at = made_at"]
    {
        assert!(sqlx::query(change).execute(&house.app.database.writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn its_colours_are_its_own() {
    let (house, mut tablet, _) = room(2).await;
    assert_eq!(tablet.get("/tablet").await.ok().attribute("html", "data-theme"), "dim");
    tablet.submit_at("/tablet", "/tablet/theme", &[("theme", "light")]).await.sent_to();
    assert_eq!(tablet.get("/tablet").await.ok().attribute("html", "data-theme"), "light");
    assert_eq!(tablet.get("/tablet/duties/999").await.is(404).attribute("html", "data-theme"), "light", "no white flash in a dim room");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM device").await, 1);
}
