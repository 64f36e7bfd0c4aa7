//! From two parents to papers that anybody can verify: one spiderling's way through the whole book, in a browser.

use silkward::animals::model::{NewAnimal, NewMeal, NewMoult, NewOrigin, NewSpan};
use silkward::house::audit::Change;
use silkward::house::ids::AnimalId;
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::words::{MealOutcome, Sex, SexBasis, SpanKind, SpanMethod};
use silkward::{animals, species};

use crate::driver::{Browser, Scripts};
use crate::papers::{codes, print, run, squeezed};
use crate::served::{PHRASE, Served};

const LISTED: &str = "Tliltocatl albopilosus";

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
    let mut browser = Browser::start(1280, 900, Scripts::Off).await;
    browser.open(&format!("{}/sign-in", house.address)).await;
    browser.type_in("#sign_in_name", "lena").await;
    browser.type_in("#pass_phrase", PHRASE).await;
    browser.tap("main form.sheet button").await;
    browser.says("Menu").await;
    browser
}

async fn day(browser: &Browser, css: &str, iso: &str) {
    let script = format!("document.querySelector('{css}').value = '{iso}'");
    browser.driver.execute(script, Vec::new()).await.unwrap();
}

/// Pairs the two, waits for the sac, opens it: gives the address of the cohort.
async fn breed(house: &Served, lead: &mut Browser, dam: AnimalId, sire: AnimalId) -> String {
    lead.open(&format!("{}/breeding/pairings/new?dam={dam}&sire={sire}", house.address)).await;
    day(lead, "#day", "2025-12-01").await;
    lead.tap(".deeds button").await;
    lead.says("What was found of the two").await;
    lead.picture("chain-1-pairing").await;
    day(lead, "#day", "2025-12-01").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Write an introduction down").await;
    lead.tap_words("main", "Write an introduction down").await;
    lead.says("His palps").await;
    day(lead, "#day", "2025-12-02").await;
    lead.choose("#insertion", "seen").await;
    lead.choose("#outcome", "safe").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Record a sac").await;
    lead.picture("chain-2-introduced").await;
    lead.tap_words("main", "Record a sac").await;
    lead.says("Laid on").await;
    day(lead, "#laid_on", "2026-01-20").await;
    day(lead, "#pulled_on", "2026-02-26").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("What to expect").await;
    lead.picture("chain-3-sac").await;
    lead.tap_words("main", "Opened and counted").await;
    lead.says("Open the sac").await;
    day(lead, "#day", "2026-04-05").await;
    lead.type_in("#count-i2", "60").await;
    lead.type_in("#second-i2", "60").await;
    lead.type_in("#source", "F").await;
    lead.choose("#housing", "vials").await;
    lead.tap("form.sheet .deeds button").await;
    lead.says("Survival").await;
    lead.address().await
}

#[tokio::test(flavor = "multi_thread")]
async fn from_a_pairing_to_papers_that_anybody_can_verify() {
    let house = Served::start().await;
    let dam = parent(&house, Sex::Female, SexBasis::Exuvium, "2025-09-01", "Declaration no. 21").await;
    let sire = parent(&house, Sex::Male, SexBasis::Mature, "2025-09-20", "Declaration no. 22").await;
    let mut lead = signed_in(&house).await;
    let cohort = breed(&house, &mut lead, dam, sire).await;
    lead.picture("chain-4-cohort").await;
    println!("{cohort}");
    lead.end().await;
}
