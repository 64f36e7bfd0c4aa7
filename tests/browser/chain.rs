//! From two parents to papers that anybody can verify: one spiderling's way through the whole book, in a browser.

use silkward::animals::model::{NewAnimal, NewMeal, NewMoult, NewOrigin, NewSpan};
use silkward::house::audit::Change;
use silkward::house::ids::AnimalId;
use silkward::reckoning::money::Rounding;
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::words::{MealOutcome, Sex, SexBasis, SpanKind, SpanMethod};
use silkward::sales::model::NewTerms;
use silkward::{animals, sales, species};

use crate::driver::{Browser, Scripts, pictures};
use crate::papers::{codes, print, run, squeezed};
use crate::served::{PHRASE, Served};

const LISTED: &str = "Tliltocatl albopilosus";
const BUYER: &str = "Quillon Canaryfeather";

/// A grown animal with papers, of which the book knows a year.
async fn parent(house: &Served, sex: Sex, basis: SexBasis, moulted: &str, number: &str) -> AnimalId {
    let mut write = house.app.write(None).await.unwrap();
    let kind = species::store::all(write.db()).await.unwrap().into_iter().find(|line| line.accepted_name == LISTED).unwrap().id;
    let origin = NewOrigin::Bought { supplier: "A breeder".to_owned(), papers: number.to_owned() };
    let mut new = NewAnimal::new(kind, origin, check_source("C").unwrap(), "2025-01-10".parse().unwrap());
    (new.sex, new.sex_basis) = (sex, basis);
    new.span = Some(NewSpan { kind: SpanKind::LegSpan, mm: 140, method: SpanMethod::Measured });
    let id = animals::store::insert(&mut write, &new).await.unwrap();
    let moult = NewMoult { day: moulted.parse().unwrap(), skin_kept: true, note: String::new(), span: None, signoff: None };
    animals::store::record_moult(&mut write, id, &moult).await.unwrap();
    for day in ["2025-10-01", "2025-10-20", "2025-11-10", "2025-11-25"] {
        let meal = NewMeal { day: day.parse().unwrap(), prey: "cricket".to_owned(), outcome: MealOutcome::Took, signoff: None };
        animals::store::record_meal(&mut write, id, &meal).await.unwrap();
    }
    write.commit(Change::new("test.parent", "animal", ""), "/").await.unwrap();
    id
}

async fn signed_in(house: &Served) -> Browser {
    let mut browser = Browser::start(1280, 900, Scripts::On).await;
    browser.open(&format!("{}/sign-in", house.address)).await;
    browser.type_in("#sign_in_name", "lena").await;
    browser.type_in("#pass_phrase", PHRASE).await;
    browser.tap("main form.sheet button").await;
    browser.says("Today").await;
    browser
}

async fn day(browser: &Browser, css: &str, iso: &str) {
    let script = format!("document.querySelector('{css}').value = '{iso}'");
    browser.driver.execute(script, Vec::new()).await.unwrap();
}

/// The house on another day: sessions of the day before have ended.
async fn on(house: &Served, iso: &str) -> Browser {
    house.app.clock.set(format!("{iso}T09:00:00Z").parse().unwrap());
    signed_in(house).await
}

/// Pairs the two, and writes the introduction down.
async fn pair(house: &Served, dam: AnimalId, sire: AnimalId) {
    let mut lead = on(house, "2026-04-15").await;
    lead.open(&format!("{}/breeding/pairings/new?dam={dam}&sire={sire}", house.address)).await;
    lead.says("What was found of the two").await;
    lead.picture("chain-1-pairing").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Write an introduction down").await;
    lead.tap_words("main", "Write an introduction down").await;
    lead.says("His palps").await;
    lead.choose("#insertion", "seen").await;
    lead.choose("#outcome", "safe").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Record a sac").await;
    lead.picture("chain-2-introduced").await;
    lead.end().await;
}

/// She lays; the sac is pulled, and opened when its young are at the second instar: gives the address of their cohort.
async fn brood(house: &Served, dam: AnimalId) -> String {
    let mut lead = on(house, "2026-06-28").await;
    lead.open(&format!("{}/breeding/sacs/new?dam={dam}", house.address)).await;
    day(&lead, "#laid_on", "2026-06-20").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("What to expect").await;
    lead.picture("chain-3-sac").await;
    let sac = lead.address().await;
    lead.end().await;
    let mut lead = on(house, "2026-09-05").await;
    lead.open(&format!("{sac}/pulled")).await;
    day(&lead, "#day", "2026-07-28").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Opened and counted").await;
    lead.open(&format!("{sac}/opened")).await;
    lead.type_in("#count-i2", "60").await;
    lead.type_in("#second-i2", "60").await;
    lead.type_in("#source", "F").await;
    lead.choose("#housing", "vials").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Survival").await;
    let cohort = lead.address().await;
    lead.picture("chain-4-cohort").await;
    lead.open(&format!("{cohort}/tagged")).await;
    lead.type_in("#quantity", "1").await;
    lead.choose("#stage", "i2").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Here are their labels").await;
    lead.picture("chain-5-labels").await;
    lead.end().await;
    cohort
}

#[tokio::test(flavor = "multi_thread")]
async fn from_a_pairing_to_papers_that_anybody_can_verify() {
    let house = Served::start().await;
    let dam = parent(&house, Sex::Female, SexBasis::Exuvium, "2025-09-01", "Declaration no. 21").await;
    let sire = parent(&house, Sex::Male, SexBasis::Mature, "2025-09-20", "Declaration no. 22").await;
    pair(&house, dam, sire).await;
    let cohort = brood(&house, dam).await;
    let cohort: i64 = cohort.rsplit('/').next().unwrap().parse().unwrap();
    let tag: String = value(&house, "SELECT tag FROM animal ORDER BY id DESC LIMIT 1").await;
    terms(&house).await;
    let mut lead = on(&house, "2026-09-12").await;
    outing(&house, &mut lead, cohort).await;
    order(&house, &mut lead, cohort, &tag).await;
    papers(&house, &mut lead).await;
    lead.end().await;
    for_the_buyer(&house).await;
}

async fn value<T>(house: &Served, query: &'static str) -> T
where
    T: Send + Unpin + for<'r> sqlx::Decode<'r, sqlx::Sqlite> + sqlx::Type<sqlx::Sqlite>,
{
    sqlx::query_scalar(query).fetch_one(&house.app.database.writer).await.unwrap()
}

/// An owner says in what is paid.
async fn terms(house: &Served) {
    let mut write = house.app.write(None).await.unwrap();
    let new = NewTerms {
        currency: silkward::house::money::Currency::of("EUR").unwrap(),
        tax_name: "VAT".to_owned(),
        tax: "19".parse().unwrap(),
        prices_include_tax: true,
        rounding: Rounding::Document,
        tax_number: "T-1".to_owned(),
        reserve_days: 14,
    };
    sales::store::terms::set_terms(&mut write, 0, &new).await.unwrap();
    write.commit(Change::new("test.terms", "house", ""), "/").await.unwrap();
}

/// Twenty go to an expo, five are sold there, one dies, fourteen come home: it adds up.
async fn outing(house: &Served, lead: &mut Browser, cohort: i64) {
    lead.open(&format!("{}/outings/new", house.address)).await;
    lead.type_in("#name", "Expo at the harbour").await;
    day(lead, "#day", "2026-09-12").await;
    lead.tap_words("form.sheet", "Plan it").await;
    lead.says("Pack by scanning").await;
    let outing = lead.address().await;
    lead.choose("#lot", &format!("{cohort}-i2")).await;
    lead.type_in("#quantity", "20").await;
    lead.tap_words("main", "Take the lot").await;
    lead.says("20").await;
    lead.open(&format!("{outing}/pack")).await;
    lead.tap_words("main", "All 20 of").await;
    lead.says("It goes out").await;
    lead.tap_words("main", "It goes out").await;
    lead.says("Sell from this outing").await;
    lead.tap_words("main", "Sell from this outing").await;
    lead.says("Begin the handover").await;
    lead.type_in("#name", "A visitor of the stall").await;
    lead.tap_words("main", "Begin the handover").await;
    lead.says("Add to the list").await;
    lead.choose("#lot", &format!("{cohort}-i2")).await;
    lead.type_in("#quantity", "5").await;
    lead.tap_words("main", "Add to the list").await;
    lead.says("5 out of cohort").await;
    lead.picture("chain-6-stall").await;
    lead.tap_words(".deeds", "Hand over").await;
    lead.says("Handed over").await;
    lead.open(&format!("{outing}/back")).await;
    lead.says("15 to account for").await;
    lead.type_in("input[name=returned]", "13").await;
    lead.type_in("input[name=dead]", "1").await;
    lead.tap_words("form.sheet", "Reconcile").await;
    lead.says("Not saved yet").await;
    lead.type_in("input[name=returned]", "14").await;
    lead.type_in("input[name=missing]", "0").await;
    lead.tap_words("form.sheet", "Reconcile").await;
    lead.says("sold 5").await;
    lead.picture("chain-7-reconciled").await;
}

/// An order of five and the tagged one is kept, packed by scanning, and handed over with prices.
async fn order(house: &Served, lead: &mut Browser, cohort: i64, tag: &str) {
    lead.open(&format!("{}/orders/new", house.address)).await;
    lead.type_in("#name", BUYER).await;
    lead.tap_words("form.sheet", "Begin").await;
    lead.says("Add to the list").await;
    lead.type_in("#tag", tag).await;
    lead.choose("#lot", &format!("{cohort}-i2")).await;
    lead.type_in("#quantity", "5").await;
    lead.tap_words("main", "Add to the list").await;
    lead.says("5 out of cohort").await;
    for (place, price) in [(1, "30.00"), (2, "6,50")] {
        lead.type_in(&format!("table tr:nth-child({place}) input[name=price]"), price).await;
    }
    lead.tap_words("main", "prices").await;
    lead.says("62.50").await;
    lead.picture("chain-8-order").await;
    lead.tap_words("main", "Make the handover").await;
    lead.says("Check what is packed").await;
    let handover = lead.address().await;
    lead.open(&format!("{handover}/pack")).await;
    // What a scanner reads off the label is the address of the animal.
    lead.type_in("#code", &format!("{}/t/{tag}", house.app.config.public_url)).await;
    lead.tap_words("form.sheet", "Into the box").await;
    lead.says("1 of 6").await;
    let code: String = value(house, "SELECT code FROM cohort WHERE sac_id IS NOT NULL").await;
    lead.type_in("#code", &code).await;
    lead.type_in("#count", "5").await;
    lead.tap_words("form.sheet", "Into the box").await;
    lead.says("All is packed").await;
    lead.picture("chain-9-packed").await;
    lead.open(&handover).await;
    lead.tap_words(".deeds", "Hand over").await;
    lead.says("The receipt is R-2026-0001").await;
    lead.picture("chain-10-handed-over").await;
}

/// Every paper of the handover on A4 and Letter; each carries a code that an independent reader reads.
async fn papers(house: &Served, lead: &mut Browser) {
    let folder = tempfile::tempdir().unwrap();
    let issued: Vec<(i64, String, String)> = sqlx::query_as(
        "SELECT id, number, kind FROM paper WHERE handover_id = (SELECT MAX(id) FROM handover WHERE state = 'done') ORDER BY id",
    )
    .fetch_all(&house.app.database.writer)
    .await
    .unwrap();
    let kinds: std::collections::BTreeSet<&str> = issued.iter().map(|(_, _, kind)| kind.as_str()).collect();
    assert_eq!(kinds.into_iter().collect::<Vec<_>>(), ["care-sheet", "handover-note", "origin-statement", "receipt"]);
    for (id, number, kind) in &issued {
        for size in ["a4", "letter"] {
            lead.open(&format!("{}/papers/{id}?size={size}", house.address)).await;
            let pdf = folder.path().join(format!("{number}-{size}.pdf"));
            print(lead, &pdf).await;
            std::fs::copy(&pdf, pictures().join(format!("chain-{kind}-{size}.pdf"))).unwrap();
            let text = squeezed(&run("pdftotext", &[pdf.to_str().unwrap(), "-"]));
            assert!(text.contains(number), "{number} on {size}:\n{text}");
            if kind == "origin-statement" {
                for words in ["F: born in captivity", "Declaration no.", "000BT", "000CR", LISTED, "20 Jun 2026"] {
                    assert!(text.contains(words), "{number} does not say “{words}”:\n{text}");
                }
            }
            if kind == "receipt" {
                for words in ["62.50", "52.52", "9.98", "VAT"] {
                    assert!(text.contains(words), "{number} does not say “{words}”:\n{text}");
                }
            }
            let read = codes(pdf.to_str().unwrap(), folder.path());
            assert!(read.iter().any(|code| code.contains("/verify/") || code.contains("/sheet/")), "{number}: {read:?}");
        }
    }
}

/// A buyer's telephone opens the sheet by the code on it; anybody sees whether a paper is as it was issued.
async fn for_the_buyer(house: &Served) {
    let sheet: i64 = value(house, "SELECT MAX(id) FROM paper WHERE kind = 'care-sheet'").await;
    let paper = silkward::papers::store::require(&mut house.app.read().await.unwrap(), silkward::house::ids::PaperId(sheet)).await.unwrap();
    let phone = Browser::start(390, 844, Scripts::Off).await;
    phone.open(&paper.printed_address(&house.app.link_key)).await;
    phone.says(LISTED).await;
    phone.picture("chain-11-buyers-phone").await;
    assert!(!phone.words().await.contains(BUYER), "the sheet names its buyer");
    let receipt: i64 = value(house, "SELECT id FROM paper WHERE number = 'R-2026-0001'").await;
    let receipt =
        silkward::papers::store::require(&mut house.app.read().await.unwrap(), silkward::house::ids::PaperId(receipt)).await.unwrap();
    phone.open(&receipt.printed_address(&house.app.link_key)).await;
    phone.says("unchanged").await;
    phone.picture("chain-12-verified").await;
    assert!(!phone.words().await.contains(BUYER), "verifying names the buyer");
    // One figure of the fingerprint altered, and one byte of the paper.
    let altered = if receipt.fingerprint.starts_with('0') { '1' } else { '0' };
    let other = format!("{altered}{}", &receipt.fingerprint[1..]);
    phone.open(&format!("{}/verify/{}/{other}", house.address, receipt.number)).await;
    phone.says("not").await;
    assert!(!phone.words().await.contains("unchanged"));
    let writer = &house.app.database.writer;
    sqlx::query("DROP TRIGGER paper_keeps").execute(writer).await.unwrap();
    sqlx::query("UPDATE paper SET body = CAST(replace(CAST(body AS TEXT), '62.50', '12.50') AS BLOB) WHERE number = 'R-2026-0001'")
        .execute(writer)
        .await
        .unwrap();
    phone.open(&receipt.printed_address(&house.app.link_key)).await;
    phone.says("not").await;
    assert!(!phone.words().await.contains("unchanged"), "an altered paper is taken as issued");
    phone.picture("chain-13-altered").await;
    phone.end().await;
}
