//! Pairings and sacs, through the pages.

mod counting;
mod descent;
mod forecasts;
mod introductions;
mod kin;
mod kinship;
mod lineage;
mod lines;
mod log;
mod moults;
mod planned;
mod sires;

use silkward::animals::model::{NewAnimal, NewMoult, NewOrigin};
use silkward::animals::store;
use silkward::house::app::App;
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, MemberId};
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::words::{Sex, SexBasis};

use crate::cohorts::stock::{library, species};
use crate::support::{Page, Person, TestHouse, number};

/// A house with the library, a keeper, a dam (animal 1) and two sires (2 and 3) of *Brachypelma hamorii*.
async fn breeders() -> (TestHouse, Person) {
    let house = TestHouse::start().await;
    library(&house.app).await;
    for (sex, basis) in [(Sex::Female, SexBasis::Exuvium), (Sex::Male, SexBasis::Mature), (Sex::Male, SexBasis::Mature)] {
        grown(&house.app, "Brachypelma hamorii", sex, basis).await;
    }
    let keeper = house.person("Bo", "keeper").await;
    cleared(&house, keeper.id(), 2).await;
    (house, keeper)
}

/// Gives a clearance as an outside assessor would, from June 2025 on.
async fn cleared(house: &TestHouse, member: MemberId, level: i64) {
    sqlx::query("DROP TRIGGER IF EXISTS clearance_by_assessor").execute(&house.app.database.writer).await.unwrap();
    sqlx::query(
        "INSERT INTO clearance (member_id, level, granted_by, outside_assessor, evidence, valid_from, valid_until, granted_at)
         VALUES (?1, ?2, ?1, 'A. Nother', 'seen at work', '2025-06-01', '2027-05-31', '2025-06-01T08:00:00+00:00')",
    )
    .bind(member)
    .bind(level)
    .execute(&house.app.database.writer)
    .await
    .unwrap();
}

async fn grown(app: &App, name: &str, sex: Sex, basis: SexBasis) -> AnimalId {
    let id = species(app, name).await;
    let mut write = app.write(None).await.unwrap();
    let origin = NewOrigin::Bought { supplier: "A friend".to_owned(), papers: String::new() };
    let mut animal = NewAnimal::new(id, origin, check_source("C").unwrap(), "2025-06-01".parse().unwrap());
    (animal.sex, animal.sex_basis) = (sex, basis);
    let id = store::insert(&mut write, &animal).await.unwrap();
    write.commit(Change::new("test.animal", format!("animal {id}"), ""), "/").await.unwrap();
    id
}

async fn moulted(app: &App, day: &str) {
    let mut write = app.write(None).await.unwrap();
    let moult = NewMoult { day: day.parse().unwrap(), skin_kept: false, note: String::new(), span: None, signoff: None };
    store::record_moult(&mut write, AnimalId(1), &moult).await.unwrap();
    write.commit(Change::new("test.moult", "animal 1", ""), "/").await.unwrap();
}

/// Begins a pairing of dam 1 on a day, having looked at the two. Gives its page.
async fn begin(keeper: &mut Person, sire: &str, day: &str) -> String {
    let looked = format!("1-{sire}");
    let fields = [("dam", "1"), ("sire", sire), ("day", day), ("looked", looked.as_str())];
    keeper.submit("/breeding/pairings/new", &fields).await.sent_to()
}

/// Puts the two of a pairing together.
async fn introduce(keeper: &mut Person, pairing: &str, day: &str, insertion: &str, outcome: &str) -> Page {
    let fields = [("day", day), ("time", "10:00"), ("insertion", insertion), ("outcome", outcome), ("note", "")];
    keeper.submit(&format!("{pairing}/introduced"), &fields).await
}

/// A pairing of dam 1 and its first introduction, with an insertion seen. Gives its page.
async fn pair(keeper: &mut Person, sire: &str, day: &str) -> String {
    let pairing = begin(keeper, sire, day).await;
    introduce(keeper, &pairing, day, "seen", "safe").await.sent_to();
    pairing
}

async fn lay(keeper: &mut Person, day: &str) -> String {
    keeper.submit("/breeding/sacs/new", &[("dam", "1"), ("laid_on", day)]).await.sent_to()
}

/// Laid on 1 April 2026 (a species of the default window, day 28 to 35): pulled from 29 April to 6 May.
#[tokio::test]
async fn a_sac_shows_its_day_its_pull_window_and_what_to_expect() {
    let (house, mut keeper) = breeders().await;
    let giant = grown(&house.app, "Acanthoscurria geniculata", Sex::Female, SexBasis::Exuvium).await.to_string();
    let there = keeper.submit("/breeding/sacs/new", &[("dam", giant.as_str()), ("laid_on", "2026-04-01")]).await.sent_to();
    let page = keeper.get(&there).await.ok().says("Day 14 since it was laid on 1 Apr 2026").says("29 Apr 2026 6 May 2026");
    page.says("post-embryo").says("common practice").says("second instar 26 May 2026 20 Jun 2026");
    keeper.get("/breeding").await.ok().says("29 Apr 2026 to 6 May 2026").says("incubating");
}

/// Paired 10 January, moulted 2 March, not paired again: void, and a sac of April expected infertile.
#[tokio::test]
async fn a_moult_makes_earlier_pairings_void() {
    let (house, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2026-01-10").await;
    keeper.get("/breeding").await.ok().says("standing");
    moulted(&house.app, "2026-03-02").await;
    keeper.get("/breeding").await.ok().says("void: she moulted on 2 Mar 2026");
    let sac = lay(&mut keeper, "2026-04-12").await;
    keeper.get(&sac).await.ok().says("Expected infertile : the dam moulted on 2 March 2026 after pairing and was not paired again.");
}

/// One mating serves two sacs of the same intermoult; two males leave the sire unknown.
#[tokio::test]
async fn sacs_of_one_intermoult_keep_the_sire_and_two_males_leave_him_unknown() {
    let (_house, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2026-01-10").await;
    for day in ["2026-02-01", "2026-04-01"] {
        let sac = lay(&mut keeper, day).await;
        keeper.get(&sac).await.ok().says("Sired by").says("one male since the dam's last moult");
    }
    pair(&mut keeper, "3", "2026-04-02").await;
    let sac = lay(&mut keeper, "2026-04-10").await;
    keeper.get(&sac).await.ok().says("it may be").says("2 males since the dam's last moult; the sire is not known");
}

#[tokio::test]
async fn a_sac_is_pulled_opened_and_counted_into_a_cohort() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-02-20").await;
    keeper.submit(&format!("{sac}/pulled"), &[("day", "2026-02-19"), ("note", "")]).await.is(422).says("laid on 20 Feb 2026");
    keeper.submit(&format!("{sac}/pulled"), &[("day", "2026-03-28"), ("note", "26 °C, 80 %")]).await.sent_to();
    keeper.submit(&format!("{sac}/pulled"), &[("day", "2026-03-29"), ("note", "")]).await.is(422).says("pulled on 28 Mar 2026 already");
    let good = [
        ("day", "2026-04-10"),
        ("count_stage", "ewl"),
        ("count", "240"),
        ("second", "240"),
        ("bad", "12"),
        ("bad_stage", "egg"),
        ("bad_cause", "mould"),
        ("source", "C"),
        ("housing", "communal"),
        ("shelf", "1"),
    ];
    let open = format!("{sac}/opened");
    let with = |key: &'static str, value: &'static str| good.map(|(name, old)| (name, if name == key { value } else { old }));
    for (field, value, says) in [
        ("day", "2026-02-19", "laid on 20 Feb 2026"),
        ("day", "2026-03-27", "pulled on 28 Mar 2026"),
        ("day", "2026-04-16", "still to come"),
        ("second", "", "Count a second time"),
        ("count", "-4", "At post-embryo: enter a whole number"),
        ("bad", "dozen", "Enter a whole number"),
        ("bad_stage", "", "Choose one of the list."),
        ("bad_cause", "none", "Choose one of the list."),
        ("source", "", "Give a source code"),
        ("source", "D", "no spider is on Appendix I"),
        ("housing", "", "Choose one of the list."),
        ("shelf", "40", "This shelf is not in the book."),
    ] {
        let again = keeper.submit(&open, &with(field, value)).await.is(422).says(says);
        assert!(field == "count" || again.text().contains("240"), "the count is kept");
    }
    let there = keeper.submit(&open, &good).await.sent_to();
    keeper.get(&there).await.ok().says("240 alive").says("came in 252").says("mould 12").says("Sac laid 20 Feb 2026 , pulled 28 Mar 2026");
    keeper.get(&sac).await.ok().says("Opened on 10 Apr 2026, day 49.").lacks("Opened and counted");
    keeper.submit(&open, &good).await.is(422).says("This sac was opened on 10 Apr 2026.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM cohort").await, 1);
}

#[tokio::test]
async fn the_brood_of_a_wild_mated_dam_is_never_c_or_f() {
    let (_house, mut keeper) = breeders().await;
    let fields = [("dam", "1"), ("dam_wild_mated", "yes"), ("laid_on", "2026-02-20")];
    let sac = keeper.submit("/breeding/sacs/new", &fields).await.sent_to();
    let open = format!("{sac}/opened");
    let with = |source| {
        [("day", "2026-04-10"), ("count_stage", "ewl"), ("count", "90"), ("second", "90"), ("source", source), ("housing", "communal")]
    };
    for source in ["C", "F", "c/o"] {
        keeper.submit(&open, &with(source)).await.is(422).says("mated in the wild, so her brood is W or R");
    }
    keeper.submit(&open, &with("W")).await.sent_to();
}

#[tokio::test]
async fn a_sac_fails_once_with_its_cause() {
    let (_house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-03-20").await;
    let fail = format!("{sac}/failed");
    keeper.submit(&fail, &[("day", "2026-04-01"), ("cause", "bad"), ("note", "")]).await.is(422);
    keeper.submit(&fail, &[("day", "2026-04-01"), ("cause", "cannibalism"), ("note", "\u{0}")]).await.is(422);
    keeper.submit(&fail, &[("day", "2026-04-01"), ("cause", "cannibalism"), ("note", "overnight")]).await.sent_to();
    keeper.get(&sac).await.ok().says("Failed on 1 Apr 2026, day 12: cannibalism: overnight");
    keeper
        .submit(&fail, &[("day", "2026-04-02"), ("cause", "mould"), ("note", "")])
        .await
        .is(422)
        .says("This sac was failed on 1 Apr 2026.");
}

#[tokio::test]
async fn what_cannot_be_is_refused_and_kept_as_typed() {
    let (house, mut keeper) = breeders().await;
    let other = grown(&house.app, "Poecilotheria regalis", Sex::Male, SexBasis::Mature).await.to_string();
    let pairing = "/breeding/pairings/new";
    let day = ("day", "2026-04-01");
    keeper.submit(pairing, &[]).await.is(422);
    keeper.submit(pairing, &[("dam", "2"), ("sire", "3"), day]).await.is(422).says("is known as a male");
    keeper.submit(pairing, &[("dam", "1"), ("sire", "1"), day]).await.is(422).says("A pairing needs two animals.");
    keeper.submit(pairing, &[("dam", "1"), ("sire", "99"), day]).await.is(422).says("This animal is not in the book.");
    keeper.submit(pairing, &[("dam", "1"), ("sire", other.as_str()), day]).await.is(422).says("These are two species");
    let again = keeper.submit(pairing, &[("dam", "1"), ("sire", "2"), ("day", "2026-05-01"), ("note", "calm")]).await.is(422);
    assert!(again.text().contains("calm"));
    let sac = "/breeding/sacs/new";
    let laid = ("laid_on", "2026-04-01");
    keeper.submit(sac, &[]).await.is(422);
    keeper.submit(sac, &[("dam_note", "of a friend"), laid]).await.is(422).says("Choose one of the list.");
    keeper.submit(sac, &[("dam", "99"), laid]).await.is(422).says("This animal is not in the book.");
    keeper.submit(sac, &[("dam", "1"), ("sire", other.as_str()), laid]).await.is(422).says("another species than the dam");
    keeper.submit(sac, &[("dam", "1"), ("laid_on", "2027-01-01")]).await.is(422).says("still to come");
    keeper.submit(sac, &[("dam", "1"), laid, ("pulled_on", "2026-03-01")]).await.is(422).says("laid on 1 Apr 2026");
    keeper.submit(sac, &[("dam", "1"), laid, ("position", "0")]).await.is(422);
    for path in ["/breeding/sacs/9", "/breeding/sacs/9/opened", "/breeding/sacs/x/pulled", "/breeding/sacs/9/failed"] {
        keeper.get(path).await.is(404);
    }
    assert_eq!(number(&house, "SELECT (SELECT COUNT(*) FROM sac) + (SELECT COUNT(*) FROM pairing)").await, 0);
}
