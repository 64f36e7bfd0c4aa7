//! The packing check: what is scanned ticks its line, all else is refused, and only those may pack who are cleared.

use super::stock::{self, CALM, RISKY, house};
use super::trade::{add_packs, add_tags, order, scan, to_handover};
use crate::support::number;

#[tokio::test]
async fn a_scan_ticks_its_line_and_anything_else_is_refused_in_words() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter keeper").await;
    stock::clear(&house, seller.id(), 1).await;
    let (goes, stays) = (stock::animal(&house, CALM).await, stock::animal(&house, CALM).await);
    let cohort = stock::cohort(&house, CALM, 30).await;
    let order = order(&mut seller).await;
    let tag = stock::tag(&house, goes).await;
    add_tags(&mut seller, &order, &tag).await.sent_to();
    add_packs(&mut seller, &order, cohort, "2", "5").await.sent_to();
    let handover = to_handover(&mut seller, &order).await;
    let page = seller.get(&format!("{handover}/pack")).await.ok().says("0 of 11 in the box");
    let packer = page.value("select[name=packer] option[selected]");
    assert_eq!(packer, "1");
    let code: String = sqlx::query_scalar("SELECT code FROM cohort").fetch_one(&house.app.database.writer).await.unwrap();
    let wrong = format!("X{}", &tag[1..]);
    for (scanned, says) in [
        (wrong.as_str(), "is mistyped: its check character does not fit. Perhaps"),
        (&stock::tag(&house, stays).await, "is not on this handover. Put it back"),
        ("<b>", "is not a tag of this house"),
        ("", "Scan or type the tag"),
    ] {
        let again = scan(&mut seller, &handover, &[("code", scanned), ("packer", "1")]).await.is(422).says(says);
        assert_eq!(again.value("#code"), scanned);
    }
    // The address on the label does as well as the tag.
    let address = format!("http://127.0.0.1:7373/t/{tag}");
    scan(&mut seller, &handover, &[("code", &address), ("packer", "1")]).await.sent_to();
    scan(&mut seller, &handover, &[("code", &tag), ("packer", "1")]).await.is(422).says("is in the box already");
    // Each vial's label is one; a count takes several.
    let three = format!("{code} {code} {code}");
    scan(&mut seller, &handover, &[("code", &three), ("packer", "1")]).await.sent_to();
    scan(&mut seller, &handover, &[("code", &code), ("count", "8"), ("packer", "1")]).await.is(422).says("Only 7 more of");
    seller.get(&format!("{handover}/pack")).await.ok().says("4 of 11 in the box").says("7 missing");
    stock::hand_over(&mut seller, &handover, "").await.is(422).says("Not packed yet: 7 out of cohort");
    stock::hand_over(&mut seller, &handover, "they are in a hurry").await.is(403);
    scan(&mut seller, &handover, &[("code", &code), ("count", "7"), ("packer", "1")]).await.sent_to();
    seller.get(&format!("{handover}/pack")).await.ok().says("All is packed");
    scan(&mut seller, &handover, &[("code", &code), ("packer", "1"), ("deed", "out")]).await.sent_to();
    seller.get(&format!("{handover}/pack")).await.ok().says("1 of 11 in the box");
    scan(&mut seller, &handover, &[("code", &code), ("count", "10"), ("packer", "1")]).await.sent_to();
    stock::hand_over(&mut seller, &handover, "").await.sent_to();
    seller.get(&format!("{handover}/pack")).await.is(409);
}

#[tokio::test]
async fn a_lead_says_why_something_was_not_checked_and_the_database_asks_it_too() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let animal = stock::animal(&house, CALM).await;
    let order = order(&mut lead).await;
    let tag = stock::tag(&house, animal).await;
    add_tags(&mut lead, &order, &tag).await.sent_to();
    let handover = to_handover(&mut lead, &order).await;
    let mut write = house.app.write(Some(lead.id())).await.unwrap();
    for sql in [
        "DROP TRIGGER handover_done_has_papers",
        "INSERT INTO paper (number, kind, handover_id, handover_line_id, profile_id, title, body, fingerprint, link_base, issued_at, issued_on, issued_by)
         VALUES ('S-2026-0001', 'care-sheet', 1, 1, 1, '', x'', hex(randomblob(32)), '', '', '', 1)",
        "INSERT INTO paper (number, kind, handover_id, handover_line_id, title, body, fingerprint, link_base, issued_at, issued_on, issued_by)
         VALUES ('C-2026-0001', 'origin-statement', 1, 1, '', x'', hex(randomblob(32)), '', '', '', 1)",
        "INSERT INTO paper (number, kind, handover_id, title, body, fingerprint, link_base, issued_at, issued_on, issued_by)
         VALUES ('N-2026-0001', 'handover-note', 1, '', x'', hex(randomblob(32)), '', '', '', 1)",
        "UPDATE animal SET status = 'sold', status_on = '2026-04-23' WHERE id = 1",
    ] {
        sqlx::query(sql).execute(write.db()).await.unwrap();
    }
    let close = "UPDATE handover SET state = 'done', day = '2026-04-15', done_at = '2026-04-15T12:00:00+00:00', done_by = 1";
    let refused = sqlx::query(close).execute(write.db()).await.unwrap_err().to_string();
    assert!(refused.contains("not everything that was ordered has been packed"), "{refused}");
    drop(write);
    stock::hand_over(&mut lead, &handover, "the boxes were closed and counted by two of us").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover WHERE override_reason <> ''").await, 1);
}

#[tokio::test]
async fn packing_what_is_dangerous_takes_two_cleared_people_by_any_route() {
    let house = house().await;
    let mut counter = house.person("Cyprian", "counter").await;
    let ada = house.person("Ada", "lead keeper").await.id();
    let bo = house.person("Bo", "keeper").await.id();
    let animal = stock::animal(&house, RISKY).await;
    let order = order(&mut counter).await;
    let tag = stock::tag(&house, animal).await;
    add_tags(&mut counter, &order, &tag).await.sent_to();
    let handover = to_handover(&mut counter, &order).await;
    counter.get(&format!("{handover}/pack")).await.ok().says("Band 3: dangerous").says("two people");
    let (ada_id, bo_id) = (ada.to_string(), bo.to_string());
    let fields = |second: &str, pin: &str, second_pin: &str| {
        vec![
            ("code", tag.clone()),
            ("packer", ada_id.clone()),
            ("second", second.to_owned()),
            ("pin", pin.to_owned()),
            ("second_pin", second_pin.to_owned()),
        ]
    };
    let borrowed = |fields: &[(&'static str, String)]| fields.iter().map(|(name, value)| (*name, value.clone())).collect::<Vec<_>>();
    house.give_pin(ada, "2468").await;
    house.give_pin(bo, "1357").await;
    let steps = [
        (fields("", "0000", ""), "This is not their PIN"),
        (fields("", "2468", ""), "takes clearance 3: Ada holds none"),
        (fields(&bo_id, "2468", "1357"), "and a second with one less: Bo holds none"),
    ];
    for (typed, says) in steps {
        let typed = borrowed(&typed);
        let typed: Vec<(&str, &str)> = typed.iter().map(|(name, value)| (*name, value.as_str())).collect();
        counter.submit_at(&format!("{handover}/pack"), &format!("{handover}/pack"), &typed).await.is(422).says(says);
    }
    for sql in [
        "INSERT INTO packed (handover_id, animal_id, quantity, band, packer_id, member_id, day, at) VALUES (1, 1, 1, 3, 2, 1, '2026-04-15', '')",
        "INSERT INTO packed (handover_id, animal_id, quantity, band, packer_id, member_id, day, at) VALUES (1, 1, 1, 0, 1, 1, '2026-04-15', '')",
    ] {
        assert!(sqlx::query(sql).execute(&house.app.database.writer).await.is_err(), "{sql}");
    }
    stock::clear(&house, ada, 3).await;
    let alone = fields("", "2468", "");
    let typed: Vec<(&str, &str)> = alone.iter().map(|(name, value)| (*name, value.as_str())).collect();
    counter.submit_at(&format!("{handover}/pack"), &format!("{handover}/pack"), &typed).await.is(422).says("choose the second");
    let one = "INSERT INTO packed (handover_id, animal_id, quantity, band, packer_id, member_id, day, at) VALUES (1, 1, 1, 3, 2, 1, '2026-04-15', '')";
    assert!(sqlx::query(one).execute(&house.app.database.writer).await.unwrap_err().to_string().contains("takes two people"));
    stock::clear(&house, bo, 2).await;
    let both = fields(&bo_id, "2468", "1357");
    let typed: Vec<(&str, &str)> = both.iter().map(|(name, value)| (*name, value.as_str())).collect();
    counter.submit_at(&format!("{handover}/pack"), &format!("{handover}/pack"), &typed).await.sent_to();
    stock::hand_over(&mut counter, &handover, "").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM packed WHERE packer_id = 2 AND second_id = 3 AND member_id = 1").await, 1);
    assert!(sqlx::query("UPDATE packed SET quantity = 2").execute(&house.app.database.writer).await.is_err());
}
