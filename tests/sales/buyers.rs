//! Finding buyers, entering and correcting them, and a buyer's page.

use silkward::house::text::{digits, searchable};

use super::stock::{self, CALM, house};
use crate::support::number;

fn asked(q: &str) -> String {
    let q: String = url::form_urlencoded::byte_serialize(q.as_bytes()).collect();
    format!("/buyers?q={q}")
}

/// Unicode's CaseFolding.txt (00DF; F; 0073 0073 — 03A3 and 03C2 both C; 03C3 — 0130) and the examples of compatibility forms in
/// Unicode Standard Annex #15, figures 2 and 6.
#[test]
fn texts_are_folded_as_unicode_says() {
    let folded = [
        ("Straße", "strasse"),
        ("STRASSE", "strasse"),
        ("ΟΔΥΣΣΕΥΣ", "οδυσσευσ"),
        ("Ὀδυσσεύς", "οδυσσευσ"),
        ("ﬁre", "fire"),
        ("ｶﾞ", "ガ"),
        ("Ｑｕｉｌｌ", "quill"),
        ("2⁵", "25"),
        ("ÅNGSTRÖM", "angstrom"),
        ("A\u{30a}ngstro\u{308}m", "angstrom"),
        ("İzmir", "izmir"),
        ("ЖУКОВ", "жуков"),
        ("  two   words ", "two words"),
        ("金魚", "金魚"),
    ];
    for (text, wanted) in folded {
        assert_eq!(searchable(text), wanted, "{text}");
        assert_eq!(searchable(&searchable(text)), wanted, "folding twice changes {text}");
    }
}

#[test]
fn telephone_numbers_are_compared_by_their_digits() {
    assert_eq!(digits("+49 (0)30 555-01.01"), "49305550101");
    assert_eq!(digits("٠٣٠ ٥٥٥"), "030555");
    assert_eq!(digits("۰۳۰"), "030");
    assert_eq!(digits("quill@example.org"), "");
}

#[tokio::test]
async fn a_buyer_is_found_by_any_part_of_a_name_in_any_script() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    for name in ["Ægir Straßburg-Öz", "ليلى الريشة", "羽田 柳", "Жанна Перо", "O’Plume"] {
        stock::buyer(&mut seller, name, "", "").await;
    }
    let found = [
        ("ægir", "Ægir"),
        ("STRASSBURG", "Ægir"),
        ("oz ægir", "Ægir"),
        ("الريشة", "ليلى الريشة"),
        ("柳", "羽田 柳"),
        ("ПЕРО", "Жанна Перо"),
        ("plume", "O’Plume"),
    ];
    for (q, name) in found {
        let page = seller.get(&asked(q)).await.ok().says(name).says("name or contact");
        assert_eq!(page.count("main tbody tr"), 1, "{q}");
    }
    let again = seller.get(&asked("<b>nobody</b>")).await.ok().says("Nobody in the book has");
    assert_eq!(again.count("main b"), 0);
    for hostile in ["%", "_", "' OR 1=1--", "\u{0}", "🕷"] {
        assert_eq!(seller.get(&asked(hostile)).await.ok().count("main tbody tr"), 0, "{hostile}");
    }
    seller.get(&asked(&"x".repeat(300))).await.ok().says("120 characters at most");
    seller.get("/buyers").await.ok().says("ليلى الريشة").says("羽田 柳");
    seller.get("/buyers?page=-4").await.ok();
    seller.get("/buyers?page=x").await.ok();
}

#[tokio::test]
async fn a_buyer_is_found_by_paper_tag_cohort_and_telephone() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let buyer = stock::buyer(&mut lead, "Quillon Birch", "+49 (0)30 555 01 01", "").await;
    stock::buyer(&mut lead, "Somebody Else", "+49 30 777", "").await;
    let animal = stock::animal(&house, CALM).await;
    let cohort = stock::cohort(&house, CALM, 40).await;
    stock::hand_to(&house, &mut lead, buyer, "", &[animal], &[(cohort, "5")]).await;
    let tag = stock::tag(&house, animal).await;
    let code: String =
        sqlx::query_scalar("SELECT code FROM cohort WHERE id = ?").bind(cohort).fetch_one(&house.app.database.reader).await.unwrap();
    let spaced = format!("{} {}", tag[..2].to_lowercase(), &tag[2..]);
    for q in [
        "S-2026-0001",
        "s20260001",
        "S 2026 1",
        "s-2026-2",
        "2026-0002",
        &tag,
        &spaced,
        &code,
        &code.to_lowercase(),
        "030 555 0101",
        "+49305550101",
        "0049 30 55501",
        "5550101",
    ] {
        let page = seller_finds(&mut lead, q).await;
        assert_eq!(page.count("main tbody tr"), 1, "{q}: {}", page.words());
        page.says("Quillon Birch").lacks("Somebody Else");
    }
    for q in ["S-2026-0003", "S-2025-0001", "2026-9", "555 02"] {
        seller_finds(&mut lead, q).await.says("Nobody in the book has");
    }
    // The search of the whole book finds them the same way, for those who sell.
    lead.get("/records?q=s20260001").await.ok().says("Quillon Birch");
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/records?q=s20260001").await.ok().lacks("Quillon");
}

async fn seller_finds(person: &mut crate::support::Person, q: &str) -> crate::support::Page {
    person.get(&asked(q)).await.ok()
}

#[tokio::test]
async fn names_that_were_entered_before_are_found_and_folded_at_the_first_look() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    sqlx::query("INSERT INTO buyer (name, contact, created_at) VALUES ('Öz Quill', '030 5550101', '2026-01-01T00:00:00+00:00')")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    seller.get(&asked("quill")).await.ok().says("Öz Quill");
    silkward::sales::keep(&house.app).await.unwrap();
    seller.get(&asked("ÖZ")).await.ok().says("Öz Quill");
    seller.get(&asked("5550101")).await.ok().says("Öz Quill");
    let rows = number(&house, "SELECT COUNT(*) FROM audit").await;
    silkward::sales::keep(&house.app).await.unwrap();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, rows, "a second look changes nothing");
}

#[tokio::test]
async fn a_name_of_300_characters_is_refused_and_kept() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let long = "羽".repeat(300);
    let fields = [("name", long.as_str()), ("contact", "a\nb"), ("address", "here"), ("language", "klingon-x-what")];
    let again = seller.submit("/buyers/new", &fields).await.is(422).says("at most 120 fit");
    assert_eq!(again.value("#name"), long);
    assert_eq!(again.count(".mistakes li"), 3);
    again.says("here");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM buyer").await, 0);
    let fits = "羽".repeat(120);
    let to = seller.submit("/buyers/new", &[("name", fits.as_str()), ("language", "ja")]).await.sent_to();
    let page = seller.get(&to).await.ok().says(&fits).says("日本語");
    assert!(page.count("bdi") > 0);
    let again = seller.submit(&format!("{to}/edit"), &[("name", long.as_str()), ("version", "1")]).await.is(422);
    assert_eq!(again.value("#name"), long);
    seller.submit(&format!("{to}/edit"), &[("name", "Ḥawāʾ"), ("language", "ar"), ("version", "1")]).await.sent_to();
    seller.get(&to).await.ok().says("العربية").says("Ḥawāʾ");
    seller.submit("/buyers/new", &[("name", "x"), ("shoe_size", "44")]).await.is(400);
}

#[tokio::test]
async fn a_name_with_markup_or_hidden_direction_marks_does_no_harm() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    seller.submit("/buyers/new", &[("name", "Evil\u{202e}gnirts")]).await.is(422).says("can't be seen");
    let id = stock::buyer(&mut seller, "<script>alert(1)</script>", "\"><img src=x>", "<b>").await;
    let page = seller.get(&format!("/buyers/{id}")).await.ok();
    assert_eq!(page.count("script:not([src]), main img, main b"), 0);
    page.says("<script>alert(1)</script>");
}

#[tokio::test]
async fn a_buyers_page_tells_everything_they_bought_and_were_given() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let buyer = stock::buyer(&mut lead, "ليلى", "", "").await;
    let other = stock::buyer(&mut lead, "Other Person", "", "").await;
    let (mine, theirs) = (stock::animal(&house, CALM).await, stock::animal(&house, CALM).await);
    let cohort = stock::cohort(&house, CALM, 40).await;
    stock::hand_to(&house, &mut lead, buyer, "", &[mine], &[(cohort, "7")]).await;
    stock::hand_to(&house, &mut lead, other, "", &[theirs], &[(cohort, "3")]).await;
    let mut write = house.app.write(Some(lead.id())).await.unwrap();
    let order: i64 = sqlx::query_scalar("INSERT INTO sale_order (buyer_id, created_by, created_at) VALUES (?, 1, ?) RETURNING id")
        .bind(buyer)
        .bind(house.app.now())
        .fetch_one(write.db())
        .await
        .unwrap();
    let keeper = silkward::sales::model::Keeper { order: Some(silkward::house::ids::OrderId(order)), ..Default::default() };
    let lot = silkward::sales::model::Lot { cohort, stage: silkward::reckoning::stage::Stage::Instar(2), quantity: 4 };
    let new = silkward::sales::model::NewReservation {
        item: silkward::sales::model::Item::Lot(lot),
        keeper,
        until: stock::day("2026-05-01"),
        note: String::new(),
    };
    silkward::sales::store::reserved::reserve(&mut write, &new).await.unwrap();
    write.commit(silkward::house::audit::Change::new("test.order", "order", ""), "/").await.unwrap();
    let page = lead.get(&format!("/buyers/{buyer}")).await.ok();
    let tag = stock::tag(&house, mine).await;
    let page = page.says(&format!("tag {tag}")).says("7 out of cohort").says("S-2026-0001").says("S-2026-0002").says("care sheet");
    let page = page.says("Handover 1").says(&format!("Order {order}")).says("4 out of cohort").says("with them").says("open");
    page.lacks(&stock::tag(&house, theirs).await).lacks("3 out of cohort").lacks("Other Person").lacks("S-2026-0003");
    lead.get("/buyers/99").await.is(404);
}
