//! The papers of a handover and those that somebody asks for: what each says, who opens it, and that it stays.

use silkward::house::secrets::sha256_hex;
use silkward::house::text;
use silkward::papers::model::PaperKind;

use super::provenance::{brood, founder, put_on_file};
use crate::sales::stock::{self, BUYER, CALM, LISTED, RISKY, add_animal, add_lot, begin, hand_over, house};
use crate::support::{Person, TestHouse, number};

/// The id of the newest paper of a kind.
pub async fn newest(house: &TestHouse, kind: PaperKind) -> i64 {
    sqlx::query_scalar("SELECT MAX(id) FROM paper WHERE kind = ?").bind(kind).fetch_one(&house.app.database.writer).await.unwrap()
}

/// Hands over with the box ticked.
pub async fn hand_over_shown(seller: &mut Person, address: &str) -> crate::support::Page {
    let version = seller.get(address).await.ok().value("input[name=version]");
    seller.submit_at(address, &format!("{address}/hand-over"), &[("version", &version), ("age_seen", "yes")]).await
}

/// A handover of one calm and one risky animal, done.
pub async fn risky_done(house: &TestHouse, seller: &mut Person) -> String {
    let address = begin(seller).await;
    for name in [CALM, RISKY] {
        let animal = stock::animal(house, name).await;
        add_animal(house, seller, &address, animal).await;
    }
    hand_over_shown(seller, &address).await.sent_to()
}

#[tokio::test]
async fn nothing_of_band_2_or_3_leaves_before_its_risk_was_shown() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let address = begin(&mut lead).await;
    let animal = stock::animal(&house, RISKY).await;
    add_animal(&house, &mut lead, &address, animal).await;
    lead.get(&address).await.ok().says("The buyer was shown the cautions; age seen: at least 18");
    for reason in ["", "the buyer is a friend"] {
        let version = lead.get(&address).await.ok().value("input[name=version]");
        let fields = [("version", version.as_str()), ("override_reason", reason)];
        let again = lead.submit_at(&address, &format!("{address}/hand-over"), &fields).await.is(422);
        assert_eq!(again.count("#age_seen[aria-invalid=true]"), 1);
        again.says("of band 3").says("at least 18");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper").await, 0);
    hand_over_shown(&mut lead, &address).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover_risk_shown WHERE least_age = 18 AND member_id IS NOT NULL").await, 1);
    assert!(sqlx::query("DELETE FROM handover_risk_shown").execute(&house.app.database.writer).await.is_err());
}

#[tokio::test]
async fn the_database_refuses_what_the_page_refuses() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, RISKY).await;
    add_animal(&house, &mut seller, &address, animal).await;
    let close = "UPDATE handover SET state = 'done', day = '2026-04-15', done_at = '2026-04-15T12:00:00+00:00', done_by = 1";
    for trigger in ["DROP TRIGGER handover_done_is_whole", "DROP TRIGGER handover_done_has_papers"] {
        sqlx::query(trigger).execute(&house.app.database.writer).await.unwrap();
    }
    let refused = sqlx::query(close).execute(&house.app.database.writer).await.unwrap_err().to_string();
    assert!(refused.contains("the risk was not shown"), "{refused}");
}

#[tokio::test]
async fn a_moderate_species_has_no_age_rule_unless_the_house_sets_one() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let address = begin(&mut lead).await;
    let animal = stock::animal(&house, "Psalmopoeus irminia").await;
    add_animal(&house, &mut lead, &address, animal).await;
    lead.get(&address).await.ok().says("The buyer was shown the cautions").lacks("age seen");
    let settings = "/papers/settings";
    let version = lead.get(settings).await.ok().value("input[name=version]");
    let fields = [
        ("version", version.as_str()),
        ("arrival_terms", "Alive, or tell us."),
        ("least_age_2", "16"),
        ("least_age_3", "21"),
        ("box_min_c", "8"),
        ("box_max_c", "28"),
        ("telephone", "0123 45"),
    ];
    lead.submit(settings, &fields).await.sent_to();
    lead.submit(settings, &fields).await.is(409);
    lead.submit_at(settings, "/papers/settings/places", &[("place", "Lower Marsh"), ("text", "Town rule 9: tell the town hall.")])
        .await
        .sent_to();
    lead.get(&address).await.ok().says("age seen: at least 16");
    hand_over_shown(&mut lead, &address).await.sent_to();
    let id = newest(&house, PaperKind::RiskAcknowledgement).await;
    lead.get(&format!("/papers/{id}"))
        .await
        .ok()
        .says("at least 16 years")
        .says("Town rule 9: tell the town hall.")
        .says("Little is published on bites");
    let id = newest(&house, PaperKind::HandoverNote).await;
    lead.get(&format!("/papers/{id}")).await.ok().says("Alive, or tell us.").says("0123 45");
}

#[tokio::test]
async fn settings_with_mistakes_come_back_with_all_of_them() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let long = "x".repeat(300);
    let fields = [
        ("version", "1"),
        ("registration", long.as_str()),
        ("least_age_2", "-1"),
        ("least_age_3", "a"),
        ("box_min_c", "30"),
        ("box_max_c", "5"),
    ];
    let again = lead.submit("/papers/settings", &fields).await.is(422);
    assert_eq!(again.value("#registration"), long);
    again.says("This has 300 characters").says("Enter a whole number from 0 to 99");
    let fields = [("version", "1"), ("least_age_2", "0"), ("least_age_3", "18"), ("box_min_c", "30"), ("box_max_c", "30")];
    lead.submit("/papers/settings", &fields).await.is(422).says("The greatest temperature is above the least");
    lead.submit_at("/papers/settings", "/papers/settings/places", &[("place", ""), ("text", "")]).await.is(422).says("Fill this in");
}

#[tokio::test]
async fn a_handover_issues_all_its_papers_and_the_trail_holds_each_fingerprint() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = risky_done(&house, &mut seller).await;
    let numbers: Vec<(String, String)> =
        sqlx::query_as("SELECT number, fingerprint FROM paper ORDER BY id").fetch_all(&house.app.database.writer).await.unwrap();
    let names: Vec<&str> = numbers.iter().map(|(number, _)| number.as_str()).collect();
    assert_eq!(names, ["S-2026-0001", "S-2026-0002", "C-2026-0001", "C-2026-0002", "A-2026-0001", "N-2026-0001"]);
    let trail: String =
        sqlx::query_scalar("SELECT after FROM audit WHERE action = 'handover.done'").fetch_one(&house.app.database.writer).await.unwrap();
    assert!(numbers.iter().all(|(number, fingerprint)| trail.contains(&format!("{number} {fingerprint}"))), "{trail}");
    seller.get(&address).await.ok().says("6 papers are issued").says("A-2026-0001");
    let note = newest(&house, PaperKind::HandoverNote).await;
    let page = seller.get(&format!("/papers/{note}")).await.ok();
    page.says("Cyprian")
        .says(BUYER[0])
        .says("S-2026-0002 , care sheet")
        .says("A-2026-0001 , risk acknowledgement")
        .says("Terms of live arrival")
        .says("collected");
    let risk = newest(&house, PaperKind::RiskAcknowledgement).await;
    let page = seller.get(&format!("/papers/{risk}")).await.ok();
    page.says("Band 3 of 0 to 3")
        .says("Fuchs et al. 2014")
        .says("12.7 %")
        .says("Call your local emergency number, a poison centre or a clinician")
        .says("names no treatment")
        .lacks("harmless");
}

#[tokio::test]
async fn the_buyer_stands_in_the_part_that_can_be_erased_and_nowhere_else() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = risky_done(&house, &mut seller).await;
    seller.submit_at(&address, "/papers/box-labels/1", &[]).await.sent_to();
    let rows: Vec<(String, String, String, i64)> =
        sqlx::query_as("SELECT kind, title, CAST(body AS TEXT), names_person FROM paper WHERE kind <> 'care-sheet'")
            .fetch_all(&house.app.database.writer)
            .await
            .unwrap();
    assert_eq!(rows.len(), 5);
    for (kind, title, body, names_person) in rows {
        assert_eq!(names_person, 1, "{kind}");
        for canary in BUYER {
            assert!(!title.contains(canary) && !body.contains(canary), "{kind}: {canary}");
        }
    }
}

#[tokio::test]
async fn a_statement_of_a_brood_leads_to_its_founders() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let (dam, sire) = (founder(&house, "W", "import permit 12").await, founder(&house, "W", "").await);
    let cohort = brood(&house, dam, Some(sire), false).await;
    put_on_file(&mut lead, &format!("animal={sire}"), "permit", "IMP-4").await;
    let statement = async |lead: &mut Person| {
        let address = begin(lead).await;
        add_lot(lead, &address, cohort, "5").await;
        hand_over(lead, &address, "").await.sent_to();
        let id = newest(&house, PaperKind::OriginStatement).await;
        lead.get(&format!("/papers/{id}")).await.ok()
    };
    let page = statement(&mut lead).await;
    let (dam_tag, sire_tag) = (stock::tag(&house, dam).await, stock::tag(&house, sire).await);
    assert_eq!(page.count("table.figures tbody tr"), 3);
    page.says("CITES source code F : born in captivity")
        .says("nobody has stated that the breeding stock meets the test")
        .says("Captive generation F1")
        .says("Laid 1 Jan 2026")
        .says("Pulled 1 Feb 2026")
        .says("Hatched 20 Feb 2026")
        .says(&format!("Dam animal {dam_tag}, source W"))
        .says(&format!("Sire animal {sire_tag}, source W"))
        .says("as noted: import permit 12")
        .says("permit no. IMP-4 of 9 Jan 2024, Ministry of Reeds")
        .says("are not CITES codes")
        .says("does not decide law")
        .says("Permit number if they cross a border")
        .says("Nothing is missing by this house's rule")
        .says(BUYER[0])
        .lacks("Canary Supplier");
    let species = stock::species(&house, LISTED).await.to_string();
    lead.submit("/papers/stock-statements", &[("species", &species), ("grounds", "managed"), ("why", "broods since 2019")]).await.sent_to();
    statement(&mut lead)
        .await
        .says("CITES source code C : bred in captivity")
        .says("Stated on 15 Apr 2026 by Ada for the species")
        .says("broods since 2019");
}

/// CITES Notification 1998/14.
#[tokio::test]
async fn a_wild_mated_dams_brood_is_never_stated_as_c_whatever_the_book_says() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let (dam, sire) = (founder(&house, "W", "permit 1").await, founder(&house, "W", "permit 2").await);
    let cohort = brood(&house, dam, Some(sire), true).await;
    let address = begin(&mut lead).await;
    add_lot(&mut lead, &address, cohort, "5").await;
    lead.get(&address).await.ok().says("source code C of cohort").says("cannot be: its dam was mated in the wild");
    hand_over(&mut lead, &address, "the authority has agreed in writing").await.sent_to();
    let id = newest(&house, PaperKind::OriginStatement).await;
    lead.get(&format!("/papers/{id}"))
        .await
        .ok()
        .says("CITES source code W : taken from the wild")
        .says("Notification 1998/14")
        .says("mated in the wild");
}

#[tokio::test]
async fn a_box_label_says_what_carriers_look_for() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    add_lot(&mut seller, &address, cohort, "40").await;
    let animal = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, animal).await;
    seller.submit_at(&address, "/papers/box-labels/1", &[]).await.sent_to();
    let page = seller.get("/papers/1").await.ok();
    assert_eq!(page.count("svg[aria-label='Arrow: this way up']"), 2);
    page.says("LIVE INVERTEBRATES · LIVE ANIMALS")
        .says("THIS WAY UP")
        .says("Keep between 5 °C and 30 °C")
        .says(BUYER[1])
        .says("Grammostola pulchra 41");
    seller.get(&address).await.ok().says("X-2026-0001");
    let empty = begin(&mut seller).await;
    let (csrf, once) = seller.get(&empty).await.tokens();
    seller.post_raw("/papers/box-labels/2", &[("csrf", &csrf), ("once", &once)]).await.is(409).says("Nothing is on this handover");
}

#[tokio::test]
async fn vial_labels_start_where_the_sheet_is_free_and_say_cohort_species_stage_and_day() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let cohort = stock::cohort(&house, CALM, 70).await;
    let page = format!("/papers/vial-labels/{cohort}");
    keeper.submit(&page, &[("sheet", "1"), ("start", "66")]).await.is(422).says("This sheet has 65 places");
    keeper.submit(&page, &[("sheet", "77"), ("start", "1")]).await.is(422).says("not in use");
    keeper
        .submit(&page, &[("sheet", "x"), ("start", "0"), ("count", "5000"), ("stage", "L1")])
        .await
        .is(422)
        .says("Enter a whole number from 1 to 1000");
    keeper.submit(&page, &[("sheet", "1"), ("start", "64")]).await.sent_to();
    let shown = keeper.get("/papers/of-house/1").await.ok();
    assert_eq!(shown.count("svg.page"), 3);
    assert_eq!(shown.count("svg.page > svg"), 70);
    assert_eq!(shown.attribute("svg.page", "width"), "210mm");
    assert!(shown.attribute("head link:last-of-type", "href").ends_with("/papers/pages/2100x2970"));
    let code: String = sqlx::query_scalar("SELECT code FROM cohort").fetch_one(&house.app.database.writer).await.unwrap();
    shown.says(&code).says("GPUL · G. pulch").says("second instar").says("15 Apr 2026").says("100 mm");
    keeper.get("/papers/pages/2100x2970").await.ok().says("size: 210mm 297mm");
    for nowhere in ["/papers/pages/1x1", "/papers/pages/2100x99999", "/papers/pages/2100", "/papers/pages/+210x+297"] {
        keeper.get(nowhere).await.is(404);
    }
    keeper.submit(&page, &[("sheet", "1"), ("start", "1"), ("count", "3"), ("stage", "i5")]).await.sent_to();
    let shown = keeper.get("/papers/of-house/2").await.ok();
    assert_eq!(shown.count("svg.page > svg"), 3);
    shown.says("5th instar");
}

#[tokio::test]
async fn a_sheet_of_any_grid_is_saved_if_its_labels_stand_on_the_page() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let sheet = |columns: &'static str| {
        [
            ("name", "Tiny ones"),
            ("page_width", "100"),
            ("page_height", "150,5"),
            ("margin_left", "0"),
            ("margin_top", "2.5"),
            ("columns", columns),
            ("rows", "10"),
            ("label_width", "20"),
            ("label_height", "12"),
            ("gap_x", "1"),
            ("gap_y", "0"),
        ]
    };
    let page = "/papers/label-sheets";
    let again = keeper.submit(page, &sheet("5")).await.is(422);
    assert_eq!(again.value("#name"), "Tiny ones");
    again.says("The columns need 104 mm across, and the page has 100 mm");
    keeper
        .submit(page, &[("name", ""), ("page_width", "1")])
        .await
        .is(422)
        .says("Fill this in")
        .says("Enter millimetres")
        .says("Enter a number from 20 to 500");
    keeper.submit(page, &sheet("4")).await.sent_to();
    keeper.get(page).await.ok().says("Tiny ones 100 × 150.5 4 × 10 20 × 12 0 left, 2.5 top 1 × 0");
    keeper.submit_at(page, "/papers/label-sheets/5/retire", &[]).await.sent_to();
    keeper.submit_at(page, "/papers/label-sheets/5/retire", &[]).await.is(409);
    keeper.get(page).await.ok().lacks("Tiny ones");
}

#[tokio::test]
async fn keepers_open_cards_and_reports_but_no_paper_that_names_a_buyer() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let mut keeper = house.person("Bo", "keeper").await;
    stock::done(&house, &mut seller).await;
    let animal = stock::animal(&house, RISKY).await;
    keeper.submit_at(&format!("/animals/{animal}"), &format!("/papers/rehouse-cards/{animal}"), &[]).await.sent_to();
    let card = newest(&house, PaperKind::RehouseCard).await;
    let tag = stock::tag(&house, animal).await;
    keeper
        .get(&format!("/papers/of-house/{card}"))
        .await
        .ok()
        .says(&tag)
        .says("Band 3: dangerous")
        .says("Next rehouse")
        .says("60 mm")
        .says("H-2026-0001");
    keeper.get(&format!("/animals/{animal}")).await.ok().says("H-2026-0001");
    for sold in 1..card {
        keeper.get(&format!("/papers/of-house/{sold}")).await.is(404);
        keeper.get(&format!("/papers/{sold}")).await.is(403);
    }
    keeper.submit(&format!("/handling/incidents/new?animal={animal}"), &[("kind", "bite")]).await.sent_to();
    keeper
        .submit_at(
            "/handling/incidents/1",
            "/handling/incidents/1/notes",
            &[("topic", "symptoms"), ("time", "14:05"), ("text", "cramp in the arm")],
        )
        .await
        .sent_to();
    keeper.submit_at("/handling/incidents/1", "/papers/incident-reports/1", &[]).await.sent_to();
    let report = newest(&house, PaperKind::IncidentReport).await;
    let page = keeper.get(&format!("/papers/of-house/{report}")).await.ok();
    page.says("Call your local emergency number, poison centre or a clinician. This is not medical advice.")
        .says("cramp in the arm")
        .says("At 14:05")
        .says(RISKY)
        .says("Old World")
        .says("Bo");
    keeper.get("/handling/incidents/1").await.ok().says("I-2026-0001");
}

/// Every kind of this file: the species, the house, the texts and the buyer change, and each reprint is the same byte for byte.
#[tokio::test]
async fn a_reprint_of_each_kind_is_the_same_whatever_has_changed_since() {
    let house = house().await;
    let mut owner = house.person("Olga", "owner lead keeper counter").await;
    let address = risky_done(&house, &mut owner).await;
    let animal = stock::animal(&house, CALM).await;
    let cohort = stock::cohort(&house, CALM, 5).await;
    owner.submit_at(&address, "/papers/box-labels/1", &[]).await.sent_to();
    owner.submit_at(&format!("/animals/{animal}"), &format!("/papers/rehouse-cards/{animal}"), &[]).await.sent_to();
    owner.submit(&format!("/papers/vial-labels/{cohort}"), &[("sheet", "3"), ("start", "2")]).await.sent_to();
    owner.submit(&format!("/handling/incidents/new?animal={animal}"), &[("kind", "near-miss")]).await.sent_to();
    owner.submit_at("/handling/incidents/1", "/papers/incident-reports/1", &[]).await.sent_to();
    let kinds = number(&house, "SELECT COUNT(DISTINCT kind) FROM paper").await;
    assert_eq!(kinds, 8);
    let last = number(&house, "SELECT MAX(id) FROM paper").await;
    let mut before = Vec::new();
    for id in 1..=last {
        before.push(owner.get(&format!("/papers/{id}")).await.ok().bytes);
    }
    for change in [
        "UPDATE species SET accepted_name = accepted_name || ' novus', authority = 'changed', temper = 'changed', law_note = 'changed', venom_basis = 'changed'",
        "UPDATE site SET name = 'Another name', address = 'Another place', zone = 'Pacific/Auckland', emergency = '000'",
        "UPDATE paper_setting SET registration = 'R', telephone = 'T', arrival_terms = 'none', least_age_3 = 40, box_min_c = 20",
        "UPDATE buyer SET name = 'Someone else', address = 'elsewhere', contact = 'nobody'",
        "UPDATE label_sheet SET retired_at = '2026-05-01T00:00:00+00:00'",
        "UPDATE animal SET papers = 'changed', note = 'changed', locality = 'changed'",
        "UPDATE cohort SET papers = 'changed', locality = 'changed'",
    ] {
        sqlx::query(change).execute(&house.app.database.writer).await.unwrap();
    }
    house.app.refresh_site().await.unwrap();
    house.set_clock("2029-12-31T23:30:00Z");
    let mut later = house.sign_in(owner.id()).await;
    for (id, bytes) in (1..=last).zip(before) {
        assert!(later.get(&format!("/papers/{id}")).await.ok().bytes == bytes, "paper {id} changed");
    }
}

#[tokio::test]
async fn changed_bytes_of_any_kind_are_refused() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    risky_done(&house, &mut seller).await;
    let writer = &house.app.database.writer;
    sqlx::query("DROP TRIGGER paper_keeps").execute(writer).await.unwrap();
    sqlx::query("DROP TRIGGER paper_person_keeps").execute(writer).await.unwrap();
    let last = number(&house, "SELECT MAX(id) FROM paper").await;
    sqlx::query("UPDATE paper SET body = CAST(replace(CAST(body AS TEXT), '2026', '2025') AS BLOB) WHERE id % 2 = 1")
        .execute(writer)
        .await
        .unwrap();
    sqlx::query("UPDATE paper_person SET part = CAST(replace(CAST(part AS TEXT), 'Quillon', 'Quinlan') AS BLOB)")
        .execute(writer)
        .await
        .unwrap();
    let person = number(&house, "SELECT COUNT(*) FROM paper_person").await;
    assert_eq!(person, 4);
    for id in 1..=last {
        let kind: PaperKind = sqlx::query_scalar("SELECT kind FROM paper WHERE id = ?").bind(id).fetch_one(writer).await.unwrap();
        let page = seller.get(&format!("/papers/{id}")).await;
        if kind != PaperKind::CareSheet || id % 2 == 1 {
            page.is(500).says("not as it was issued").lacks("Quinlan");
        }
    }
}

/// The longest names that the book takes, and names of other scripts, stand whole on the papers; longer ones are refused with what was typed.
#[tokio::test]
async fn names_of_any_script_stand_whole_and_apart() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let long = "Ñ".repeat(300);
    let again = seller.submit("/handovers/new", &[("name", long.as_str())]).await.is(422);
    assert_eq!(again.value("#name"), long);
    for (place, name) in ["يوسف بن أحمد العنكبوتي", "שרה עכביש", "蜘蛛屋 田中さん", &"Ñ".repeat(120)].into_iter().enumerate()
    {
        let address = seller.submit("/handovers/new", &[("name", name), ("contact", ""), ("address", "")]).await.sent_to();
        let animal = stock::animal(&house, CALM).await;
        add_animal(&house, &mut seller, &address, animal).await;
        hand_over(&mut seller, &address, "").await.sent_to();
        let id = newest(&house, PaperKind::OriginStatement).await;
        let page = seller.get(&format!("/papers/{id}")).await.ok();
        assert!(page.text().contains(&format!("<bdi>{name}</bdi>")), "{place}");
    }
}

/// Papers say what staff typed as text, and the marks in it open nothing.
#[tokio::test]
async fn what_was_typed_stands_as_text_on_every_paper() {
    let house = house().await;
    let typed = "</head><!--strip-2--><!--person-1--><!--labels-1 210x210--><script>alert(1)</script>";
    sqlx::query("UPDATE site SET name = substr(?, 1, 80), emergency = ?")
        .bind(typed)
        .bind(typed)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sqlx::query("UPDATE paper_setting SET arrival_terms = ?, registration = ?")
        .bind(typed)
        .bind(typed)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let mut seller = house.person("Cyprian", "counter").await;
    risky_done(&house, &mut seller).await;
    let last = number(&house, "SELECT MAX(id) FROM paper").await;
    for id in 3..=last {
        let page = seller.get(&format!("/papers/{id}")).await.ok();
        assert_eq!((page.count("script"), page.count("head > link"), page.count(".strip"), page.count("h1")), (0, 1, 1, 1), "{id}");
    }
    let whole: Vec<u8> =
        sqlx::query_scalar("SELECT body FROM paper WHERE kind = 'handover-note'").fetch_one(&house.app.database.writer).await.unwrap();
    assert!(text::capitalised(&sha256_hex(&whole)).len() == 64);
}
